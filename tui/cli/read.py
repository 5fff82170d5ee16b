"""``stopkeeper read``: measure frames and print them."""

from __future__ import annotations

import contextlib
from collections.abc import Generator
from pathlib import Path
from typing import Any

import click
import msgspec

from analysis.model.errors import FeedUnreadable, UsageError
from analysis.model.feed import SourceKind
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import FeedHealth, Reading, Validity
from tui.cli.options import feed_options, feed_options_from, settings_from, settled_options
from tui.cli.say import say


@click.command("read", epilog="Example: stopkeeper read recordings/boathouse-709-8bit.mp4 --json --frames 3")
@click.argument("feed")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line instead of words.")
@click.option("--frames", type=click.IntRange(min=1), metavar="N", help="Stop after N printed readings.")
@click.option("--every", type=click.IntRange(min=1), default=1, metavar="N", help="Print every Nth frame.")
@click.option("--seconds", type=float, metavar="S", help="Stop after S seconds of the feed.")
@click.option("--realtime", is_flag=True, help="Play a file or scene at its own pace, not as fast as it goes.")
@feed_options
def command(
    feed: str,
    as_json: bool,
    frames: int | None,
    every: int,
    seconds: float | None,
    realtime: bool,
    config: Path | None,
    **given: Any,
) -> None:
    """Measure frames of FEED and print one reading a line.

    Levels are IRE (percent of the 0-100 signal range), shares percent of the active picture.

    FEED is scene:boathouse, a device such as /dev/video0, a file, a network address (rtsp://
    udp:// tcp:// http:// rtp://), or raw: for frames on standard input.
    """
    if seconds is not None and not seconds > 0:
        raise UsageError(f"{seconds:g} seconds is nothing to read", "--seconds", "use a number above zero")
    settings = settings_from(config)
    options = settled_options(feed_options_from(settings, given, realtime=realtime), feed, given)
    count = 0
    with contextlib.closing(readings(feed, options, settings, every, seconds)) as stream:
        for reading in stream:
            say(msgspec.json.encode(rounded(msgspec.to_builtins(reading))) if as_json else words(reading))
            count += 1
            if frames is not None and count >= frames:
                return
    if count == 0:
        raise FeedUnreadable("ended before there was a picture to print", feed, "check the file or ask for fewer")


def readings(
    feed: str, options: Any, settings: Any, every: int, seconds: float | None
) -> Generator[Reading, None, None]:
    """Readings of every ``every``-th frame of a feed, until it ends or ``seconds`` have passed on it."""
    from analysis.feed.address import parse_address
    from analysis.feed.clock import SystemClock
    from analysis.feed.every import EveryFrame, on_feed_clock, seconds_since
    from analysis.feed.factory import make_source
    from analysis.feed.pool import FramePool
    from analysis.measure.examiner import Examiner
    from analysis.measure.meter import one_thread
    from analysis.settings.measuring import examiner_settings
    from analysis.watch import open_sitters

    one_thread()
    pool, clock = FramePool(), SystemClock()
    examiner = Examiner(examiner_settings(settings.meter, view=False))
    # The search may take its time here, so that the same file gives the same readings on any machine.
    desk, _ = open_sitters(settings.sitter, patience=2.0)
    source = make_source(parse_address(feed), options, pool, clock)
    reader = EveryFrame(source, options, pool, clock)
    first: Frame | None = None
    rate = _Rate()
    try:
        for frame in reader:
            first = first or frame
            past = seconds_since(frame, first)
            if seconds is not None and past >= seconds:
                return
            rate.add(frame.instant)
            health = FeedHealth(
                fps=rate.per_second(),
                age_ms=round(clock.now().since(frame.instant) * 1000, 1),
                skipped=reader.skipped,
                generation=frame.generation,
            )
            # Every frame is measured, printed or not: noise, flicker and the ends of the signal live on their sequence,
            # and on the feed's own clock, however fast it is read.
            timed = on_feed_clock(frame, first)
            reading = examiner.measure(timed, health, first.instant, _validity(frame, source.kind)).reading
            if desk is not None:
                reading = msgspec.structs.replace(reading, sitters=desk.read(timed, reading))
            if frame.sequence % every == 0:
                yield msgspec.structs.replace(reading, seconds=round(past, 6))
            reader.give_back(frame)
    finally:
        reader.close()
        if desk is not None:
            desk.close()


def rounded(value: Any) -> Any:
    """The same JSON value with its numbers to four decimals: far below one code, and readable.

    >>> rounded({"mean": 29.700000001, "active": [0, 0, 4, 4], "ceiling": None})
    {'mean': 29.7, 'active': [0, 0, 4, 4], 'ceiling': None}
    """
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(item) for item in value]
    return value


def _validity(frame: Frame, kind: SourceKind) -> Validity:
    """A camera's first frames are still settling; nothing else settles."""
    from analysis.feed.every import settling_frames

    return "priming" if frame.sequence < settling_frames(kind) else "good"


class _Rate:
    """Frames a second over the last second's worth of arrivals."""

    def __init__(self) -> None:
        self._arrivals: list[float] = []

    def add(self, instant: Instant) -> None:
        self._arrivals = [a for a in self._arrivals[-120:] if instant.monotonic - a <= 1.0] + [instant.monotonic]

    def per_second(self) -> float | None:
        if len(self._arrivals) < 2 or self._arrivals[-1] <= self._arrivals[0]:
            return None
        return round((len(self._arrivals) - 1) / (self._arrivals[-1] - self._arrivals[0]), 2)


def words(reading: Reading) -> str:
    """One reading as a line for a person.

    Example: ``#12  0.48 s  middle 40.1  low 3.0  high 88.2 IRE  clipped 0.31 %  crushed 0.00 %``.
    """
    head = f"#{reading.sequence}  {reading.seconds:.2f} s"
    if reading.luma is None or reading.clipped is None or reading.crushed is None:
        return f"{head}  not measured: the frame is {reading.validity}"
    luma = reading.luma
    line = (
        f"{head}  middle {luma.p50:.1f}  mean {luma.mean:.1f}  low {luma.p1:.1f}  high {luma.p99:.1f} IRE"
        f"  clipped {reading.clipped.any:.2f} %  crushed {reading.crushed.luma:.2f} %"
    )
    return line if reading.validity == "good" else f"{line}  ({reading.validity})"
