"""One step of the watch: a reading, a tick or a command goes in, the next state and what happened come out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite
from types import MappingProxyType
from typing import TypeAlias, assert_never

import msgspec

from analysis.alarm import book as alarms
from analysis.alarm import commands
from analysis.alarm.amounts import stops
from analysis.alarm.book import AlarmBook, Answered
from analysis.alarm.clip_words import clip_words
from analysis.alarm.observation import PATIENCE_SECONDS, Observation, observed
from analysis.alarm.restore import restore
from analysis.alarm.rule import AlarmRule
from analysis.alarm.trend import Trend, minutes_left, noted
from analysis.engine.nearing import Nearing
from analysis.engine.timeline import Timeline, add
from analysis.model.alarm import AlarmChange, AlarmStatus, Announcement, SavedAlarms
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.frame import FrameFormat
from analysis.model.instant import Instant
from analysis.model.reading import Reading

NO_PICTURE: frozenset[FeedState] = frozenset({"closed", "opening", "lost", "waiting", "frozen", "ended"})
"""States in which no picture can be vouched for: numbers are blanked and picture alarms frozen."""


OWN_ALARM: frozenset[FeedState] = frozenset({"dark", "frozen"})
"""States of a feed that has a picture, with an alarm that names what is wrong with it."""
IN_STOPS = ("skin-high", "skin-low", "spot-high", "spot-low", "drift-up", "drift-down")
"""Alarms that are heard with how far off it is."""
TOLD_MINUTES = 10.0
"""What clips later than this is not told by its time."""
WITH_PICTURE: frozenset[FeedState] = frozenset({"live", "late", "still", "suspect", "dark", "frozen"})


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A frame was measured. The reading's validity says whether alarms may judge it.

    ``more`` are values for alarms that no reading holds by itself, by the alarm's name. ``nearing`` is when a drift of
    the light reaches the clip, None where that is not known.
    """

    reading: Reading
    feed: FeedStatus
    more: Mapping[str, float] = MappingProxyType({})
    nearing: Nearing | None = None


class Tick(msgspec.Struct, frozen=True, kw_only=True):
    """Time passed without a frame; the feed's state may have changed."""

    feed: FeedStatus
    more: Mapping[str, float] = MappingProxyType({})


class Acknowledge(msgspec.Struct, frozen=True, kw_only=True):
    """The operator has seen one alarm, or with None all of them; ``occurrence`` names the rise that was seen."""

    alarm: str | None = None
    occurrence: int | None = None


class Shelve(msgspec.Struct, frozen=True, kw_only=True):
    """Keep one alarm quiet for ``seconds``, an hour at most; it comes back by itself."""

    alarm: str
    seconds: float


class Unshelve(msgspec.Struct, frozen=True, kw_only=True):
    """End a shelf early."""

    alarm: str


class Reset(msgspec.Struct, frozen=True, kw_only=True):
    """Let a latched alarm go."""

    alarm: str


class Retire(msgspec.Struct, frozen=True, kw_only=True):
    """Take one alarm out of service until it is put back; ``why`` is the operator's own words."""

    alarm: str
    why: str


class ReturnToService(msgspec.Struct, frozen=True, kw_only=True):
    """Put one alarm back in service."""

    alarm: str


class Unheard(msgspec.Struct, frozen=True, kw_only=True):
    """The sound was muted from ``since`` until now: what nobody has seen of what was announced is to be heard."""

    since: Instant


Command: TypeAlias = Acknowledge | Shelve | Unshelve | Reset | Retire | ReturnToService | Unheard
Input: TypeAlias = Measured | Tick | Command


class WatchState(msgspec.Struct, frozen=True, kw_only=True):
    """All that the next step needs: alarms, the last minutes, the newest reading that can be vouched for."""

    book: AlarmBook
    timeline: Timeline = Timeline()
    reading: Reading | None = None
    format: FrameFormat | None = None
    trend: Trend = Trend()
    minutes: float | None = None

    def alarms(self, now: Instant) -> tuple[AlarmStatus, ...]:
        """Every alarm as a screen shows it now."""
        return alarms.statuses(self.book, now)


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a step made happen: changes to record, announcements to be heard, why a command was refused."""

    changes: tuple[AlarmChange, ...] = ()
    announcements: tuple[Announcement, ...] = ()
    refusal: str | None = None


def begin(rules: Iterable[AlarmRule], now: Instant, saved: SavedAlarms | None = None) -> tuple[WatchState, Outcome]:
    """The state of a watch that has seen nothing yet, with the alarms as an earlier run left them."""
    book = alarms.opened(rules, now)
    if saved is None:
        return WatchState(book=book), Outcome()
    book, changes = restore(book, saved, now)
    return WatchState(book=book), Outcome(changes=changes)


def step(state: WatchState, item: Input, now: Instant) -> tuple[WatchState, Outcome]:
    """The watch after one input.

    While the feed has no picture the reading is dropped at once, so that an old picture never
    passes for a new one, and picture alarms stay as they were: missing data is not recovery. A command
    that makes no sense changes nothing; ``Outcome.refusal`` says why in one line.

    >>> from analysis.alarm.defaults import DEFAULT_RULES
    >>> from analysis.model.instant import Instant
    >>> t = Instant(0.0, 0.0)
    >>> lost = FeedStatus(address="cam", kind="camera", state="lost", evidence="unplugged", since=t,
    ...                   generation=1, trouble="unplugged", trouble_since=t)
    >>> state, outcome = step(begin(DEFAULT_RULES, t)[0], Tick(feed=lost), Instant(1.0, 1.0))
    >>> [(change.alarm, change.after) for change in outcome.changes]
    [('feed', 'active-unacknowledged')]
    """
    match item:
        case Measured():
            return _observe(state, item.reading, item.reading, item, now)
        case Tick():
            kept = None if item.feed.state in NO_PICTURE else state.reading
            return _observe(state, None, kept, item, now)
        case _:
            book, changes, refusal = _obeyed(state.book, item, now)
            return msgspec.structs.replace(state, book=book), Outcome(changes=changes, refusal=refusal)


def _obeyed(book: AlarmBook, command: Command, now: Instant) -> Answered:
    match command:
        case Acknowledge(alarm=alarm, occurrence=occurrence):
            return alarms.acknowledge(book, alarm, occurrence, now)
        case Shelve(alarm=alarm, seconds=seconds):
            return commands.shelve(book, alarm, seconds, now)
        case Unshelve(alarm=alarm):
            return commands.unshelve(book, alarm, now)
        case Reset(alarm=alarm):
            return commands.reset(book, alarm, now)
        case Retire(alarm=alarm, why=why):
            return commands.take_out_of_service(book, alarm, why, now)
        case ReturnToService(alarm=alarm):
            return commands.return_to_service(book, alarm, now)
        case Unheard(since=since):
            return commands.unheard(book, since), (), None
    assert_never(command)


def _observe(
    state: WatchState, measured: Reading | None, shown: Reading | None, item: Measured | Tick, now: Instant
) -> tuple[WatchState, Outcome]:
    feed = item.feed
    if measured is not None and measured.validity == "good":
        state = _with_trend(state, measured, now)
    book, changes, announcements = alarms.step(state.book, _observation(state, measured, item), now)
    stepped = msgspec.structs.replace(state, book=book, reading=shown, format=feed.format or state.format)
    stepped = msgspec.structs.replace(stepped, timeline=_timeline(stepped, measured, feed, now))
    return stepped, Outcome(changes=changes, announcements=announcements)


def _observation(state: WatchState, measured: Reading | None, item: Measured | Tick) -> Observation:
    feed = item.feed
    interval = 1.0 / feed.format.rate if feed.format and feed.format.rate else 0.0
    values: dict[str, float | None] = {**item.more}
    # A reason has the figure already; what is heard gets it as it is said, beside which way.
    said = {name: stops(value) for name in IN_STOPS if (value := values.get(name)) is not None and isfinite(value)}
    words = dict.fromkeys(said, "")
    # How long it will last is known only while it is measured: an old forecast is missing data.
    if isinstance(item, Measured) and item.reading.validity == "good" and item.reading.headroom_stops is not None:
        lasts = _soonest(state.minutes, item.nearing)
        values["headroom"] = None if lasts is None else lasts.minutes
        if lasts is not None and lasts.minutes < TOLD_MINUTES:
            said["headroom"] = clip_words(60.0 * lasts.minutes, lasts.clips)
    if feed.state in WITH_PICTURE:
        # A picture that is dark or frozen has an alarm of its own; the feed itself is there.
        values["dark"] = float(feed.state == "dark")
        values["frozen"] = float(feed.state == "frozen")
    words |= dict.fromkeys(("dark", "frozen", "reshaped"), feed.evidence)
    changed = state.format is not None and feed.format is not None and not state.format.same_codes(feed.format)
    if changed and state.format is not None and feed.format is not None:
        # By now the feed may speak of its new start only.
        words["reshaped"] = state.format.difference(feed.format)
    values["reshaped"] = float(changed)
    evidence = feed.trouble or feed.evidence
    return observed(
        measured,
        more=values,
        feed_lost=feed.trouble is not None and feed.state not in OWN_ALARM,
        feed_words=evidence,
        words=words,
        said=said,
        patience=max(PATIENCE_SECONDS, 3.0 * interval),
    )


def _soonest(minutes: float | None, nearing: Nearing | None) -> Nearing | None:
    """The trend of the last minutes or the drift of the last seconds, whichever reaches the clip sooner."""
    if minutes is None or (nearing is not None and nearing.minutes < minutes):
        return nearing
    return Nearing(minutes)


def _with_trend(state: WatchState, measured: Reading, now: Instant) -> WatchState:
    trend = noted(state.trend, measured.headroom_stops, now)
    minutes = minutes_left(trend) if trend.times != state.trend.times else state.minutes
    return msgspec.structs.replace(state, trend=trend, minutes=minutes)


def _timeline(state: WatchState, measured: Reading | None, feed: FeedStatus, now: Instant) -> Timeline:
    valid = measured if measured is not None and measured.validity == "good" else None
    active = any(entry.holds for entry in state.book.entries)
    return add(state.timeline, valid, feed.state, active, now)
