"""How often the alarms speak in an hour of a scene or clip: read, measured and judged on the feed's own clock.

``python -m tests.alarm.an_hour [--seconds N] [--changes] [--sitters] [--aim IRE] [FEED ...]``. A FEED is a query of the
boathouse (``nd=2&seed=3&rate=5``; ``beat=0.2`` lets its lamp swing by a fifth at 5 Hz), a feed's address or a clip's
path. A clip is looped: an hour of a clip of ten seconds is ten seconds told 360 times, and its joins are cuts.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from urllib.parse import parse_qsl

import msgspec

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.metrics import AlarmMetrics, measured
from analysis.engine.aiming import AimDesk
from analysis.engine.step import Measured, begin, step
from analysis.feed.address import parse_address
from analysis.feed.every import EveryFrame, seconds_since
from analysis.feed.factory import make_source
from analysis.feed.pool import FramePool
from analysis.feed.scene.lights import levels
from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.source import FeedOptions
from analysis.lookout.desk import SitterDesk
from analysis.measure.examiner import Examiner
from analysis.measure.meter import one_thread
from analysis.model.alarm import AlarmChange, Announcement
from analysis.model.feed import FeedStatus
from analysis.model.frame import Frame
from analysis.model.sitter import Spot
from analysis.settings.aim_settings import AimChoice
from analysis.settings.schema import SitterSettings
from analysis.watch import open_sitters
from analysis.watch.desks import Desks
from tests.alarm.timeline import at
from tests.support.fake_clock import FakeClock

SMALL = FeedOptions(width=240, height=136)
BEAT_HZ = 5.0
"""What lamps on mains of 60 Hz leave at 25 pictures a second."""


def boathouse(query: str, seconds: float, options: FeedOptions = SMALL) -> Iterator[Frame]:
    """The rendered boathouse, one frame after the other."""
    asked = dict(parse_qsl(query))
    beat = float(asked.pop("beat", 0.0))
    # Exposed as at 25 pictures a second, however few are looked at.
    asked.setdefault("shutter", f"{180.0 * float(asked.get('rate', options.rate or 25.0)) / 25.0:g}")
    controls = parse("boathouse", asked, options)
    renderer = Renderer(controls)
    for number in range(round(seconds * controls.rate)):
        now = number / controls.rate
        light = levels(controls, now)
        swing = 1.0 + beat * math.cos(2.0 * math.pi * BEAT_HZ * now)
        picture = renderer.picture(now, number, msgspec.structs.replace(light, lamp=light.lamp * swing))
        yield Frame(planes=picture.planes, format=picture.format, instant=at(now), generation=1, sequence=number)


def clip(address: str, seconds: float) -> Iterator[Frame]:
    """A feed, and one that ends again and again, as fast as it can be read."""
    options, pool, clock = FeedOptions(loop=True, realtime=False), FramePool(), FakeClock()
    reader = EveryFrame(make_source(parse_address(address), options, pool, clock), options, pool, clock)
    first: Frame | None = None
    try:
        for frame in reader:
            first = first or frame
            past = seconds_since(frame, first)
            if past >= seconds:
                return
            yield msgspec.structs.replace(frame, instant=at(past))
            reader.give_back(frame)
    finally:
        reader.close()


def judged(
    frames: Iterable[Frame],
    sitters: SitterDesk | None = None,
    aims: AimDesk | None = None,
    spots: tuple[Spot, ...] = (),
) -> tuple[list[AlarmChange], list[Announcement]]:
    """All changes of the alarms over these frames, and what was announced, by the desks of a watch."""
    examiner = Examiner()
    examiner.place_spots(spots)
    desks = Desks(aims=aims or AimDesk())
    state, _ = begin(DEFAULT_RULES, at(0.0))
    changes: list[AlarmChange] = []
    heard: list[Announcement] = []
    for frame in frames:
        now = frame.instant
        measurement = examiner.measure(frame, None, at(0.0))
        reading = measurement.reading
        if sitters is not None:
            reading = msgspec.structs.replace(reading, sitters=sitters.read(frame, reading))
            measurement = msgspec.structs.replace(measurement, reading=reading)
        feed = FeedStatus(
            address="", kind="file", state="live", evidence="pictures arrive", since=at(0.0), generation=1,
            format=frame.format, trouble=None, trouble_since=None,
        )  # fmt: skip
        more = desks.see(measurement, spots, feed, now)
        item = Measured(reading=reading, feed=feed, more=more, nearing=desks.clip.newest(now))
        state, outcome = step(state, item, now)
        changes += outcome.changes
        heard += outcome.announcements
        # As in the watch: what came and went before a cut or a step of exposure is past.
        for reset in desks.anew.ended(state.alarms(now), now) if desks.anew.heeding(now) else ():
            state, outcome = step(state, reset, now)
            changes += outcome.changes
    return changes, heard


def watched(seconds: float, query: str = "") -> list[AlarmChange]:
    """All changes of the alarms in so many seconds of the boathouse at 25 pictures a second."""
    return judged(boathouse(query, seconds))[0]


def rises_in_a_row(changes: Iterable[AlarmChange]) -> int:
    """The longest row of rises of one alarm, told and only counted ones."""
    return max((change.rises for change in changes), default=0)


def soonest_again(heard: Iterable[Announcement]) -> str:
    """The least time between two times that one alarm was heard."""
    times: dict[str, list[float]] = {}
    for each in heard:
        times.setdefault(each.alarm, []).append(each.at.monotonic)
    gaps = [late - early for known in times.values() for early, late in pairwise(known)]
    return f"{min(gaps):.0f} s" if gaps else "none"


def main() -> None:
    options = argparse.ArgumentParser(description="How often the alarms speak in an hour.")
    options.add_argument("feeds", nargs="*", default=[""])
    options.add_argument("--seconds", type=float, default=3600.0)
    options.add_argument("--changes", action="store_true", help="print every change")
    options.add_argument("--sitters", action="store_true", help="look for faces (slow); scenes are rendered at 640x360")
    options.add_argument("--aim", type=float, help="where the skin should lie, in IRE")
    asked = options.parse_args()
    one_thread()
    for feed in asked.feeds:
        desk = open_sitters(SitterSettings(), patience=2.0)[0] if asked.sitters else None
        aims = AimDesk({"sitter": AimChoice(value=asked.aim)}) if asked.aim is not None else None
        real = Path(feed).exists() if feed else False
        shape = FeedOptions(width=640, height=360, rate=10.0) if asked.sitters else SMALL
        frames = clip(feed, asked.seconds) if real or ":" in feed else boathouse(feed, asked.seconds, shape)
        changes, heard = judged(frames, desk, aims)
        if desk is not None:
            desk.close()
        if asked.changes:
            for change in changes:
                said = f"{change.alarm:14} {change.before} > {change.after}: {change.reason}"
                print(f"{change.at.monotonic:8.1f} {said}")
            for each in heard:
                print(f"{each.at.monotonic:8.1f} heard {each.alarm}: {each.words}")
        counted: AlarmMetrics = measured(changes, at(0.0), at(asked.seconds))
        name = Path(feed).name if real else feed or "as it comes"
        print(
            f"{name}: {counted.alarms} in {asked.seconds:g} s, {counted.per_hour:.1f} an hour ({len(heard)} heard,"
            f" {rises_in_a_row(changes)} rises in a row at most, {soonest_again(heard)} between two of one alarm),"
            f" {counted.by_alarm}, chattering {counted.chattering or 'none'}, quiet {counted.quiet}",
            flush=True,
        )


if __name__ == "__main__":
    main()
