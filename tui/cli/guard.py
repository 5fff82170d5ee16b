"""``stopkeeper guard``: the watch with nobody at it, for days."""

from __future__ import annotations

import contextlib
import functools
import os
import shlex
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analysis.model.errors import UsageError
from analysis.settings.guard_settings import TOKEN_VARIABLE, GuardSettings, post_token
from tui.cli.options import feed_options, feed_options_from, settings_from, settled_options

if TYPE_CHECKING:
    from analysis.model.snapshot import OutletStatus, Snapshot
    from analysis.output.hook import Hook
    from analysis.output.post import Post
    from analysis.output.service import ServiceManager
    from analysis.settings.schema import Settings
    from analysis.watch import OutletLike, Recorder, Watch
    from tui.cli.guard_lines import GuardLines, LineWriter

LOOK_SECONDS = 0.25
STILL_SECONDS = 5.0
"""A watch thread that published nothing for this long does not do its work."""
REPORT_SECONDS = 3600.0
AGAIN_SECONDS = 60.0
CLOSING_SECONDS = 2.3
LAST_WORDS_SECONDS = 10.0
STARTING_SECONDS = 5.0


@click.command("guard", epilog="Example: stopkeeper guard /dev/video0 --json --hook '/usr/local/bin/page-me --loud'")
@click.argument("feed", required=False)
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line for each change of an alarm.")
@click.option("--quiet", is_flag=True, help="Alarms and failures only, nothing of the feed.")
@click.option(
    "--hook",
    "hooks",
    multiple=True,
    metavar="'PROGRAM ARG...'",
    help="Run this with each change as JSON on its standard input; no shell. May be given again.",
)
@click.option("--post", metavar="URL", help="Send each change there by HTTP POST.")
@click.option(
    "--sound",
    type=click.Choice(["auto", "speakers", "bell", "off"]),
    help="Where alarms are heard; auto takes the terminal's bell over SSH.",
)
@click.option("--speak", is_flag=True, help="Say alarms in words, where espeak-ng is installed.")
@click.option("--match", metavar="HOLD", help="Call out when the light leaves this hold (see stopkeeper holds).")
@click.option("--set-up", metavar="NAME", help="Spots and aims that were kept under this name in the watch.")
@click.option("--seconds", type=click.FloatRange(min=0, min_open=True), metavar="S", help="Stop after S seconds.")
@feed_options
def command(feed: str | None, config: Path | None, **given: Any) -> None:
    """Watch FEED without a screen, and call out.

    Each line begins with the time (UTC). Alarms stand on standard output, failures of the guard itself on standard
    error; with --json what concerns the feed goes to standard error too. Under systemd it reports that it is ready
    and alive: see configs/stopkeeper-guard.service.

    The JSON has the keys alarm, occurrence, from, to, priority, reason, at (RFC 3339, UTC) and seconds (spent in the
    state it left). A token for --post is taken from the environment variable STOPKEEPER_POST_TOKEN.

    It ends with 0 when the feed is finished, 1 when the feed cannot be used, 130 by Ctrl-C, 143 by SIGTERM, 129 by
    SIGHUP.
    """
    settings = settings_from(config)
    options = feed_options_from(settings, given, realtime=True, loop=True)
    address = feed or settings.feed.address
    if address is None:
        raise UsageError("no feed to guard", "guard", "name one, such as /dev/video0, or set address in [feed]")
    options = settled_options(options, address, given)
    with wired(address, options, settings, given) as guard:
        guard.run(given["seconds"])


@contextlib.contextmanager
def wired(address: str, options: Any, settings: Settings, given: dict[str, Any]) -> Iterator[Guard]:
    """A guard with everything that it calls out through; all of it is closed in the end, within three seconds."""
    from analysis.feed.clock import SystemClock
    from analysis.output.service import ServiceManager, journal_listens
    from analysis.watch import open_watch
    from tui.cli.desks import guard_desks
    from tui.cli.guard_lines import GuardLines, LineWriter
    from tui.cli.recording import Recording, open_recording

    chosen = settings.guard
    clock = SystemClock()
    out, errors = LineWriter(1), LineWriter(2)
    lines = GuardLines(
        out,
        errors,
        lambda: clock.now().text(),
        as_json=given["as_json"],
        quiet=given["quiet"],
        out_journal=journal_listens(os.environ, 1),
        errors_journal=journal_listens(os.environ, 2),
    )
    outlets: list[Hook | Post] = []
    watch: Watch | None = None
    recording = Recording()
    hurried = False
    try:
        outlets += _hooks(chosen, given["hooks"], lines.complain)
        outlets += _posts(chosen, given["post"], lines.complain)
        outlet, speaking = _outlet(settings, chosen, given, lines)
        try:
            recording = open_recording(settings, address, clock)
            if recording.note:
                lines.complain(recording.note)
            kept = (recording.journal,) if recording.journal is not None else ()
            desks, spots, note = guard_desks(settings, address, given["match"], given["set_up"])
            if note is not None:
                lines.note(note)
            desks.listeners = (lines, *kept)
            watch = open_watch(
                address, options, settings, outlet, clock, (lines, *speaking, *outlets, *kept),
                recording.journal, recording.saved, recording.room, desks,
            )  # fmt: skip
            watch.set_spots(spots)
        except BaseException:
            outlet.close()
            raise
        manager = ServiceManager(os.environ)
        yield Guard(watch, lines, manager, out, lines_matter=not outlets and not manager.present)
    except (SystemExit, KeyboardInterrupt):
        hurried = True
        raise
    finally:
        try:
            if not hurried:
                _last_words(outlets, LAST_WORDS_SECONDS)
        finally:
            with undisturbed():
                closers: list[Callable[[], None]] = [functools.partial(each.close, 2.0) for each in outlets]
                together([*closers, *([watch.close] if watch is not None else [])], CLOSING_SECONDS)
                together([recording.close], CLOSING_SECONDS / 4)
                out.close()
                errors.close()


class Guard:
    """Looks after a watch: the service manager, the log, the end.

    ``lines_matter`` says that alarms come out nowhere else, so that there is no use in going on unread.
    """

    def __init__(
        self, watch: Watch, lines: GuardLines, manager: ServiceManager, out: LineWriter, *, lines_matter: bool
    ) -> None:
        self._watch, self._lines, self._manager, self._out = watch, lines, manager, out
        self._lines_matter, self._lost = lines_matter, 0
        self._fault: str | None = None
        self._still = self._ready = False
        self._heard: OutletStatus | None = None
        self._fault_told = self._heard_told = self._lost_told = self._reported = float("-inf")
        self._patted = self._began = float("-inf")

    def run(self, seconds: float | None) -> None:
        """Until the feed is over, ``seconds`` have passed, nobody reads lines that matter, or a signal comes.

        Raises the feed's own error when it cannot be used; a feed that may come back is waited for, for ever.
        """
        began = self._began = self._reported = time.monotonic()
        self._watch.start()
        self._lines.note(f"guarding {self._watch.snapshot().feed.address}")
        try:
            while not self._over(began, seconds):
                time.sleep(LOOK_SECONDS)
        finally:
            self._manager.stopping()
        if self._watch.failure is not None:
            raise self._watch.failure

    def _over(self, began: float, seconds: float | None) -> bool:
        if self._out.gone.is_set() and self._lines_matter:
            raise BrokenPipeError
        now = time.monotonic()
        snapshot = self._watch.snapshot()
        self._look(snapshot, now)
        if self._watch.failure is not None:
            return True
        if snapshot.feed.state == "ended":
            self._lines.note("the feed is finished")
            return True
        return seconds is not None and now - began >= seconds

    def _look(self, snapshot: Snapshot, now: float) -> None:
        still = now - snapshot.at.monotonic > STILL_SECONDS
        if still != self._still:
            self._still = still
            self._lines.complain("the watch stands still" if still else "the watch goes on")
        if snapshot.fault != self._fault and (snapshot.fault is None or now - self._fault_told > AGAIN_SECONDS):
            self._fault = snapshot.fault
            if snapshot.fault is not None:
                self._fault_told = now
                self._lines.complain(f"FAULT {snapshot.fault}")
        if self._out.lost != self._lost and now - self._lost_told > AGAIN_SECONDS:
            self._lost, self._lost_told = self._out.lost, now
            self._lines.complain(f"{self._lost} lines so far could not be written to standard output")
        self._tell_outlet(snapshot.outlet, now)
        if now - self._reported >= REPORT_SECONDS:
            self._reported = now
            self._lines.note(summary(snapshot, self._watch.measured))
        if not still:
            self._pat(snapshot, now)

    def _tell_outlet(self, outlet: OutletStatus, now: float) -> None:
        """Another place at once; another reason for the same place, which may hold running numbers, once a minute."""
        from analysis.output.speaker import STARTING

        # What becomes of a start is told when it is known; only in trouble is the start itself worth a line.
        if STARTING in outlet.reason and now - self._began < STARTING_SECONDS:
            return
        before, recent = self._heard, now - self._heard_told < AGAIN_SECONDS
        if before is not None and before.outlet == outlet.outlet and (recent or before.reason == outlet.reason):
            return
        self._heard, self._heard_told = outlet, now
        self._lines.note(f"SOUND {outlet.reason}")

    def _pat(self, snapshot: Snapshot, now: float) -> None:
        """Only a watch that turns is reported as alive; a service manager starts anew one that does not."""
        if not self._ready:
            self._ready = True
            self._manager.ready(summary(snapshot, self._watch.measured))
        pause = (self._manager.watchdog_seconds or 60.0) / 3
        if self._manager.present and now - self._patted >= pause:
            self._patted = now
            self._manager.alive(summary(snapshot, self._watch.measured))


def summary(snapshot: Snapshot, measured: int) -> str:
    """The state of things in one line."""
    active = [status.alarm for status in snapshot.alarms if status.state != "normal"]
    rate = f" at {snapshot.feed.fps:.1f} fps" if snapshot.feed.fps is not None else ""
    told = f"alarms: {', '.join(active)}" if active else "no alarm"
    return f"watching {snapshot.feed.address}: {snapshot.feed.state}{rate}, {measured} frames measured, {told}"


def together(closers: list[Callable[[], None]], seconds: float) -> None:
    """Close everything side by side; what does not return within ``seconds`` is left behind."""
    threads = [threading.Thread(target=close, name="closing", daemon=True) for close in closers]
    for thread in threads:
        thread.start()
    deadline = time.monotonic() + seconds
    for thread in threads:
        thread.join(max(0.0, deadline - time.monotonic()))


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """While closing, which is short, a further signal must not cut the closing shorter."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    asked = [getattr(signal, name) for name in ("SIGTERM", "SIGINT", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.signal(number, signal.SIG_IGN) for number in asked}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _last_words(outlets: list[Hook | Post], seconds: float) -> None:
    """Nobody is in a hurry: the alarm about the feed that ended should still arrive."""
    deadline = time.monotonic() + seconds
    for outlet in outlets:
        outlet.wait(max(0.0, deadline - time.monotonic()))


def _hooks(chosen: GuardSettings, asked: tuple[str, ...], complain: Callable[[str], None]) -> list[Hook]:
    from analysis.output.hook import Hook, HookTiming
    from analysis.output.service import without_manager

    commands = [_words(text) for text in asked] or ([list(chosen.hook)] if chosen.hook else [])
    environment = without_manager(os.environ, TOKEN_VARIABLE)
    timing = HookTiming(run=chosen.hook_seconds)
    return [Hook(words, complain, timing=timing, environment=environment) for words in commands]


def _words(text: str) -> list[str]:
    try:
        return shlex.split(text)
    except ValueError:
        raise UsageError(f"a quotation mark is not closed in {text}", "--hook", "close it") from None


def _posts(chosen: GuardSettings, asked: str | None, complain: Callable[[str], None]) -> list[Post]:
    url = asked or chosen.post
    if not url:
        return []
    from analysis.output.post import Post
    from analysis.output.post_address import post_address

    authorities = None if chosen.post_authorities is None else Path(chosen.post_authorities).expanduser()
    address = post_address(url, plain_allowed=chosen.post_plain_http)
    return [Post(address, complain, token=post_token(chosen, os.environ), authorities=authorities)]


def _outlet(
    settings: Settings, chosen: GuardSettings, given: dict[str, Any], lines: GuardLines
) -> tuple[OutletLike, tuple[Recorder, ...]]:
    from analysis.output.heard import open_heard
    from analysis.output.service import without_manager

    wish = settings.sound.speech  # nobody hears what nobody asked for: here "auto" is silence
    bell = lines.ring if sys.stderr is not None and sys.stderr.isatty() else _no_bell
    heard = open_heard(
        given["sound"] or settings.sound.outlet,
        os.environ,
        speech="alarms" if given["speak"] or chosen.speak else "off" if wish == "auto" else wish,
        complain=lines.complain,
        device=settings.sound.device,
        bell_writer=bell,
        speech_environment=without_manager(os.environ, TOKEN_VARIABLE),
    )
    return heard.outlet, heard.recorders


def _no_bell() -> None:
    """There is no terminal to ring."""
