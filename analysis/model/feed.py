"""How a feed is doing, with the evidence for it."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.model.frame import FrameFormat
from analysis.model.instant import Instant

FeedState = Literal[
    "closed",
    "opening",
    "priming",
    "live",
    "late",
    "still",
    "frozen",
    "dark",
    "suspect",
    "reshaped",
    "lost",
    "waiting",
    "ended",
]
"""States of a feed. ``ended`` is a file or pipe that finished as it should."""

SourceKind = Literal["camera", "hdmi", "network", "file", "scene", "pipe"]


class FeedStatus(msgspec.Struct, frozen=True, kw_only=True):
    """The state of a feed now, since when, and the evidence in words.

    ``address`` never holds a password. ``age`` is the age in seconds of the newest frame,
    None before the first. ``skipped`` counts frames that arrived and were not measured,
    ``missing`` those that the source's own numbering shows were never delivered,
    ``discarded`` those of an old generation or refused as malformed. ``approximate`` is
    set where the codes are not the device's own. ``trouble`` says in words why the feed
    itself needs attention, None while it does not; ``trouble_since`` when that began. Both
    outlast the changes between lost, waiting and opening, so one outage is one trouble.
    """

    address: str
    kind: SourceKind
    state: FeedState
    evidence: str
    since: Instant
    generation: int
    format: FrameFormat | None = None
    age: float | None = None
    fps: float | None = None
    arrived: int = 0
    skipped: int = 0
    missing: int = 0
    discarded: int = 0
    attempts: int = 0
    approximate: bool = False
    trouble: str | None = None
    trouble_since: Instant | None = None


class FeedEvent(msgspec.Struct, frozen=True, kw_only=True):
    """One change of a feed's state."""

    before: FeedState
    after: FeedState
    evidence: str
    generation: int
    at: Instant
