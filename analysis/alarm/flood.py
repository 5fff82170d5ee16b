"""Many alarms at once become one summary, so that the ear is not buried; the gravest are always heard."""

from __future__ import annotations

import math

import msgspec

from analysis.model.alarm import Announcement
from analysis.model.instant import Instant

SEVERAL = "several"
"""The name a summary goes by; no alarm may be called so."""


class FloodLimits(msgspec.Struct, frozen=True, kw_only=True):
    """When sounds become too many: more than ``most`` in ``seconds``, or ``burst`` within ``burst_seconds``.

    More than ten alarms in ten minutes are a flood and fewer than five its end (ISA-18.2, EEMUA
    191, as commonly quoted). A summary comes ``burst_seconds`` after the first alarm it counts, and
    in a flood no oftener than every ``apart`` seconds.

    >>> FloodLimits(burst=1)
    Traceback (most recent call last):
    ...
    ValueError: flood: burst must be 2 or more, all others above zero
    """

    most: int = 10
    seconds: float = 600.0
    burst: int = 4
    burst_seconds: float = 2.0
    apart: float = 60.0

    def __post_init__(self) -> None:
        spans = (self.seconds, self.burst_seconds, self.apart)
        if self.burst < 2 or self.most < 1 or not all(math.isfinite(s) and s > 0 for s in spans):
            raise ValueError("flood: burst must be 2 or more, all others above zero")


class Flood(msgspec.Struct, frozen=True, kw_only=True):
    """What was to be heard lately: times of the last few, names that wait for the summary, since when.

    ``flooding`` lasts until fewer than half of the most came in the span; ``told_at`` is when the
    last summary was heard.
    """

    limits: FloodLimits = FloodLimits()
    times: tuple[Instant, ...] = ()
    held: tuple[str, ...] = ()
    held_since: Instant | None = None
    flooding: bool = False
    told_at: Instant | None = None
    summaries: int = 0

    def within(self, seconds: float, now: Instant) -> int:
        """How many were to be heard in the last ``seconds``, as far back as is remembered."""
        return sum(now.since(time) < seconds for time in self.times)


def passed(
    flood: Flood, wanted: tuple[Announcement, ...], now: Instant
) -> tuple[Flood, tuple[Announcement, ...], tuple[str, ...]]:
    """What of the wanted announcements is to be heard now, and which alarms are done with by that.

    ``wanted`` are all that have not been heard, again at each step until they are; those not
    named in the last value still wait. An alarm that was acknowledged or ended before the summary
    comes is not wanted any more and not counted. Priority 1 is always heard by itself, and its reminders
    make no flood.

    >>> wave = tuple(Announcement(alarm=str(n), occurrence=1, kind="shadows", direction="down", priority=3,
    ...                           words="dark", at=Instant(0.0, 0.0)) for n in range(5))
    >>> flood, heard, done = passed(Flood(), wave, Instant(0.0, 0.0))
    >>> heard, done
    ((), ())
    >>> [a.words for a in passed(flood, wave, Instant(2.0, 2.0))[1]]
    ['5 new alarms']
    """
    grave = tuple(a for a in wanted if a.priority == 1)
    others = tuple(a for a in wanted if a.priority != 1)
    # A reminder of the gravest is no news: left alone for ten minutes it would make a flood of one alarm.
    news = [a for a in wanted if a.alarm not in flood.held and not (a.again and a.priority == 1)]
    flood = _counted(flood, len(news), now)
    limits = flood.limits
    if not flood.flooding and flood.within(limits.burst_seconds, now) < limits.burst and not flood.held:
        return flood, (*grave, *others), tuple(a.alarm for a in wanted)
    if not others:
        return _released(flood), grave, tuple(a.alarm for a in grave)
    since = flood.held_since or now
    apart = limits.apart if flood.flooding else limits.burst_seconds
    rested = flood.told_at is None or now.since(flood.told_at) >= apart
    if now.since(since) < limits.burst_seconds or not rested:
        held = msgspec.structs.replace(flood, held=tuple(a.alarm for a in others), held_since=since)
        return held, grave, tuple(a.alarm for a in grave)
    flood = msgspec.structs.replace(_released(flood), told_at=now, summaries=flood.summaries + 1)
    return flood, (*grave, _summary(others, flood.summaries, now)), tuple(a.alarm for a in wanted)


def _counted(flood: Flood, new: int, now: Instant) -> Flood:
    # One more than the most is enough to tell "more than the most" from "fewer than half of it".
    kept = max(flood.limits.most + 1, flood.limits.burst)
    times = (*flood.times, *([now] * min(new, kept)))[-kept:] if new else flood.times
    flood = msgspec.structs.replace(flood, times=times)
    lately = flood.within(flood.limits.seconds, now)
    flooding = lately > flood.limits.most or (flood.flooding and lately >= flood.limits.most / 2)
    return msgspec.structs.replace(flood, flooding=flooding)


def _released(flood: Flood) -> Flood:
    return msgspec.structs.replace(flood, held=(), held_since=None)


def _summary(held: tuple[Announcement, ...], number: int, now: Instant) -> Announcement:
    if len(held) == 1:
        return held[0]
    gravest = min(held, key=lambda a: a.priority)
    new = not any(a.again for a in held)
    return Announcement(
        alarm=SEVERAL,
        occurrence=number,
        kind=gravest.kind,
        direction="none",
        priority=gravest.priority,
        words=f"{len(held)} new alarms" if new else f"{len(held)} alarms nobody has acknowledged",
        at=now,
        since=min((a.since or a.at for a in held), key=lambda i: i.monotonic),
        again=not new,
        counts=len(held),
    )
