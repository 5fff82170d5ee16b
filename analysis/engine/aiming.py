"""How far sitters and spots lie off the aims that the operator set."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.alarm.values import beyond_aim, spots_beyond_aim
from analysis.exposure.aims import aim_for, distance
from analysis.measure.examiner import known_curve
from analysis.model.reading import Reading
from analysis.model.sitter import Aim
from analysis.settings.aim_settings import Aims, aims_of


class AimDesk:
    """The aims of one watch, and what alarms may judge of them. Nothing is held to an aim that nobody set.

    >>> from analysis.settings.aim_settings import AimChoice
    >>> desk = AimDesk({"sitter": AimChoice(value=48.0)})
    >>> [aim.value for aim in desk.in_force("acescct") if aim.target == "sitter"]
    [48.0]
    """

    def __init__(self, aims: Aims | None = None) -> None:
        self._aims: Aims = dict(aims or {})
        self._made: tuple[str | None, tuple[Aim, ...]] | None = None

    def set(self, aims: Aims) -> None:
        """Other aims from now on."""
        self._aims, self._made = dict(aims), None

    def in_force(self, curve: str | None) -> tuple[Aim, ...]:
        """The aims in the curve of that name; worked out anew only when one of the two changed."""
        if self._made is None or self._made[0] != curve:
            self._made = (curve, aims_of(self._aims, known_curve(curve)))
        return self._made[1]

    def values(self, reading: Reading) -> Mapping[str, float]:
        """For alarms: stops by which the main sitter and the spots lie beyond aims somebody set."""
        if not self._aims or reading.validity != "good":
            return {}
        aims, curve = self.in_force(reading.encoding.curve), known_curve(reading.encoding.curve)

        def above(name: str, level: float | None, stops: float | None, clipped: float | None) -> float | None:
            aim = aim_for(name, aims)
            found = None if aim is None or level is None else distance(aim, level, curve, stops, clipped or 0.0)
            return found.stops if found is not None else None

        main = next((sitter for sitter in reading.sitters or () if sitter.main), None)
        skin = None if main is None else above(main.name, main.level, main.stops, main.clipped)
        spots = [above(name, spot.level, spot.stops, spot.clipped) for name, spot in (reading.spots or {}).items()]
        return {**beyond_aim(skin), **spots_beyond_aim(stops for stops in spots if stops is not None)}
