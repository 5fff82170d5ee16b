"""What to move: every setting the controls allow is tried, and the three best different ways are told.

Two ways are different when they move other controls, or move one of them the other way.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, log2

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.aims import aim_for, third_words, thirds
from analysis.exposure.key_power import key_light, key_powers
from analysis.exposure.plan_words import cautions, moves, reason, short
from analysis.exposure.policy import EVEN_LIGHT, NEAR_CLIP, OPEN_SKY, Policy, above_native, named, suggest
from analysis.exposure.predict import Forecast, Outlook
from analysis.exposure.series import aperture_name
from analysis.exposure.settings_grid import (
    MOST,
    Settings,
    allowed,
    iso_choices,
    joined,
    only_as_set,
    same_looks,
    thinned,
)
from analysis.exposure.targets import Target, background, main_sitter
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import UsageError
from analysis.model.plan import Costs, Now, Plan, Planned, Predicted
from analysis.model.reading import Reading
from analysis.model.sitter import Aim
from analysis.signal.curves import Curve

WAYS = 3
TOLERANCE = 1.0 / 3.0
"""Stops off the aim that a way may leave at most, however wide the aim is."""
SLACK = 0.05
"""Stops by which nominal steps miss exact thirds."""
MOST_WITH_KEY = 20_000
"""Settings beyond which key powers and distances are tried with aperture and shutter as they are, to stay quick."""
NEAR = 1.0 / 6.0
"""Stops off the aim within which staying is a way."""
GAIN = 0.1
"""Stops that count as a gain of one way over another."""
DEARER = 10.0
"""Points of the policy by which a way may cost more than the best one and still be told."""
TRIFLE = 0.25
"""Stops by which aperture or shutter must move to be worth touching a look."""
SAME = 0.02
"""Stops, and percent of the picture, that make no difference."""

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


def plan(
    reading: Reading,
    controls: Controls,
    policy: Policy,
    curve: Curve,
    aims: tuple[Aim, ...],
    *,
    limits: ControlLimits | None = None,
    camera: CameraProfile | None = None,
) -> Planned:
    """The best ways from a reading and what is set now to the aims.

    Raises UsageError in one line where the reading does not hold what a plan needs.
    """
    limits = limits or ControlLimits()
    sitter = main_sitter(reading)
    aim = aim_for(sitter.name, aims)
    if aim is None or sitter.level is None:
        raise UsageError(f"there is no aim for {sitter.name}", "plan", "give --aim, or [aims.sitter] in your settings")
    target = Target.of(aim, sitter.level, sitter.stops, curve)
    if target is None or reading.clipped is None:
        raise UsageError("the aim cannot be placed on this curve", "plan", "give an aim in IRE within the curve")
    behind = background(reading, aims, curve)
    outlook = Outlook(
        reading,
        controls,
        curve,
        camera=camera,
        sitter=sitter,
        background=None if behind is None else behind[0],
        limits=limits,
    )
    tried = _Tried(outlook, limits, camera, policy, target, None if behind is None else behind[1])
    chosen = tried.best()
    missing = None if chosen else tried.missing()
    sky = policy.name != EVEN_LIGHT and suggest(reading, curve, clips_at=outlook.clips_at).policy == OPEN_SKY
    plans = tuple(tried.told(place, missing) for place in chosen or tried.nearest())
    return Planned(
        now=Now(controls=controls, sitter_level=sitter.level, clipped=reading.clipped.any),
        policy=policy.name,
        plans=plans,
        missing=missing,
        cautions=cautions(controls, [each.controls for each in plans], policy, missing, sky=sky),
    )


class _Tried:
    """All settings with what they would give, what they cost, and which of them are allowed."""

    def __init__(
        self,
        outlook: Outlook,
        limits: ControlLimits,
        camera: CameraProfile | None,
        policy: Policy,
        target: Target,
        behind: Target | None,
    ) -> None:
        self._now, self._limits, self._camera, self._policy = outlook.controls, limits, camera, policy
        self._target, self._behind, self._outlook = target, behind, outlook
        self._fixed_key = not (policy.key_moves and limits.free("key") and self._now.key_percent is not None)
        base = allowed(self._now, limits, camera, MOST if self._fixed_key else MOST_WITH_KEY)
        if policy.background_first and behind is None and not self._fixed_key:
            base = only_as_set(base, self._now)
        keyed = base
        if not self._fixed_key and base.count * (2 + len(limits.key_distances)) > MOST_WITH_KEY:
            keyed = same_looks(base, self._now)  # a key is moved with ND and ISO, not with a look as well
        powers, distances = self._keys(keyed)
        still, away = (np.nan if each is None else each for each in (self._now.key_percent, self._now.key_distance))
        self.settings = joined(base, keyed, powers.shape[0])
        self.power = np.concatenate([np.full(base.count, still), powers.ravel()])
        self.distance = np.concatenate([np.full(base.count, away), distances.ravel()])
        self._factor = self._key_factor(self.power, self.distance)
        self.found: Forecast = outlook.over(self.settings, self._factor)
        self.off = target.off + self._moved()
        self.above = self._above_native()
        self._bright = _may_be_lost(outlook.reading, policy)
        self._signs = self._directions()
        self._cost = self._costs()
        self._may = self._allowed()

    def _keys(self, base: Settings) -> tuple[Floats, Floats]:
        """Key powers and distances to go with each setting, shape (choices, settings), none where the key stays.

        For every distance the power that would bring the sitter to the aim, as near as the dial allows.
        """
        now, limits = self._now, self._limits
        if self._fixed_key or now.key_percent is None:
            return np.empty((0, base.count)), np.empty((0, base.count))
        camera = self._outlook.camera_stops(base)
        wanted = 2.0 ** (-self._target.off - camera)  # factor on all light of the skin
        factor = np.maximum((wanted - 1.0 + now.key_share) / max(now.key_share, 1e-6), 1e-4)
        powers, distances = [], []
        for distance in self._distances(base.count):
            by_distance = 1.0 if distance is None or now.key_distance is None else (now.key_distance / distance) ** 2
            need = np.log2(factor / by_distance)
            ideal = key_powers(now.key_percent, need, limits.dimmer or None)
            stepped = np.round(ideal / limits.key_step) * limits.key_step
            powers.append(np.clip(stepped, *limits.key_range)[None])
            distances.append(np.full((1, base.count), np.nan if distance is None else distance))
        return np.concatenate(powers), np.concatenate(distances)

    def _distances(self, settings: int) -> tuple[float | None, ...]:
        """Distances that are tried with so many settings, not more than stay quick."""
        own = self._now.key_distance
        return thinned(self._limits.key_distances, max(2, MOST_WITH_KEY // max(1, settings)), own) or (own,)

    def _key_factor(self, power: Floats, distance: Floats) -> Floats:
        now, dimmer = self._now, self._limits.dimmer or None
        factor = np.ones(power.size)
        if now.key_percent is not None:
            every, back = np.unique(power, return_inverse=True)
            light = np.array([key_light(float(each), dimmer) for each in every])
            factor *= (light / max(key_light(now.key_percent, dimmer), 1e-6))[back]
        if now.key_distance is not None:
            factor *= (now.key_distance / distance) ** 2
        return factor

    def _moved(self) -> Floats:
        sitter = self._outlook.sitter
        assert sitter is not None and sitter.stops is not None
        share = self._now.key_share
        keyed = np.log2(np.maximum(1.0 - share + share * self._factor, 1e-6))
        return np.asarray(self.found.camera_stops + keyed)

    def _above_native(self) -> Floats:
        natives = tuple(each.iso for each in self._camera.natives) if self._camera is not None else ()
        every, back = np.unique(self.settings.iso, return_inverse=True)
        return np.array([above_native(float(each), natives or (self._now.iso,)) for each in every])[back]

    def _costs(self) -> Floats:
        weights, found, now = self._policy.weights, self.found, self._now
        up, down = np.maximum(self.above, 0.0) * 3.0, np.maximum(-self.above, 0.0) * 3.0
        down_cost = weights.iso_down * (down**2 if weights.iso_down > 0.0 else down)
        key = np.abs(np.log2(np.maximum(self._factor, 1e-6)))
        # What hides beyond the clip is at risk, the less so the further a way takes it down.
        risk = found.clipped + (found.clipped_at_most - found.clipped) * 0.5**found.hidden_by
        total = weights.aim * (3.0 * self.off) ** 2 + weights.iso_up * up**3 + down_cost
        total += weights.nd * np.abs(self.settings.nd - now.nd_stops) + weights.key * key
        total += weights.lens * np.abs(found.closed) + weights.shutter * np.abs(found.longer)
        total += weights.noise * np.maximum(np.nan_to_num(found.snr_lost), 0.0) + weights.highlights * risk
        total += weights.move * np.abs(self._signs).sum(axis=0)
        if self._behind is not None:
            total += weights.background * (3.0 * (self._behind.off + found.camera_stops)) ** 2
        return np.asarray(total)

    def _allowed(self) -> Flags:
        """What breaks no hard limit; whether it reaches the aim is another matter."""
        policy, found = self._policy, self.found
        reading = self._outlook.reading
        assert reading.clipped is not None
        risky = (found.clipped_at_most > SAME) & (found.clipped > 0.0)
        risky |= found.clipped_at_most >= policy.most_clipped
        risky |= np.nan_to_num(found.headroom, nan=inf) < policy.least_headroom
        least = np.where(risky, -policy.iso_below_at_risk, -policy.iso_below_native)
        may = (self.above >= np.minimum(least, 0.0) - SLACK) | (self.settings.iso == self._now.iso)
        may &= found.clipped <= max(policy.most_clipped, reading.clipped.any + SAME)
        for look in (np.abs(found.closed), np.abs(found.longer)):
            may &= (look < 1e-6) | (look >= TRIFLE)
        return np.asarray(may & ~found.skin_clipped)

    def _directions(self) -> npt.NDArray[np.int8]:
        """Which way each control is moved: shape (6, settings)."""
        now, one = self._now, self.settings
        power = np.zeros(one.count) if now.key_percent is None else self.power - now.key_percent
        place = np.zeros(one.count) if now.key_distance is None else self.distance - now.key_distance
        each = (one.nd - now.nd_stops, one.iso - now.iso, self.found.closed, self.found.longer, power, place)
        return np.array([np.sign(np.where(np.abs(part) < 1e-6, 0.0, part)) for part in each], np.int8)

    def best(self) -> list[int]:
        """Places of the best different ways that reach the aim, the best first."""
        near = np.abs(self.off) <= min(self._target.tolerance, TOLERANCE) + SLACK
        stays = ~self._signs.any(axis=0)
        wide = self._target.tolerance > 0.5 and abs(self._target.off) <= self._target.tolerance
        near = np.where(stays, (np.abs(self.off) <= NEAR) | wide, near)
        if self._behind is not None and self._policy.background_first:
            reach = self._behind.tolerance
            near &= self._off_behind() <= np.where(stays, max(reach, TOLERANCE), min(reach, TOLERANCE)) + SLACK
        return self._different(near & self._may)

    def _off_behind(self) -> Floats:
        """Stops by which the background stays off its aim, without a sign; 0 where it has none."""
        return np.zeros(self.off.size) if self._behind is None else np.abs(self._behind.off + self.found.camera_stops)

    def nearest(self) -> list[int]:
        """The allowed way that comes nearest to the aim, where none reaches it."""
        if not self._may.any():
            return []
        off = np.hypot(self.off, self._off_behind()) if self._policy.background_first else np.abs(self.off)
        far = np.where(self._may, np.round(off, 2), inf)
        return self._different(far <= far.min() + SAME)[:1]

    def _different(self, wanted: Flags) -> list[int]:
        places = np.flatnonzero(wanted)
        places = places[np.argsort(self._cost[places], kind="stable")]
        kept: list[int] = []
        seen: set[bytes] = set()
        for place in places:
            way = self._signs[:, place].tobytes()
            if kept and self._cost[place] > self._cost[kept[0]] + DEARER:
                break
            if way not in seen and all(self._offers(int(place), other) for other in kept):
                seen.add(way)
                kept.append(int(place))
            if len(kept) == WAYS:
                break
        return kept

    def _offers(self, place: int, other: int) -> bool:
        """Whether a way is better in something than one that is told already."""
        found = self.found
        gains = (
            abs(self.off[other]) - abs(self.off[place]) - NEAR,
            found.clips_at[place] - found.clips_at[other] - GAIN,
            found.snr_lost[other] - found.snr_lost[place] - GAIN,
            abs(found.closed[other]) - abs(found.closed[place]) - GAIN,
            abs(found.longer[other]) - abs(found.longer[place]) - GAIN,
        )
        return bool(max(gains) > 0.0)

    def missing(self) -> str:
        """What is lacking where no way reaches the aim."""
        near = self.nearest()
        if not near:
            return f"no setting keeps the clipped share within {self._policy.most_clipped:g} %: less light, or more ND"
        place = near[0]
        off = float(self.off[place])
        ends = iso_choices(self._now, self._limits, self._camera)
        free = {"nd": self._limits.free("nd"), "iso": self._limits.free("iso"), "key": not self._fixed_key}
        behind = 0.0 if self._behind is None else self._behind.off + float(self.found.camera_stops[place])
        far = third_words(thirds(behind))
        if abs(off) <= min(self._target.tolerance, TOLERANCE) + SLACK and self._behind is not None:
            if behind > 0:
                return f"the background stays {far} over: light it less, or the sitter more"
            return f"the background stays {far} under: light it more, or the sitter less"
        told = short(off, self.controls(place), ends, free, self._clip_forbids(place), self._beyond(off))
        told = f"at least {told}" if off > 0.0 and self.found.skin_hidden else told
        if self._policy.background_first and thirds(behind):
            told += f"; the background stays {far} {'over' if behind > 0 else 'under'}"
        elif self._policy.background_first and self._behind is None and free["key"]:
            told += "; a background spot with an aim would let ND and ISO move"
        return told

    def _beyond(self, off: float) -> float | None:
        """How far off the nearest allowed way stays that errs to the other side; None where there is none."""
        other = self.off[self._may & (np.sign(self.off) == -np.sign(off))]
        return None if self._policy.background_first or not other.size else float(other[np.abs(other).argmin()])

    def _clip_forbids(self, place: int) -> bool:
        """Whether a way that comes nearer to the aim is refused because highlights would clip."""
        nearer = np.abs(self.off) < abs(float(self.off[place])) - GAIN
        assert self._outlook.reading.clipped is not None
        clips = self.found.clipped > max(self._policy.most_clipped, self._outlook.reading.clipped.any + SAME)
        return bool((nearer & clips).any()) or bool(self.found.clipped[place] > SAME)

    def controls(self, place: int) -> Controls:
        """The controls of a place, by their nominal numbers."""
        now, one = self._now, self.settings
        lens = now.t_stop
        if lens is not None and abs(float(self.found.closed[place])) > 1e-6:
            lens = float(aperture_name(float(one.t_stop[place])))
        return msgspec.structs.replace(
            now,
            nd_stops=_plain(one.nd[place], now.nd_stops),
            iso=float(one.iso[place]),
            t_stop=lens,
            shutter_angle=float(one.angle[place]),
            key_percent=None if now.key_percent is None else _plain(self.power[place], now.key_percent),
            key_distance=None if now.key_distance is None else _plain(self.distance[place], now.key_distance),
        )

    def told(self, place: int, missing: str | None) -> Plan:
        """The plan of a place."""
        found, to = self.found, self.controls(place)
        reading = self._outlook.reading
        assert reading.clipped is not None
        numbers: Mapping[str, float | None] = {
            name: _number(getattr(found, name)[place])
            for name in ("sitter_level", "sitter_stops", "headroom", "snr_stops", "background_stops")
        }
        predicted = Predicted(
            sitter_level=numbers["sitter_level"],
            sitter_stops=numbers["sitter_stops"],
            clipped=float(found.clipped[place]),
            clipped_at_most=float(found.clipped_at_most[place]),
            at_least=bool(found.at_least[place]),
            crushed=float(found.crushed[place]),
            headroom_stops=numbers["headroom"],
            shadow_snr_stops=numbers["snr_stops"],
            background_stops=numbers["background_stops"],
            sitter_at_least=found.skin_hidden,
            crushed_at_least=float(found.crushed_at_least[place]),
        )
        costs = Costs(
            off_aim_stops=float(self.off[place]),
            clipped=float(found.clipped_at_most[place]) - reading.clipped.any,
            noise_stops=_number(found.snr_lost[place]) or 0.0,
            depth_of_field_stops=float(found.closed[place]),
            motion_stops=float(found.longer[place]),
            below_native_stops=max(0.0, -float(self.above[place])),
            total=float(self._cost[place]),
            lifted_stops=max(0.0, log2(to.iso / self._now.iso)),
            headroom_stops=self._outlook.clips_at - float(found.clips_at[place]),
            ratio_stops=float(self.off[place]) - self._target.off - float(found.camera_stops[place]),
            clip_lowered_stops=max(
                0.0, self._outlook.clips_at - float(found.clips_at[place] + found.camera_stops[place])
            ),
        )
        keeps = self._bright and bool(found.clips_at[place] > self._outlook.clips_at + GAIN)
        why = missing or reason(self._now, to, predicted, costs, self._policy, keeps, named(self._outlook.sitter))
        return Plan(
            controls=to,
            moves=moves(self._now, to, self._policy, self._limits.dimmer),
            predicted=predicted,
            costs=costs,
            reason=why,
        )


def _may_be_lost(reading: Reading, policy: Policy) -> bool:
    """Whether there are highlights to keep: clipped ones or such near the clip, or a policy that is about them."""
    clipped, left = reading.clipped, reading.headroom_stops
    near = left is not None and left < NEAR_CLIP
    return policy.name == OPEN_SKY or near or (clipped is not None and clipped.any > SAME)


def _plain(value: float, now: float) -> float:
    """A setting without the tail of its arithmetic; exactly what it is now where it stays."""
    return now if abs(value - now) < 1e-6 else round(float(value), 4)


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
