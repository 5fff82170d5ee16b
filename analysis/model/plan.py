"""What the planner says: ways to reach the aims, each with the picture it predicts and what it costs."""

from __future__ import annotations

import msgspec

from analysis.model.controls import Controls


class Predicted(msgspec.Struct, frozen=True, kw_only=True):
    """The picture that a setting would give; None where the reading does not tell.

    Levels are IRE, shares percent of the picture. ``clipped`` is what is known to be clipped. ``at_least`` says
    that light is hidden beyond the clip now, or in the noise of a dark picture, so that the sitter, and the clipped
    share, may be more than is told; never more than ``clipped_at_most`` for the share. ``headroom_stops`` is 0 where
    the brightest light is hidden: what is lost is never promised back, and neither is ``crushed``. ``sitter_at_least``
    says that the skin itself is clipped now. ``crushed`` is the most that is crushed, ``crushed_at_least`` the least:
    what is crushed now hides how dark it is.
    """

    sitter_level: float | None
    sitter_stops: float | None
    clipped: float
    clipped_at_most: float
    at_least: bool
    crushed: float
    headroom_stops: float | None
    shadow_snr_stops: float | None
    background_stops: float | None = None
    sitter_at_least: bool = False
    crushed_at_least: float = 0.0


class Costs(msgspec.Struct, frozen=True, kw_only=True):
    """What a way costs against what is set now; above zero is worse, but for depth of field: above zero is deeper.

    ``off_aim_stops`` is how far the sitter stays from the aim (above zero is over), ``clipped`` percent of the
    picture more that is clipped at most, ``noise_stops`` signal-to-noise in the shadows that is lost,
    ``depth_of_field_stops`` by how much the lens is closed, ``motion_stops`` by how much longer the shutter is open,
    ``below_native_stops`` by how much ISO lies below native, ``clip_lowered_stops`` by how much the level at which the
    signal clips comes down with it, ``lifted_stops`` by how much ISO lifts the noise with the
    picture, ``headroom_stops`` how much less light than now would clip, ``ratio_stops`` by how much the sitter is
    lifted out of the background. ``total`` is what the policy makes of it all.
    """

    off_aim_stops: float
    clipped: float
    noise_stops: float
    depth_of_field_stops: float
    motion_stops: float
    below_native_stops: float
    total: float
    lifted_stops: float = 0.0
    headroom_stops: float = 0.0
    ratio_stops: float = 0.0
    clip_lowered_stops: float = 0.0


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """One way: the controls as they would be, what to move in words in the order to do it, and why."""

    controls: Controls
    moves: tuple[str, ...]
    predicted: Predicted
    costs: Costs
    reason: str


class Now(msgspec.Struct, frozen=True, kw_only=True):
    """Where things are: what is set, where the sitter lies, and what is clipped."""

    controls: Controls
    sitter_level: float | None
    clipped: float


class Planned(msgspec.Struct, frozen=True, kw_only=True):
    """The answer of the planner: at most three different ways, the best first.

    ``policy`` is the one that was followed. ``missing`` says what is lacking where no way reaches the aim: the ways
    are then the nearest ones. ``cautions`` belong beside advice that raises a lamp or opens the lens outdoors.
    """

    now: Now
    policy: str
    plans: tuple[Plan, ...]
    missing: str | None = None
    cautions: tuple[str, ...] = ()
