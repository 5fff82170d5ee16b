"""A face found by itself, a region the operator named, and where either should lie."""

from __future__ import annotations

from typing import Literal

import msgspec

SitterState = Literal["seen", "held", "too dark", "clipped"]
SpotKind = Literal["watch", "let go", "background"]
AimUnit = Literal["ire", "stops"]
Complexion = Literal["light", "medium", "dark"]


class SitterReading(msgspec.Struct, frozen=True, kw_only=True):
    """The skin of one sitter on one frame, from full-size pixels.

    ``box`` is ``(x, y, width, height)`` in picture pixels, ``confidence`` the detector's (0 to 1).
    ``level`` is the 70th percentile of luma in the face's ellipse, ``low`` and ``high`` its 10th and
    95th, in IRE; ``stops`` from middle grey; ``ratio_stops`` how much the left side (as seen) is
    brighter than the right, None when the head is turned or a side is clipped or too dark;
    ``clipped`` percent of the ellipse. Everything measured is None unless ``state`` is ``seen`` or ``held``.
    """

    name: str
    main: bool
    state: SitterState
    box: tuple[int, int, int, int]
    confidence: float
    level: float | None = None
    low: float | None = None
    high: float | None = None
    stops: float | None = None
    ratio_stops: float | None = None
    clipped: float | None = None


class Spot(msgspec.Struct, frozen=True, kw_only=True):
    """A named area of the picture, in fractions of the active picture, so that it scales with it.

    ``watch`` is read, ``let go`` may clip (a lamp, a window), ``background`` is the ground behind the sitter.
    """

    name: str
    kind: SpotKind
    x: float
    y: float
    width: float
    height: float


class SpotReading(msgspec.Struct, frozen=True, kw_only=True):
    """What a spot reads: mean ``level`` in IRE, ``stops`` from middle grey, ``clipped`` in percent of it.

    ``coloured`` is the percent of it that clips in a channel while its luma does not; ``share`` the percent of the
    active picture that it covers, without what spots of its kind named before it cover.
    """

    level: float
    stops: float | None
    clipped: float
    kind: SpotKind
    coloured: float = 0.0
    share: float = 0.0


class Aim(msgspec.Struct, frozen=True, kw_only=True):
    """Where a sitter (by name, or ``sitter`` for any) or a spot should lie: ``value`` plus or minus ``tolerance``.

    In IRE of the monitored encoding, or in stops from middle grey. ``bias_stops`` moves it for mood.
    """

    target: str
    value: float
    tolerance: float
    unit: AimUnit = "ire"
    bias_stops: float = 0.0
