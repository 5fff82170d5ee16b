"""How often alarms rose while somebody watched, over all sessions of a span of time."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import msgspec

from analysis.alarm.metrics import measured
from analysis.journal.read import history, sessions
from analysis.model.alarm import AlarmChange
from analysis.model.instant import Instant

MOST_CHANGES = 100_000
"""Changes that are counted at most, the newest."""


class AlarmRate(msgspec.Struct, frozen=True, kw_only=True):
    """Alarms that were heard in ``hours`` of watching, per hour (None where nobody watched), and the most in any ten
    minutes of one session; how often each rose, the most first; ``quiet`` counts those that were shelved, suppressed or
    out of service."""

    hours: float
    alarms: int
    per_hour: float | None
    busiest: int
    by_alarm: dict[str, int]
    quiet: int


def alarm_rate(path: Path, since: float, until: float) -> AlarmRate:
    """The rate between two moments (UTC seconds), gaps between sessions not counted as watched.

    Raises JournalError when there is no journal or it cannot be read.
    """
    by_session: dict[int, list[AlarmChange]] = {}
    for entry in history(path, MOST_CHANGES, kind="alarm"):
        if isinstance(entry.what, AlarmChange) and since <= entry.at.utc <= until:
            # In UTC: the metrics reckon in monotonic time, which begins anew with each session.
            told = msgspec.structs.replace(entry.what, at=_in_utc(entry.at.utc))
            by_session.setdefault(entry.session, []).append(told)
    seconds, alarms, busiest, quiet = 0.0, 0, 0, 0
    counts: Counter[str] = Counter()
    for session in sessions(path, since, until):
        changes = by_session.get(session.session, [])
        # The writer notes the beginning of a session when it gets to it; what rose before that belongs to it too.
        began = min([session.began, *(change.at.utc for change in changes)])
        begin, end = max(began, since), min(session.ended, until)
        if end <= begin:
            continue
        found = measured(changes, _in_utc(begin), _in_utc(end))
        seconds += found.seconds
        alarms += found.alarms
        quiet += found.quiet
        busiest = max(busiest, found.busiest)
        counts.update(found.by_alarm)
    return AlarmRate(
        hours=seconds / 3600,
        alarms=alarms,
        per_hour=alarms * 3600 / seconds if seconds > 0 else None,
        busiest=busiest,
        by_alarm=dict(counts.most_common()),
        quiet=quiet,
    )


def _in_utc(utc: float) -> Instant:
    return Instant(utc, utc)
