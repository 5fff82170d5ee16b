"""What can happen to a feed: the inputs of its state machine."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from analysis.model.frame import FrameFormat


class Opening(msgspec.Struct, frozen=True, kw_only=True):
    """An attempt to open the source begins, as the given generation."""

    generation: int


class Arrived(msgspec.Struct, frozen=True, kw_only=True):
    """A sound frame arrived: what it looks like to the machine.

    ``fingerprint`` is equal for identical pictures, ``dark_share`` (0 to 1) the share of dark
    pixels, ``slate`` the name of a learnt no-signal picture that it equals.
    """

    format: FrameFormat
    fingerprint: int
    dark_share: float = 0.0
    source_sequence: int | None = None
    source_seconds: float | None = None
    slate: str | None = None


class Damaged(msgspec.Struct, frozen=True, kw_only=True):
    """A frame arrived that must not be measured."""

    reason: str


class Unconnected(msgspec.Struct, frozen=True, kw_only=True):
    """The device itself says that no valid signal reaches it."""

    reason: str


class Failed(msgspec.Struct, frozen=True, kw_only=True):
    """The source failed and was let go."""

    reason: str


class Waiting(msgspec.Struct, frozen=True, kw_only=True):
    """Nothing is open; the next attempt comes after ``seconds``."""

    reason: str
    seconds: float


class Ended(msgspec.Struct, frozen=True, kw_only=True):
    """A file or pipe finished as it should."""


class Stopped(msgspec.Struct, frozen=True, kw_only=True):
    """The operator closed the feed."""


class Tick(msgspec.Struct, frozen=True, kw_only=True):
    """Time passed and nothing else happened."""


Evidence: TypeAlias = Opening | Arrived | Damaged | Unconnected | Failed | Waiting | Ended | Stopped | Tick
