"""A turn: a change of exposure that was recognised in the picture itself."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.model.instant import Instant

TurnKind = Literal["whole", "sitter", "background", "mixed", "part", "drift", "cut"]
DriftStage = Literal["begun", "changed", "ended"]
DriftOf = Literal["whole", "sitter", "background"]


class DriftRate(msgspec.Struct, frozen=True, kw_only=True):
    """A slow one-way change: of what, how fast in stops a minute, and when the brightest of it clips.

    ``seconds_to_clip`` is None where the light falls, or where nothing comes near the clip within ten minutes at this
    rate. ``clips`` is the name of the spot that clips, where the operator named one there.
    """

    of: DriftOf
    stage: DriftStage
    stops_a_minute: float
    seconds_to_clip: float | None = None
    clips: str | None = None


class Turn(msgspec.Struct, frozen=True, kw_only=True):
    """What changed, by how many stops (above zero is brighter), and how long it took.

    ``whole`` is the whole picture by one amount (ND, ISO, aperture, shutter), ``sitter`` and ``background`` one of
    the two alone, ``mixed`` both by different amounts (``stops`` is the sitter's), ``part`` a region of a picture
    without a sitter, ``drift`` a slow change (``stops`` so far), ``cut`` another shot (``stops`` is how much
    brighter it is in the middle). ``at_least`` says that clipping or crushing hides more. ``sitter_stops`` and
    ``background_stops`` are None where not known. ``share`` is the part of the picture, 0 to 1, in which the change
    was seen: how sure it is.
    """

    kind: TurnKind
    at: Instant
    stops: float
    seconds: float
    share: float
    at_least: bool = False
    sitter_stops: float | None = None
    background_stops: float | None = None
    drift: DriftRate | None = None
