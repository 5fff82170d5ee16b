"""The screen of a watch: looks at it a few times a second, draws what changed, passes keys on."""

from __future__ import annotations

import asyncio
import functools
import signal
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import ClassVar

import msgspec
from rich.color import ColorSystem
from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.driver import Driver
from textual.drivers.linux_driver import LinuxDriver
from textual.filter import NoColor
from textual.screen import Screen

from analysis.exposure.ghost import Ghost
from analysis.model.instant import Instant
from analysis.signal.tables import LookUpTable
from tui.arrange import Large
from tui.bridge import Paused, Showing, WatchLike, judge
from tui.driver import CellDriver
from tui.journal_pages import JournalPages
from tui.keys import ACTIONS, bindings
from tui.look import Look
from tui.notifier import Notifier
from tui.pacing import BYTES_PER_CELL, PicturePace
from tui.screens.board import BoardScreen
from tui.screens.live import LiveScreen
from tui.screens.mute import MuteScreen
from tui.theme import BOATHOUSE, NAME, PLAIN_NAME
from tui.views import Views
from tui.wording import alarm_state, unseen

_SYSTEMS = {"full": ColorSystem.TRUECOLOR, "256": ColorSystem.EIGHT_BIT, "16": ColorSystem.STANDARD}

_BENEATH_RATE = 2.0
_NOTE_SECONDS = 15.0


class StopkeeperApp(Views, App[None]):
    """The terminal application. It pulls: one timer asks the watch for a snapshot and draws it.

    ``look`` should be resolved (see ``tui.look.resolve``). ``note`` is a sentence about the
    choice of the feed, shown for the first seconds. ``clock`` gives seconds that only ever
    grow and is there for tests. ``table`` is the operator's own viewing transform,
    ``pages`` are those of the journal, ``notifier`` makes notifications for the terminal.
    """

    TITLE = "stopkeeper"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [*bindings()]
    CSS_PATH = Path(__file__).with_name("styles") / "screen.tcss"

    def __init__(
        self,
        watch: WatchLike,
        look: Look,
        note: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        table: LookUpTable | None = None,
        pages: JournalPages | None = None,
        notifier: Notifier | None = None,
    ) -> None:
        plain = look.colours in {"16", "mono"}
        super().__init__(ansi_color=True if plain else None)
        if look.colours in _SYSTEMS:
            self.console._color_system = _SYSTEMS[look.colours]
        if look.colours == "mono" and not self.no_color:
            self._filters.append(NoColor())
        self.register_theme(BOATHOUSE)
        self.theme = PLAIN_NAME if plain else NAME
        self.look = look
        self.pages = pages or JournalPages(None, "no journal was opened")
        self.pinned: Ghost | None = None
        self.notices = notifier.words if notifier is not None else ""
        self._notifier = notifier
        self._note = note
        self._note_until: float | None = None
        self._source = watch
        self._clock = clock
        self._main = BoardScreen(look, table)
        self._pace = PicturePace(look.rate)
        self._beneath_pace = PicturePace(min(_BENEATH_RATE, look.rate))
        self._picture_pace = PicturePace(min(look.picture_rate, look.rate))
        self._heard: tuple[Instant, float] | None = None
        self._paused: tuple[Paused, float] | None = None
        self._bells = 0
        self._chosen: str | None = None
        self._shape: tuple[object, ...] | None = None
        self._standing: tuple[object, ...] | None = None
        self.showing: Showing | None = None

    def _fatal_error(self) -> None:
        """End on an unexpected fault without printing where it happened: ``fault`` tells who asks."""
        self.bell()
        self._close_messages_no_wait()

    @property
    def fault(self) -> str | None:
        """What ended the screen, in one line, when it was not the operator."""
        error = self._exception
        return None if error is None else " ".join(f"{type(error).__name__}: {error}".split())

    def get_driver_class(self) -> type[Driver]:
        """Our driver in place of Textual's own on a real terminal; any other (tests, web) stays as it is."""
        base = super().get_driver_class()
        return CellDriver if base is LinuxDriver else base

    def get_default_screen(self) -> Screen[None]:
        """The main view."""
        return self._main

    def on_mount(self) -> None:
        """Start looking at the watch, and leave the terminal clean whoever ends us."""
        self.set_interval(1 / self.look.rate, self.look_at_watch)
        self.call_after_refresh(self.look_at_watch)
        if not self.is_headless:
            loop = asyncio.get_running_loop()
            for number in (signal.SIGTERM, signal.SIGHUP):
                loop.add_signal_handler(number, self.exit)

    def look_at_watch(self) -> None:
        """One tick: ask, judge, draw what may be drawn now."""
        if not self.screen_stack:
            return  # the last tick may come while the screen is being closed
        snapshot = self._source.snapshot()
        now = self._clock()
        if self._heard is None or self._heard[0] != snapshot.at:
            self._heard = (snapshot.at, now)
        driver = self._driver
        link = driver.link if isinstance(driver, CellDriver) else None
        ready = driver.ready if isinstance(driver, CellDriver) else True
        note = snapshot.refusal or self._note_now(now)
        showing = judge(snapshot, now - self._heard[1], self._paused_now(now), link, note)
        shape = (snapshot.feed.generation, snapshot.feed.format)
        if shape != self._shape:
            self._shape, self.pinned = shape, None  # a ghost of another picture says nothing of this one
        if self.pinned is not None and showing.view is not None:
            showing = msgspec.structs.replace(showing, ghost=self.pinned)
        if showing.paused is None:
            self._paused = None
        if self._notifier is not None:
            showing = msgspec.structs.replace(showing, notices=self._notifier.sends(snapshot))
            if isinstance(driver, CellDriver) and not driver.stuck:
                for sequence in self._notifier.see(snapshot):
                    driver.pass_on(sequence)
        self.showing = showing
        if snapshot.bells > self._bells:
            self.bell()
        self._bells = snapshot.bells
        standing = (showing.trust, showing.banner[:1], showing.paused is None, snapshot.feed.generation)
        changed = standing != self._standing
        self._standing = standing
        delay = link.latest if link else None
        # What must not be shown any longer goes at once; new pictures wait until the link can take them.
        sent, budget = (link.rate if link else 0.0), self.size.width * self.size.height * BYTES_PER_CELL
        traces = changed or (ready and self._pace.due(now, delay, sent, budget))
        picture = changed or (traces and self._picture_pace.due(now, delay, sent, budget))
        self._show(showing, traces, picture)

    def _show(self, showing: Showing, traces: bool, picture: bool) -> None:
        top = self.screen
        view = next((screen for screen in reversed(self.screen_stack) if isinstance(screen, LiveScreen)), None)
        # Under a dialogue every redraw is one of the whole screen, so it happens less often.
        if top is view or (view is not None and self._beneath_pace.due(self._clock(), None)):
            view.show(showing, picture)
        elif view is None and (top is self._main or self._beneath_pace.due(self._clock(), None)):
            self._main.board.show(showing, traces, picture)

    def _note_now(self, now: float) -> str | None:
        if self._note_until is None:
            self._note_until = now + _NOTE_SECONDS
        return self._note if now < self._note_until else None

    def _paused_now(self, now: float) -> Paused | None:
        if self._paused is None:
            return None
        paused, since = self._paused
        return msgspec.structs.replace(paused, seconds=paused.seconds + now - since)

    def _draw_now(self) -> None:
        if self.showing is not None:
            self.look_at_watch()
            self._show(self.showing, True, True)

    def action_acknowledge(self) -> None:
        """Acknowledge all alarms that are on the screen, never one that rose since it was drawn."""
        self._source.acknowledge_seen(unseen(self.showing.snapshot.alarms if self.showing else ()))
        self._draw_now()

    def action_mute(self) -> None:
        """Ask for how long to be silent."""

        def mute(seconds: float | None) -> None:
            if seconds is not None:
                self._source.mute(seconds)
            self._draw_now()

        self.push_screen(MuteScreen(), mute)

    def action_unmute(self) -> None:
        """End a mute."""
        self._source.unmute()
        self._draw_now()

    def action_sound_from(self) -> None:
        """Hear alarms from the next place; the watch says from which."""
        self._source.sound_from(None)

    def action_trace(self) -> None:
        """Luma, R G B, both."""
        self._main.board.choose(self._main.board.next_trace())

    def action_wide(self) -> None:
        """Give the trace all the width, and back."""
        choice = self._main.board.choice
        self._main.board.choose(choice._replace(wide=not choice.wide))

    def action_picture(self) -> None:
        """Show or hide the small picture."""
        choice = self._main.board.choice
        self._main.board.choose(choice._replace(picture=not choice.picture))

    def action_view(self) -> None:
        """For the eye, plain signal, zones, only what is outside the aims."""
        self._main.board.next_seen()
        self._draw_now()

    def action_enlarge(self) -> None:
        """Corner, the trace's place, nearly everything."""
        choice = self._main.board.choice
        following: dict[Large, Large] = {"corner": "main", "main": "full", "full": "corner"}
        larger = "main" if not choice.picture else following[choice.large]
        self._main.board.choose(choice._replace(large=larger, picture=True, wide=False))

    def action_stops(self) -> None:
        """Show or hide the picture in stops."""
        self._main.board.choose(self._main.board.other_stops())

    def action_choose(self) -> None:
        """The next sitter becomes the main one; after the last it is chosen by itself again."""
        reading = self.showing.reading if self.showing is not None else None
        sitters = (reading.sitters or ()) if reading is not None else ()
        names: list[str | None] = [*sorted(sitter.name for sitter in sitters), None]
        at = names.index(self._chosen) if self._chosen in names else len(names) - 1
        self._choose_sitter(names[(at + 1) % len(names)])

    def _choose_sitter(self, name: str | None) -> None:
        self._chosen = name
        self._source.choose_sitter(name)

    def action_pause(self) -> None:
        """Pause the trace, or let it go on. What was never measured cannot be looked at."""
        showing = self.showing
        if self._paused is not None:
            self._paused = None
        elif showing is not None and showing.view is not None and showing.reading is not None:
            age = (showing.snapshot.feed.age or 0.0) + showing.unheard
            self._paused = (Paused(view=showing.view, reading=showing.reading, seconds=age), self._clock())
        self._draw_now()

    def action_reopen(self) -> None:
        """Close the feed and open it again."""
        self._source.restart_feed()

    def action_redraw(self) -> None:
        """Send every cell again."""
        if isinstance(self._driver, CellDriver):
            self._driver.redraw()
        self.refresh(layout=True)

    def action_palette(self) -> None:
        """All commands by name."""
        self.action_command_palette()

    def action_keep(self) -> None:
        """Keep what is read now as a hold, and compare with it from now on."""
        self._source.keep_hold(None)
        self._draw_now()

    def action_say(self) -> None:
        """Have it spoken how things are."""
        self._source.say_now()

    def action_leave(self) -> None:
        """End the screen; whoever started it closes the watch."""
        self.exit()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Everything the keys do, and each alarm by itself."""
        for hint in ACTIONS:
            if hint.action != "palette":
                yield SystemCommand(hint.word.capitalize(), hint.sentence, getattr(self, f"action_{hint.action}"))
        reading = self.showing.reading if self.showing else None
        for sitter in (reading.sitters or ()) if reading else ():
            yield SystemCommand(
                f"Choose {sitter.name}",
                "Make this sitter the main one",
                lambda name=sitter.name: self._choose_sitter(name),
            )
        alarms = self.showing.snapshot.alarms if self.showing else ()
        for alarm in alarms:
            if alarm_state(alarm).rank in {0, 2}:
                # The rise that was there when the list was opened, never one that came since.
                seen = functools.partial(self._source.acknowledge, alarm.alarm, alarm.occurrence)
                yield SystemCommand(f"Acknowledge {alarm.alarm}", alarm.words, seen)
