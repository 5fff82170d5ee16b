"""A small player for stories: values at times go in, what changed and what sounded comes out."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.alarm import commands
from analysis.alarm.book import AlarmBook, Answered, acknowledge, opened, step
from analysis.alarm.defaults import FEED
from analysis.alarm.flood import FloodLimits
from analysis.alarm.observation import Observation
from analysis.alarm.rule import AlarmRule
from analysis.model.alarm import AlarmChange, AlarmState, Announcement
from analysis.model.instant import Instant

UTC_START = 1_700_000_000.0


def at(seconds: float) -> Instant:
    return Instant(seconds, UTC_START + seconds)


def level_rule(name: str = "level", **fields: object) -> AlarmRule:
    """A rule with round numbers: limit 10, clear 8, one second up, two seconds down."""
    given: dict[str, object] = {
        "name": name, "kind": "highlights", "direction": "up", "priority": 2, "words": "too much", "advice": "less",
        "measured": "clipped {value} of the picture", "limit": 10.0, "clear": 8.0, "on_delay": 1.0, "off_delay": 2.0,
    }  # fmt: skip
    return AlarmRule(**(given | fields))  # type: ignore[arg-type]


NO_FLOOD = FloodLimits(most=10**6, burst=10**6)
"""Each alarm by itself, however many: for stories about single alarms."""


class Story:
    """Plays observations at a rate and keeps everything that came out."""

    def __init__(self, *rules: AlarmRule, rate: float = 25.0, flood: FloodLimits = NO_FLOOD) -> None:
        self.rate = rate
        self.ticks = 0
        self.start = at(0.0)
        self.book: AlarmBook = opened(rules or (level_rule(), FEED), at(0.0), flood)
        self.changes: list[AlarmChange] = []
        self.announcements: list[Announcement] = []

    @property
    def now(self) -> Instant:
        seconds = self.ticks / self.rate
        return Instant(self.start.monotonic + seconds, self.start.utc + seconds)

    def show(self, values: dict[str, float | None], *, lost: bool = False, words: str = "") -> None:
        self.ticks += 1
        observation = Observation(values=values, feed_lost=lost, feed_words=words)
        self.book, changes, announcements = step(self.book, observation, self.now)
        self.changes += changes
        self.announcements += announcements

    def hold(self, seconds: float, value: float | None = None, *, lost: bool = False, alarm: str = "level") -> None:
        for _ in range(round(seconds * self.rate)):
            self.show({alarm: value}, lost=lost, words="no picture" if lost else "")

    def silence(self, seconds: float) -> None:
        """Time passes and nobody shows anything."""
        self.ticks += round(seconds * self.rate)

    def play(self, values: Iterable[float | None], alarm: str = "level") -> None:
        for value in values:
            self.show({alarm: value})

    def acknowledge(self, alarm: str | None = None, occurrence: int | None = None) -> str | None:
        return self._keep(acknowledge(self.book, alarm, occurrence, self.now))

    def shelve(self, seconds: float, alarm: str = "level") -> str | None:
        return self._keep(commands.shelve(self.book, alarm, seconds, self.now))

    def unshelve(self, alarm: str = "level") -> str | None:
        return self._keep(commands.unshelve(self.book, alarm, self.now))

    def reset(self, alarm: str = "level") -> str | None:
        return self._keep(commands.reset(self.book, alarm, self.now))

    def retire(self, why: str = "being repaired", alarm: str = "level") -> str | None:
        return self._keep(commands.take_out_of_service(self.book, alarm, why, self.now))

    def put_back(self, alarm: str = "level") -> str | None:
        return self._keep(commands.return_to_service(self.book, alarm, self.now))

    def _keep(self, answered: Answered) -> str | None:
        self.book, changes, refusal = answered
        self.changes += changes
        return refusal

    def quiet(self, alarm: str = "level") -> tuple[str, ...]:
        return self.book.entry(alarm).quiet.ways

    def state(self, alarm: str = "level") -> AlarmState:
        return self.book.entry(alarm).state

    def sounds(self, alarm: str | None = None) -> list[tuple[str, int]]:
        return [(a.alarm, a.occurrence) for a in self.announcements if alarm in (None, a.alarm)]
