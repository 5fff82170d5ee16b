"""Alarms as a real book tells them, in every state and every way of being quiet, for the screens that show them."""

from __future__ import annotations

import msgspec

from analysis.alarm import commands
from analysis.alarm.book import AlarmBook, acknowledge, opened, statuses, step
from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.observation import Observation
from analysis.model.alarm import AlarmStatus
from analysis.model.instant import Instant
from tests.tui.synthetic import START

LATCHING = {"spot-clipped", "one-channel"}
_VALUES = {
    "highlights": 3.12, "shadows": 6.4, "skin-clipped": 0.0, "spot-clipped": 4.0, "one-channel": 0.9, "skin-low": 0.7,
    "drift-up": 0.42, "flicker": 0.0, "noise": 31.0, "headroom": 12.0,
}  # fmt: skip


def _at(seconds: float) -> Instant:
    return Instant(START.monotonic + seconds, START.utc + seconds)


def _played(book: AlarmBook, begin: float, end: float, **changed: float) -> AlarmBook:
    values: dict[str, float | None] = {**_VALUES, **{name.replace("_", "-"): v for name, v in changed.items()}}
    for tick in range(round(begin * 5), round(end * 5)):
        book, _, _ = step(book, Observation(values=values), _at(tick / 5))
    return book


def full_board(at: float = 0.0) -> tuple[AlarmStatus, ...]:
    """Highlights new, skin-low seen, spot-clipped latched, one-channel latched and seen, feed over and unseen; shadows
    shelved for some 14 minutes more, drift-up out of service, the rest at rest; told ``at`` seconds after the start."""
    rules = [
        msgspec.structs.replace(rule, latching=True, self_clearing=False, hushed_by=())
        if rule.name in LATCHING
        else rule
        for rule in DEFAULT_RULES
    ]
    book = _played(opened(rules, _at(-90.0)), -90.0, -60.0, highlights=0.0)
    book, _, _ = step(book, Observation(feed_lost=True, feed_words="no picture for 1.2 s"), _at(-60.0))
    book = acknowledge(book, "skin-low", 1, _at(-59.0))[0]
    book = acknowledge(book, "one-channel", 1, _at(-59.0))[0]
    book = commands.shelve(book, "shadows", 900.0, _at(-58.0))[0]
    book = commands.take_out_of_service(book, "drift-up", "the lamp by the door is being rigged", _at(-58.0))[0]
    book = _played(book, -58.0, -40.0, highlights=0.0, spot_clipped=0.0, one_channel=0.0)
    book = _played(book, -40.0, at, spot_clipped=0.0, one_channel=0.0)
    return statuses(book, _at(at))
