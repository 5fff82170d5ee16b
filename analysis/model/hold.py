"""A reading that is kept, and how the live picture differs from it."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.model.controls import Controls
from analysis.model.instant import Instant
from analysis.model.plan import Planned
from analysis.model.reading import Reading


class SmallPicture(msgspec.Struct, frozen=True, kw_only=True):
    """A picture of few pixels, for the eye only: rows of R, G, B, eight bits each, in ``rgb``."""

    width: int
    height: int
    rgb: bytes


class Hold(msgspec.Struct, frozen=True, kw_only=True):
    """A remembered reading that later ones are matched against.

    ``feed`` is the masked address it came from; ``controls`` what was set then, None where nobody had said.
    """

    name: str
    at: Instant
    feed: str
    reading: Reading
    picture: SmallPicture | None = None
    controls: Controls | None = None


BackgroundBy = Literal["spot", "surroundings", "rest"]
"""What a background was read from: spots of that kind, the picture around the sitters, or all but their faces."""


class HoldMark(msgspec.Struct, frozen=True, kw_only=True):
    """A hold in a list: its name, when it was kept, and the masked address it came from."""

    name: str
    at: Instant
    feed: str


class Apart(msgspec.Struct, frozen=True, kw_only=True):
    """How far one picture lies from another in one respect, in stops; above zero is brighter (or more ratio).

    ``at_least`` where one of the two is clipped or crushed there, so that the true distance may be more. ``live`` and
    ``hold`` are what each of the two reads: light in stops from middle grey, a ratio in stops.
    """

    stops: float
    at_least: bool = False
    live: float | None = None
    hold: float | None = None


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """The live picture against a hold, in stops; None for what either of the two did not measure.

    ``sitter`` is the main sitter's skin, ``background`` what lies behind, ``highlights`` the bright end of the
    picture, ``middle`` its median. ``ratio`` is how much more the sitter stands out from the background now,
    ``side_ratio`` how much more the left of the face stands out from its right. ``clipped`` and ``crushed`` are in
    points of percent of the picture. ``background_by`` says what ``background`` was read from, ``notes`` in a line
    each why something could not be told.
    """

    sitter: Apart | None = None
    background: Apart | None = None
    highlights: Apart | None = None
    middle: Apart | None = None
    ratio: Apart | None = None
    side_ratio: Apart | None = None
    clipped: float | None = None
    crushed: float | None = None
    background_by: BackgroundBy | None = None
    notes: tuple[str, ...] = ()


class Matching(msgspec.Struct, frozen=True, kw_only=True):
    """The holds of a watch, and the live picture against the one that was chosen.

    ``names`` are all holds, the newest first, and ``marks`` the same with their age and origin; ``hold`` is the
    chosen one, None while none is. ``moves`` says in plain words and stops what to move to match, whatever is known of
    the controls; ``planned`` says it in their own terms, None where it cannot be told; then ``trouble`` says in one
    line why. ``cautions`` belong beside either.
    """

    names: tuple[str, ...] = ()
    hold: Hold | None = None
    difference: Difference | None = None
    planned: Planned | None = None
    trouble: str | None = None
    marks: tuple[HoldMark, ...] = ()
    moves: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
