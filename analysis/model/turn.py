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


class LampEffect(msgspec.Struct, frozen=True, kw_only=True):
    """What a key light adds, in stops, seen by switching it.

    ``sitter_stops`` to the face as a whole, ``lit_stops`` to the side that it adds more to and ``shadow_stops`` to
    the other, ``background_stops`` to the middle of the ground. ``key_share`` is the part (0 to 1) of the light on
    the lit side that is the key's. ``ratio_stops`` is how much brighter one side of the face is than the other
    with the key on, and ``ratio`` the same as key plus fill to fill, ``k`` to 1. None where a side is not known;
    ``at_least`` where clipping hides part of what the key adds.
    """

    sitter_stops: float
    background_stops: float | None
    key_share: float
    lit_stops: float | None = None
    shadow_stops: float | None = None
    ratio_stops: float | None = None
    at_least: bool = False

    @property
    def ratio(self) -> float | None:
        """The ratio of the two sides, key plus fill to fill.

        >>> LampEffect(sitter_stops=1.0, background_stops=0.0, key_share=0.5, ratio_stops=2.0).ratio
        4.0
        """
        return None if self.ratio_stops is None else ratio_of(self.ratio_stops)


def ratio_of(stops: float) -> float:
    """A ratio of light from its stops; 3:1 is 1.585 stops.

    >>> [round(ratio_of(stops), 2) for stops in (0.0, 1.0, 1.585, 2.0, 3.0)]
    [1.0, 2.0, 3.0, 4.0, 8.0]
    """
    return float(2.0**stops)


class Turn(msgspec.Struct, frozen=True, kw_only=True):
    """What changed, by how many stops (above zero is brighter), and how long it took.

    ``whole`` is the whole picture by one amount (ND, ISO, aperture, shutter), ``sitter`` and ``background`` one of
    the two alone, ``mixed`` both by different amounts (``stops`` is the sitter's), ``part`` a region of a picture
    without a sitter, ``drift`` a slow change (``stops`` so far), ``cut`` another shot (``stops`` is how much
    brighter it is in the middle). ``at_least`` says that clipping or crushing hides more, ``about`` that the picture
    leaves more than a tenth of a stop of doubt. ``sitter_stops`` and ``background_stops`` are None where not known.
    ``share`` is the part of the picture, 0 to 1, in which the change was seen. ``effect`` is what a key light adds that
    was switched, where the turn shows one.
    """

    kind: TurnKind
    at: Instant
    stops: float
    seconds: float
    share: float
    at_least: bool = False
    about: bool = False
    sitter_stops: float | None = None
    background_stops: float | None = None
    drift: DriftRate | None = None
    effect: LampEffect | None = None

    @property
    def stands_at(self) -> Instant:
        """Where it stands in a record: a drift at the moment up to which it is told, all others where they began.

        >>> rate = DriftRate(of="whole", stage="ended", stops_a_minute=0.0)
        >>> over = Turn(kind="drift", at=Instant(5.0, 105.0), stops=-0.9, seconds=130.0, share=1.0, drift=rate)
        >>> over.stands_at
        Instant(monotonic=135.0, utc=235.0)
        """
        if self.kind != "drift":
            return self.at
        return Instant(self.at.monotonic + self.seconds, self.at.utc + self.seconds)
