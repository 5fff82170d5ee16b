"""What a watch plans: holds the controls that the operator told of, and plans while it is asked to.

Plans are made at most twice a second, from the newest reading, and at once when what is set has changed. What
cannot be planned says why in one line.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
import numpy as np

from analysis.exposure.control_words import relative_missing
from analysis.exposure.plan import plan
from analysis.exposure.policy import Policy, Suggestion, suggest
from analysis.exposure.predict import Outlook
from analysis.exposure.sensor_end import sensor_end
from analysis.exposure.series import exact_aperture
from analysis.exposure.settings_grid import Settings, nd_choices
from analysis.exposure.subject import MIDDLE, choices, subject_of
from analysis.measure.examiner import known_curve
from analysis.measure.spot_edit import printable
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import StopkeeperError, UsageError
from analysis.model.instant import Instant
from analysis.model.plan import Planned
from analysis.model.planning import Planning
from analysis.model.reading import Measurement, Reading
from analysis.model.sitter import Aim, Spot
from analysis.settings.control_files import ControlFile
from analysis.signal.curves import Curve

EVERY = 0.5
"""Seconds between two plans of an unchanged setting."""
CONVINCED = 2.0
"""Seconds that a picture has to call for another policy before it is suggested instead."""
STALE = 2.0
"""Seconds after which what was planned from the last good picture holds no longer."""
NO_PICTURE = "there is no picture to plan from"
DOUBTED = "the picture is dark or damaged: there is nothing to plan from"
CLEARLY = 0.2
"""Points by which one way has to be better before it changes places with another."""


class Seen(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What a plan is made from; ``rate`` is the feed's, None where it tells none."""

    reading: Reading
    curve: Curve | None
    aims: tuple[Aim, ...]
    spots: tuple[Spot, ...]
    rate: float | None
    at: Instant


class PlanDesk:
    """The controls, limits and policy of one watch, and the newest plan. For one thread; the time comes from outside.

    >>> desk = PlanDesk(policies={})
    >>> desk.set_controls(Controls(nd_stops=6.0))
    >>> desk.planning.said, desk.planning.controls.nd_stops, desk.planning.planned
    (True, 6.0, None)
    """

    def __init__(
        self,
        file: ControlFile | None = None,
        *,
        policies: Mapping[str, Policy],
        camera: CameraProfile | None = None,
    ) -> None:
        """``file`` is what the operator wrote or last told, None where nothing.

        ``policies`` are all there are, by name; that of ``file`` must be among them. Raises UsageError.
        """
        self._policies, self._camera = dict(policies), camera
        self._file = file or ControlFile()
        self._said = file is not None
        self._asked = False
        self._target: str | None = None
        self._seen: Seen | None = None
        self._doubt: tuple[str, Instant] | None = None
        self._end: float | None = None
        self._check(self._file.policy)
        self._planning = self._told(Planning())

    @property
    def planning(self) -> Planning:
        """What a screen may know."""
        return self._planning

    @property
    def asked(self) -> bool:
        """Whether plans are made: then readings should bring their peaks."""
        return self._asked

    @property
    def file(self) -> ControlFile:
        """What is set, as it is kept in a file."""
        return self._file

    @property
    def controls(self) -> Controls | None:
        """What is set, None where nobody told."""
        return self._planning.controls if self._said else None

    def ask(self, on: bool) -> None:
        """Begin or end planning."""
        self._asked, self._seen = on, None
        self._planning = self._told(Planning(suggested=self._planning.suggested, why=self._planning.why))

    def set_controls(self, controls: Controls, limits: ControlLimits | None = None) -> None:
        """What is set from now on, and what may move (None: as before)."""
        limits = self._file.limits if limits is None else limits
        if self._seen is not None and controls.rate == self._seen.rate:
            controls = msgspec.structs.replace(controls, rate=self._file.controls.rate)
        if (controls.key_percent is None) != (self._file.controls.key_percent is None):
            # A key that is told of, or gone, is news of its own: no doubt about what that calls for.
            self._planning = msgspec.structs.replace(self._planning, suggested=None)
        # From now on the angle is what the operator told of the shutter.
        self._file = msgspec.structs.replace(self._file, controls=controls, limits=limits, shutter_seconds=None)
        self._said = True
        self._again()

    def set_policy(self, name: str | None) -> None:
        """Follow this policy; None lets the picture suggest one. Raises UsageError for one that there is not."""
        self._check(name)
        self._file = msgspec.structs.replace(self._file, policy=name)
        self._again()

    def plan_for(self, name: str | None) -> None:
        """Plan for this sitter, spot or the middle; None: the main sitter, else a spot that has an aim."""
        self._target = name
        self._again()

    def doubt(self, now: Instant) -> None:
        """The picture is there and says nothing, being dark or damaged: the last plan stands for two seconds more."""
        if self._seen is None or not 0.0 <= now.since(self._seen.at) < STALE:
            self.forget(DOUBTED)

    def forget(self, why: str = NO_PICTURE) -> None:
        """The picture is gone: what was planned from it holds no longer."""
        if not self._asked:
            return
        self._seen = self._doubt = None
        blank = Planning(suggested=self._planning.suggested, why=self._planning.why)
        self._planning = self._told(msgspec.structs.replace(blank, trouble=why))

    def to_sensor_end(self, measurement: Measurement) -> Measurement:
        """The same with headroom, and the room of its map of light, counted to where the sensor is full.

        As it is where nobody told what is set, or the profile does not know. Plans are made of what was measured.
        """
        reading = measurement.reading
        curve = known_curve(reading.encoding.curve) if self._said else None
        end = sensor_end(reading, curve, self._camera, self._file.controls.iso) if curve is not None else None
        level = None if end is None else round(end.level, 2)
        if level != self._end:
            self._end = level
            self._planning = msgspec.structs.replace(self._planning, sensor_end=level)
        if end is None:
            return measurement
        if reading.headroom_stops is not None:
            left = max(0.0, reading.headroom_stops - end.below)
            reading = msgspec.structs.replace(reading, headroom_stops=left)
        light = measurement.light
        if light is not None:
            light = msgspec.structs.replace(light, room=light.room - np.float32(end.below))
        return msgspec.structs.replace(measurement, reading=reading, light=light)

    def look(
        self,
        reading: Reading | None,
        curve: Curve | None,
        aims: tuple[Aim, ...],
        now: Instant,
        *,
        spots: tuple[Spot, ...] = (),
        rate: float | None = None,
    ) -> None:
        """Plan from a reading if it is asked for and due. ``rate`` is the feed's, where it tells one."""
        if not self._asked:
            return
        if reading is None:
            self.forget()
            return
        last = self._seen
        if last is None or aims != last.aims or spots != last.spots or not 0.0 <= now.since(last.at) < EVERY:
            self._seen = Seen(reading=reading, curve=curve, aims=aims, spots=spots, rate=rate, at=now)
            self._again()

    def _again(self) -> None:
        """Plan from what was seen last: at once when something is set anew, so that no older plan stands beside it."""
        seen = self._seen
        if seen is None:
            self._planning = self._told(self._planning)
            return
        told = msgspec.structs.replace(
            self._planning, planned=None, trouble=None, subject=None, headroom_stops=None, at=seen.at,
            targets=choices(seen.reading, seen.spots),
        )  # fmt: skip
        try:
            told = self._planned(seen, told)
        except StopkeeperError as error:
            line = f"{error.what}; {error.todo}" if error.todo else error.what
            told = msgspec.structs.replace(told, trouble=line)
        self._planning = self._told(told)

    def _planned(self, seen: Seen, told: Planning) -> Planning:
        if seen.curve is None:
            raise UsageError("stops need the curve of this feed", "plan", "start the watch with --curve NAME")
        if seen.reading.clipped is None or seen.reading.crushed is None:
            raise UsageError("this picture is not measured yet", "plan")
        subject = subject_of(seen.reading, seen.aims, seen.curve, self._target, seen.spots)
        reading = msgspec.structs.replace(seen.reading, sitters=(subject.sitter,))
        controls = self._controls() if self._said else untold(self._file.limits, self._camera)
        outlook = Outlook(reading, controls, seen.curve, camera=self._camera)
        suggested = self._convinced(suggest(reading, seen.curve, controls, outlook.clips_at), told, seen.at)
        told = msgspec.structs.replace(told, subject=subject.sitter.name, suggested=suggested.policy, why=suggested.why)
        name = self._file.policy or suggested.policy
        policy = self._policies.get(name)
        if policy is None:
            raise UsageError(f"there is no policy {printable(name)}", "plan", "choose another one")
        planned = plan(
            reading, controls, policy, seen.curve, subject.aims, limits=self._file.limits, camera=self._camera
        )
        if not self._said:
            planned = msgspec.structs.replace(planned, missing=relative_missing(planned))
        return msgspec.structs.replace(
            told,
            title=policy.title,
            planned=steadied(planned, self._planning.planned),
            headroom_stops=_headroom(outlook, controls),
        )

    def _controls(self) -> Controls:
        """What is set, at the rate of the feed where the operator told no other than the usual one."""
        return self._file.at_rate(self._seen.rate if self._seen is not None else None)

    def _convinced(self, found: Suggestion, told: Planning, now: Instant) -> Suggestion:
        """Another policy is suggested only after the picture has called for it for a while."""
        if told.suggested is None or found.policy == told.suggested:
            self._doubt = None
            return found
        if self._doubt is None or self._doubt[0] != found.policy:
            self._doubt = (found.policy, now)
        if 0.0 <= now.since(self._doubt[1]) < CONVINCED:
            return Suggestion(policy=told.suggested, why=told.why)
        self._doubt = None
        return found

    def _check(self, name: str | None) -> None:
        if name is not None and name not in self._policies:
            raise UsageError(f"no policy {printable(name)}", "plan", f"use {', '.join(sorted(self._policies))}")

    def _told(self, found: Planning) -> Planning:
        """What was found, with what is set."""
        return msgspec.structs.replace(
            found,
            controls=self._controls(),
            limits=self._file.limits,
            camera=self._file.camera if self._camera is None else self._camera.name,
            policy=self._file.policy,
            said=self._said,
            profile=self._camera,
            policies=tuple(sorted(self._policies)),
            target=self._target,
            targets=found.targets or (MIDDLE,),
            sensor_end=self._end,
        )


def _headroom(outlook: Outlook, now: Controls) -> float | None:
    """The headroom of the picture as it is, reckoned as that of every way is."""
    lens = np.nan if now.t_stop is None else exact_aperture(now.t_stop)
    here = {"nd": now.nd_stops, "iso": now.iso, "t_stop": lens, "angle": now.shutter_angle}
    found = outlook.over(Settings(**{name: np.array([value]) for name, value in here.items()})).headroom[0]
    return None if np.isnan(found) else float(found)


def untold(limits: ControlLimits, camera: CameraProfile | None) -> Controls:
    """What is planned from where nobody told what is set: ways are told as steps, so only the room both ways matters.

    >>> untold(ControlLimits(), None).nd_stops
    6.0
    """
    filters = nd_choices(Controls(), msgspec.structs.replace(limits, locked=()), camera)
    natives = camera.natives if camera is not None else ()
    iso = natives[0].iso if natives else Controls().iso
    return Controls(nd_stops=filters[len(filters) // 2], iso=iso)


def steadied(planned: Planned, before: Planned | None) -> Planned:
    """The same ways in the order they stood in before, unless one has become clearly better than one above it."""
    if before is None or len(before.plans) < 2 or before.policy != planned.policy:
        return planned
    order = [each.controls for each in before.plans]
    ways = {each.controls: each for each in planned.plans}
    if set(ways) != set(order) or len(ways) != len(order):
        return planned
    kept = tuple(ways[controls] for controls in order)
    worse = any(
        above.costs.total - below.costs.total > CLEARLY
        for place, above in enumerate(kept)
        for below in kept[place + 1 :]
    )
    return planned if worse else msgspec.structs.replace(planned, plans=kept)
