"""What a watch knows of the controls, and the newest plan made with them."""

from __future__ import annotations

import msgspec

from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.instant import Instant
from analysis.model.plan import Planned


class Planning(msgspec.Struct, frozen=True, kw_only=True):
    """The controls as they are set now, and what the planner makes of the newest reading.

    ``camera`` and ``policy`` are names; a ``policy`` of None is suggested from the picture: ``suggested`` is the one
    that the picture calls for, and ``why`` says why. ``said`` is False until the operator has said what is set: nothing
    is told of controls nobody entered, and ways are then told as steps from wherever things are.
    ``planned`` is None while no plan is asked for or none can be made; then ``trouble`` says in one line why.
    ``at`` is when the reading was taken that the plan is of.

    ``profile`` is the camera's, ``policies`` are the names to choose from, ``title`` is the policy that is followed
    in words. ``target`` is what the operator chose to plan for (None: the main sitter, else a spot with an aim),
    ``targets`` what may be chosen, and ``subject`` what the newest plan is for. ``headroom_stops`` is that of the
    picture as it is, by the plan's own reckoning: a camera profile may know of an end that the reading does not.
    ``sensor_end`` is the level in IRE of that end where headroom is counted to it, at the ISO that was told.
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
    profile: CameraProfile | None = None
    policies: tuple[str, ...] = ()
    suggested: str | None = None
    title: str = ""
    target: str | None = None
    targets: tuple[str, ...] = ()
    subject: str | None = None
    headroom_stops: float | None = None
    sensor_end: float | None = None
