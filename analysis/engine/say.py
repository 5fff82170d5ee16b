"""What is true now, in one or two short clauses to be spoken: numbers as words, the gravest first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import floor

from analysis.alarm.amounts import number, stops
from analysis.engine.step import NO_PICTURE
from analysis.exposure.aims import Distance, aim_for, distance
from analysis.measure.examiner import known_curve
from analysis.model.alarm import AlarmStatus
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, SitterReading

CLAUSES = 2
"""More than two things at once are not taken in by somebody who has their hands full."""

_WITHOUT: dict[FeedState, str] = {
    "lost": "feed lost",
    "waiting": "feed lost",
    "frozen": "picture frozen",
    "opening": "feed opening, no picture yet",
    "closed": "feed closed",
    "ended": "recording over",
}
_OVER = ("returned-unacknowledged", "latched-unacknowledged")
_DOUBT = {"late": "picture late", "suspect": "picture suspect", "priming": "picture just begun"}


def words_now(
    feed: FeedStatus, reading: Reading | None, alarms: Sequence[AlarmStatus] = (), aims: Sequence[Aim] = ()
) -> str:
    """The newest truth for the ear: ``feed lost``, ``highlights clipping, two percent``, ``all well, skin on its aim``.

    Without a picture nothing is said of the light. An alarm that is suppressed has the cause of another one and is
    not said; one that is shelved still is, because it was asked.

    >>> from analysis.model.instant import Instant
    >>> words_now(FeedStatus(
    ...     address="cam", kind="camera", state="lost", evidence="unplugged", since=None, generation=1), None)
    'feed lost'
    """
    if feed.state in NO_PICTURE or reading is None:
        return _WITHOUT.get(feed.state, "no picture yet")
    holding = _holding(alarms)
    clauses = [_alarm_words(alarm, reading, aims) for alarm in holding if not alarm.frozen]
    clauses += [f"{alarm.words} before, not measured now" for alarm in holding if alarm.frozen]
    skin = _skin_words(reading, aims)
    if feed.state == "dark":
        clauses.insert(0, "picture dark")
    elif reading.validity != "good":
        clauses.insert(0, _DOUBT[reading.validity])
    if not clauses:
        well = "all well" if skin in (None, _ON_AIM) else "no alarm"
        unseen = sum(alarm.state in _OVER and not alarm.quiet for alarm in alarms)
        over = f"{number(unseen)} alarm{'s' if unseen != 1 else ''} over and not seen" if unseen else None
        clauses = [well, *filter(None, (skin, over))] if well == "all well" else [skin or "", well]
    elif skin is not None and not any(clause.startswith("skin") for clause in clauses):
        clauses.append(skin)
    return ", ".join(dict.fromkeys(clause for clause in clauses[:CLAUSES] if clause))


_ON_AIM = "skin on its aim"


def _holding(alarms: Iterable[AlarmStatus]) -> list[AlarmStatus]:
    """Alarms whose condition holds, by what was measured last: the gravest first, of equals the newest."""
    active = [alarm for alarm in alarms if alarm.state.startswith("active") and "suppressed" not in alarm.quiet]
    return sorted(active, key=lambda alarm: (alarm.priority, -alarm.since.monotonic, alarm.alarm))


def _alarm_words(alarm: AlarmStatus, reading: Reading, aims: Sequence[Aim]) -> str:
    if alarm.lull:
        return f"{alarm.words} comes and goes"
    if alarm.alarm == "highlights" and reading.clipped is not None:
        return f"{alarm.words}, {percent(reading.clipped.any)}"
    if alarm.alarm == "shadows" and reading.crushed is not None:
        return f"{alarm.words}, {percent(reading.crushed.luma)}"
    if alarm.alarm in ("skin-high", "skin-low"):
        return _skin_words(reading, aims) or alarm.words
    return alarm.words


def _skin_words(reading: Reading, aims: Sequence[Aim]) -> str | None:
    """How the main sitter's skin lies; None where there is none, or nothing to hold it against."""
    main = next((sitter for sitter in reading.sitters or () if sitter.main), None)
    if main is None:
        return None
    if main.state in ("too dark", "clipped"):
        return "skin too dark to read" if main.state == "too dark" else "skin clipped"
    found = _off(main, reading, aims)
    if found is None:
        return None
    over = found.stops if found.stops is not None else (found.ire or 0.0)
    amount = stops(over) if found.stops is not None else _ire(over)
    if found.within or not amount:
        return _ON_AIM
    least = "at least " if found.at_least else ""
    return f"skin {least}{amount} {'high' if over > 0 else 'low'}"


def _off(sitter: SitterReading, reading: Reading, aims: Sequence[Aim]) -> Distance | None:
    aim = aim_for(sitter.name, aims)
    if aim is None or sitter.level is None:
        return None
    return distance(aim, sitter.level, known_curve(reading.encoding.curve), sitter.stops, sitter.clipped or 0.0)


def percent(share: float) -> str:
    """A share of the picture as it is said.

    >>> [percent(share) for share in (0.2, 0.6, 1.2, 2.3, 41.7)]
    ['less than half a percent', 'half a percent', 'one percent', 'two percent', 'forty-two percent']
    """
    if share < 0.5:
        return "less than half a percent"
    return "half a percent" if share < 0.75 else f"{number(floor(share + 0.5))} percent"


def _ire(value: float) -> str:
    size = floor(abs(value) + 0.5)
    return f"{number(size)} IRE" if size else ""
