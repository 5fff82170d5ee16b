"""What a watch remembers of turns: it is shown every map of light and tells what changed."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.exposure import turn
from analysis.exposure.lamp_effect import lamp_effect
from analysis.exposure.turn_compare import Look
from analysis.exposure.turn_drift import seconds_ahead
from analysis.model.instant import Instant
from analysis.model.light import COLUMNS, ROWS, LightMap, SeenSitter
from analysis.model.reading import Reading
from analysis.model.sitter import Spot
from analysis.model.turn import Turn

KEPT_TURNS = 50
BRIGHTEST = 4
"""Cells nearest to the clip that must lie in a spot for it to be named."""


class Heading(msgspec.Struct, frozen=True, kw_only=True):
    """Where a drift that goes on leads: how fast it was told to be, since when, and when the brightest clips.

    ``seconds_to_clip`` is None where that cannot be known now, and inf where the light does not go there. ``clips`` is
    the name of the spot that clips first, where the operator named one there.
    """

    stops_a_minute: float
    since: Instant
    seconds_to_clip: float | None = None
    clips: str | None = None


class TurnDesk:
    """Turns of one feed, from one thread.

    ``recent`` are the newest turns, oldest first. A map is wanted some ten times a second.
    """

    def __init__(self) -> None:
        self.recent: tuple[Turn, ...] = ()
        self._spots: tuple[Spot, ...] = ()
        self._state = turn.begin()

    def see(
        self, light: LightMap | None, reading: Reading, now: Instant, spots: tuple[Spot, ...] = ()
    ) -> tuple[Turn, ...]:
        """The turns that are complete with this map; ``reading`` is of the same frame, ``spots`` name what clips.

        Without a map (no curve is known, none was due) nothing happens.
        """
        if light is None:
            return ()
        before, self._spots = self._rest(), spots
        restless = reading.flicker.stops if reading.flicker is not None else 0.0
        self._state, turns = turn.step(self._state, light, seen_sitters(reading), now, restless)
        turns = tuple(self._with_effect(_named(each, light, spots), before) for each in turns)
        self.recent = (*self.recent, *turns)[-KEPT_TURNS:]
        return turns

    @property
    def heading(self) -> Heading | None:
        """Where the drift leads that goes on, by the newest map of light; None without one."""
        drift, looks = self._state.drift, self._state.looks
        if drift.told is None or drift.began is None or not looks:
            return None
        light = looks[-1].light
        return Heading(
            stops_a_minute=drift.told.stops_a_minute,
            since=drift.began.at,
            seconds_to_clip=seconds_ahead(drift, looks[-1], light.at),
            clips=_clips_first(light, self._spots),
        )

    def _with_effect(self, told: Turn, before: Look | None) -> Turn:
        """The turn with what the key adds, where one was switched."""
        after = self._rest()
        if before is None or after is None or told.kind not in {"sitter", "mixed"}:
            return told
        found = lamp_effect(before, after)
        return told if found is None else msgspec.structs.replace(told, effect=found)

    def forget(self) -> None:
        """A new life of the feed: nothing seen before can be compared. What was told stays."""
        self._state = turn.begin()

    def _rest(self) -> Look | None:
        """The light as it last stood still."""
        return self._state.stills[-1].look if self._state.stills else None


def seen_sitters(reading: Reading) -> tuple[SeenSitter, ...]:
    """The faces of a reading in fractions of its active picture.

    A face whose place is only held may be hidden by somebody: it does not count.
    """
    left, top, width, height = reading.picture.active
    if width <= 0 or height <= 0:
        return ()
    return tuple(
        SeenSitter(
            box=(
                (each.box[0] - left) / width,
                (each.box[1] - top) / height,
                each.box[2] / width,
                each.box[3] / height,
            ),
            main=each.main,
        )
        for each in reading.sitters or ()
        if each.state != "held"
    )


def _named(told: Turn, light: LightMap, spots: tuple[Spot, ...]) -> Turn:
    """The turn with the name of the spot that clips next."""
    drift = told.drift
    if drift is None or drift.seconds_to_clip is None:
        return told
    return msgspec.structs.replace(told, drift=msgspec.structs.replace(drift, clips=_clips_first(light, spots)))


def _clips_first(light: LightMap, spots: tuple[Spot, ...]) -> str | None:
    """The name of the spot in which most of the brightest cells lie that do not clip yet."""
    if not spots:
        return None
    room = np.where(light.trusted & ~light.clipped, light.room, np.inf).ravel()
    down, right = light.shift
    cells = [divmod(int(cell), COLUMNS) for cell in np.argsort(room)[:BRIGHTEST]]
    places = [(row + down, column + right) for row, column in cells]
    for spot in spots:
        inside = sum(
            spot.x <= (column + 0.5) / COLUMNS < spot.x + spot.width
            and spot.y <= (row + 0.5) / ROWS < spot.y + spot.height
            for row, column in places
        )
        if inside > BRIGHTEST // 2:
            return spot.name
    return None
