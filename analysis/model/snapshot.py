"""What a screen sees when it looks: one frozen value, made anew, never a queue."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.model.alarm import AlarmStatus, Announcement
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.hold import Matching
from analysis.model.instant import Instant
from analysis.model.planning import Planning
from analysis.model.reading import Reading, View
from analysis.model.sitter import Aim, Spot
from analysis.model.turn import Turn

Outlet = Literal["speakers", "bell", "off"]


class TimelinePoint(msgspec.Struct, frozen=True, kw_only=True):
    """One second of the past: levels in IRE, shares in percent, None where nothing valid was measured.

    ``low`` / ``middle`` / ``high`` are the 1st, 50th and 99th percentile of luma, the lowest
    low and the highest high of the second; ``clipped`` and ``crushed`` the worst share of it.
    """

    second: int
    low: float | None
    middle: float | None
    high: float | None
    clipped: float | None
    crushed: float | None
    feed: FeedState
    alarm: bool


class OutletStatus(msgspec.Struct, frozen=True, kw_only=True):
    """Where alarms are heard. ``reason`` says why there; ``muted_seconds`` is what is left of a mute."""

    outlet: Outlet
    reason: str
    muted_seconds: float = 0.0
    device: str | None = None


class Snapshot(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The watch at one moment.

    ``reading`` and ``view`` are None whenever the feed has no picture to vouch for (lost,
    frozen, opening): an old picture never passes for a new one. ``bells`` counts the
    terminal bells asked for since the start; a terminal rings when it sees the count grow.
    ``spots`` and ``aims`` are those now set; ``lineup`` is the newest line-up result
    (:class:`analysis.measure.lineup.result.Lineup`) while a line-up was asked for, else None.
    ``note`` is one line about something that is not available, such as the search for faces. ``planning`` and
    ``matching`` are the controls with the newest plan, and the holds with the newest difference. ``refusal`` says
    why the last command was not carried out, or what it found, for a few seconds. ``announced`` are the newest
    announcements, oldest first, and ``announcements`` counts all since the start, so that a terminal can tell which
    it has not passed on. ``turns`` are the newest changes of exposure, oldest first.
    """

    at: Instant
    feed: FeedStatus
    reading: Reading | None
    view: View | None
    alarms: tuple[AlarmStatus, ...]
    timeline: tuple[TimelinePoint, ...]
    outlet: OutletStatus
    bells: int = 0
    fault: str | None = None
    spots: tuple[Spot, ...] = ()
    aims: tuple[Aim, ...] = ()
    lineup: object | None = None
    note: str | None = None
    planning: Planning | None = None
    matching: Matching | None = None
    refusal: str | None = None
    announced: tuple[Announcement, ...] = ()
    announcements: int = 0
    turns: tuple[Turn, ...] = ()
