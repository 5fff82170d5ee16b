"""How well the alarms behave, counted from what was recorded: rate, floods, chatter, standing alarms."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable
from typing import TypeVar

import msgspec

from analysis.model.alarm import AlarmChange
from analysis.model.instant import Instant

_Name = TypeVar("_Name", str, int)

TEN_MINUTES = 600.0
CHATTER_RISES, CHATTER_SECONDS = 3, 60.0
"""The same alarm three times or more within a minute chatters (ISA-18.2 and EEMUA 191, as commonly quoted)."""
STANDING_SECONDS = 86_400.0
"""An alarm active for a day stands (ISA-18.2, from memory): it tells nobody anything."""
FLOOD_BEGINS, FLOOD_ENDS = 10, 5
"""More than ten in ten minutes begin a flood, fewer than five end it (ISA-18.2, from memory)."""


class AlarmMetrics(msgspec.Struct, frozen=True, kw_only=True):
    """Counts over ``seconds`` of watching. Only rises that were not quiet count as alarms, except in ``quiet``.

    ``busiest`` is the most alarms within any ten minutes. ``flood_percent`` is the part of the time
    in flood. ``chattering`` names alarms with the most rises they had within a minute, where that is
    three or more. ``standing`` names those active at the end for a day or longer, ``active`` all that
    are active then. ``loudest`` is the alarm that rose most, and its percent of all rises.
    ``median_answer`` is the median time in seconds from rise to acknowledgement.
    """

    seconds: float
    alarms: int
    per_hour: float
    busiest: int
    flood_percent: float
    by_priority: dict[int, int]
    by_alarm: dict[str, int]
    chattering: dict[str, int]
    standing: tuple[str, ...]
    active: tuple[str, ...]
    loudest: tuple[str, float] | None
    quiet: int
    acknowledged: int
    median_answer: float | None


def measured(
    changes: Iterable[AlarmChange], begin: Instant, end: Instant, *, standing_seconds: float = STANDING_SECONDS
) -> AlarmMetrics:
    """The metrics of what was recorded between two moments of one run, changes in order of time.

    ``ValueError`` when the time between is not above zero.

    >>> measured((), Instant(0.0, 0.0), Instant(3600.0, 3600.0)).per_hour
    0.0
    """
    seconds = end.since(begin)
    if not seconds > 0:
        raise ValueError("the end must come after the beginning")
    told = [change for change in changes if begin.monotonic <= change.at.monotonic <= end.monotonic]
    rises = [change for change in told if _rose(change)]
    heard = [change for change in rises if not change.quiet]
    times = [change.at.since(begin) for change in heard]
    by_alarm = _counts(change.alarm for change in heard)
    active = _active_since(told)
    answers = _answers(told)
    loudest = max(by_alarm, key=lambda name: by_alarm[name], default=None)
    return AlarmMetrics(
        seconds=seconds,
        alarms=len(heard),
        per_hour=len(heard) * 3600.0 / seconds,
        busiest=_most_within(times, TEN_MINUTES),
        flood_percent=100.0 * _flood_seconds(times, seconds) / seconds,
        by_priority=_counts(change.priority for change in heard),
        by_alarm=by_alarm,
        chattering=_chattering(heard, begin),
        standing=tuple(name for name, since in active.items() if end.since(since) >= standing_seconds),
        active=tuple(active),
        loudest=(loudest, 100.0 * by_alarm[loudest] / len(heard)) if loudest is not None else None,
        quiet=len(rises) - len(heard),
        acknowledged=len(answers),
        median_answer=_median(answers),
    )


def _rose(change: AlarmChange) -> bool:
    # Worse than before is a rise too, though its state may be the same; what only turns quiet or loud is none.
    if change.after != "active-unacknowledged" or change.quiet_before != change.quiet:
        return False
    return change.before != change.after or change.value is not None


def _counts(names: Iterable[_Name]) -> dict[_Name, int]:
    counts: dict[_Name, int] = defaultdict(int)
    for name in names:
        counts[name] += 1
    return dict(counts)


def _most_within(times: Iterable[float], span: float) -> int:
    """The most times that lie within less than ``span`` of one another."""
    recent: deque[float] = deque()
    most = 0
    for time in times:
        recent.append(time)
        while time - recent[0] >= span:
            recent.popleft()
        most = max(most, len(recent))
    return most


def _chattering(rises: Iterable[AlarmChange], begin: Instant) -> dict[str, int]:
    times: dict[str, list[float]] = defaultdict(list)
    for rise in rises:
        times[rise.alarm].append(rise.at.since(begin))
    worst = {name: _most_within(each, CHATTER_SECONDS) for name, each in times.items()}
    return {name: most for name, most in worst.items() if most >= CHATTER_RISES}


def _flood_seconds(times: list[float], seconds: float) -> float:
    """How long more than ten came in the last ten minutes, until fewer than five did."""
    moments = sorted([(time, 1) for time in times] + [(time + TEN_MINUTES, -1) for time in times])
    lately, began, total = 0, None, 0.0
    for moment, step in moments:
        lately += step
        if began is None and lately > FLOOD_BEGINS:
            began = moment
        elif began is not None and lately < FLOOD_ENDS:
            total += min(moment, seconds) - began
            began = None
    return total if began is None else total + max(0.0, seconds - began)


def _active_since(changes: Iterable[AlarmChange]) -> dict[str, Instant]:
    since: dict[str, Instant] = {}
    for change in changes:
        if not change.after.startswith("active"):
            since.pop(change.alarm, None)
        elif change.alarm not in since:
            since[change.alarm] = change.at
    return since


def _answers(changes: Iterable[AlarmChange]) -> list[float]:
    return [
        change.seconds
        for change in changes
        if (change.before, change.after) == ("active-unacknowledged", "active-acknowledged")
    ]


def _median(values: list[float]) -> float | None:
    if not values:
        return None
    ordered, middle = sorted(values), len(values) // 2
    return ordered[middle] if len(values) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
