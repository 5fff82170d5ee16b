"""What a watch remembers of turns: it is shown every map of light and tells what changed."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.exposure import turn
from analysis.exposure.lamp_effect import lamp_effect
from analysis.exposure.turn_compare import Look
from analysis.model.instant import Instant
from analysis.model.light import COLUMNS, ROWS, LightMap, SeenSitter
from analysis.model.reading import Reading
from analysis.model.sitter import Spot
from analysis.model.turn import Turn

KEPT_TURNS = 50
BRIGHTEST = 4
"""Cells nearest to the clip that must lie in a spot for it to be named."""


class TurnDesk:
    """Turns of one feed, from one thread.

    ``recent`` are the newest turns, oldest first. A map is wanted some ten times a second.
    """

    def __init__(self) -> None:
        self.recent: tuple[Turn, ...] = ()
        self._state = turn.begin()

    def see(
        self, light: LightMap | None, reading: Reading, now: Instant, spots: tuple[Spot, ...] = ()
    ) -> tuple[Turn, ...]:
        """The turns that are complete with this map; ``reading`` is of the same frame, ``spots`` name what clips.

        Without a map (no curve is known, none was due) nothing happens.
        """
        if light is None:
            return ()
        before = self._rest()
        restless = reading.flicker.stops if reading.flicker is not None else 0.0
        self._state, turns = turn.step(self._state, light, seen_sitters(reading), now, restless)
        turns = tuple(self._with_effect(_named(each, light, spots), before) for each in turns)
        self.recent = (*self.recent, *turns)[-KEPT_TURNS:]
        return turns

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
    """The turn with the name of the spot that clips next, where most of the brightest cells lie in one."""
    drift = told.drift
    if drift is None or drift.seconds_to_clip is None or not spots:
        return told
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
            return msgspec.structs.replace(told, drift=msgspec.structs.replace(drift, clips=spot.name))
    return told
