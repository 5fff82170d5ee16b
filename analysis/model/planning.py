"""What a watch knows of the controls, and the newest plan made with them."""

from __future__ import annotations

import msgspec

from analysis.model.controls import ControlLimits, Controls
from analysis.model.instant import Instant
from analysis.model.plan import Planned


class Planning(msgspec.Struct, frozen=True, kw_only=True):
    """The controls as they are set now, and what the planner makes of the newest reading.

    ``camera`` and ``policy`` are names; a ``policy`` of None is suggested from the picture, and ``why`` says why that
    one. ``said`` is False until the operator has said what is set: nothing is told of controls nobody entered.
    ``planned`` is None while no plan is asked for or none can be made; then ``trouble`` says in one line why.
    ``at`` is when the reading was taken that the plan is of.
    """

    controls: Controls = Controls()
    limits: ControlLimits = ControlLimits()
    camera: str | None = None
    policy: str | None = None
    said: bool = False
    planned: Planned | None = None
    why: str = ""
    trouble: str | None = None
    at: Instant | None = None
