"""What a meter measures and how finely."""

from __future__ import annotations

import msgspec

from analysis.model.errors import SettingsError
from analysis.model.reading import ClipSource


class MeterSettings(msgspec.Struct, frozen=True, kw_only=True):
    """Settings of a meter.

    ``columns`` and ``rgb_columns`` are the strips of the luma and the R'G'B' trace (1 to 256; a
    narrow picture has fewer). ``small_width`` and ``small_height`` bound the small picture.
    ``clip_percent`` is the level in IRE at or above which a pixel counts as clipped, None for
    100 IRE (the top code in full range); ``crush_percent`` the level at or below which it counts as
    crushed, None for 0 IRE. ``clip_by`` says whose clip level that is, None for the
    operator's. ``active_picture`` leaves black bars out, ``view`` makes what a screen
    draws, ``rgb`` the R'G'B' trace in it.
    """

    columns: int = 160
    rgb_columns: int = 64
    small_width: int = 160
    small_height: int = 90
    clip_percent: float | None = None
    clip_by: ClipSource | None = None
    crush_percent: float | None = None
    active_picture: bool = True
    view: bool = True
    rgb: bool = True

    def __post_init__(self) -> None:
        for name in ("columns", "rgb_columns"):
            if not 1 <= getattr(self, name) <= 256:
                raise SettingsError(f"{name} must lie between 1 and 256, not {getattr(self, name)}")
        for name in ("small_width", "small_height"):
            if not 1 <= getattr(self, name) <= 1024:
                raise SettingsError(f"{name} must lie between 1 and 1024, not {getattr(self, name)}")
        for name in ("clip_percent", "crush_percent"):
            level = getattr(self, name)
            if level is not None and not -10.0 <= level <= 110.0:
                raise SettingsError(f"{name} must lie between -10 and 110 IRE, not {level}")
