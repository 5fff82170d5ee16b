"""What a watch keeps beside measuring and alarms: one desk for each concern, all used in the watch's own thread."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.engine.aiming import AimDesk
from analysis.engine.lining_up import LineupDesk
from analysis.lookout.desk import SitterDesk


@dataclass
class Desks:
    """The desks of one watch; ``sitters`` is None where faces are not looked for."""

    sitters: SitterDesk | None = None
    aims: AimDesk = field(default_factory=AimDesk)
    lineup: LineupDesk = field(default_factory=LineupDesk)
