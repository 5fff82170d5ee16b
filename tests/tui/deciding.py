"""A watch whose plans are real: a rendered boathouse, measured, and a desk that plans from it."""

from __future__ import annotations

from functools import cache
from typing import Any

import msgspec

from analysis.engine.planning import PlanDesk
from analysis.exposure.subject import MIDDLE
from analysis.measure.examiner import Examiner, ExaminerSettings, known_curve
from analysis.measure.extras import ExtrasSettings
from analysis.measure.meter_settings import MeterSettings
from analysis.measure.peaks import PeaksMeter
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.reading import Reading, View
from analysis.model.sitter import Aim, SitterReading, Spot
from analysis.model.snapshot import Snapshot
from analysis.settings.control_files import ControlFile
from analysis.settings.policy_files import load_policy
from tests.exposure.boathouse import SIZE, controls_of, profile, renderer
from tests.tui.synthetic import FakeWatch, snapshot

LOG = {"curve": "acescct", "layout": "yuv422p10le"}
POLICIES = {name: load_policy(name, {}) for name in ("open-sky", "even-light", "built-light")}
AIM = Aim(target="sitter", value=0.5, tolerance=1.0 / 3.0, unit="stops")


@cache
def moment(**scene: Any) -> tuple[Reading, View, ControlFile, CameraProfile]:
    """A reading with its view and peaks, what is set on the rendered camera, and its profile."""
    made = renderer(**{**LOG, **scene})
    examiner = Examiner(
        ExaminerSettings(
            meter=MeterSettings(active_picture=False),
            extras=ExtrasSettings(flicker=None, tolerance="off", spread_every=0.0, noise_every=0.0),
            ends_every=0.0,
        )
    )
    left, top, right, bottom = made.truth(0.0).skin.box
    wide, high = SIZE["width"], SIZE["height"]
    across, down = (right - left) / wide, (bottom - top) / high
    cheek = Spot(name="cheek", kind="watch", x=left / wide, y=top / high, width=across, height=down)
    examiner.place_spots((cheek,))
    for number in range(3):
        picture = made.picture(number / 25.0, number)
        now = Instant(number / 25.0, number / 25.0)
        frame = Frame(planes=tuple(picture.planes), format=made.format, instant=now, generation=1, sequence=number)
        measured = examiner.measure(frame, None, Instant(0.0, 0.0))
    reading, view = measured.reading, measured.view
    assert view is not None and reading.spots is not None
    how = known_curve(made.format.encoding.curve)
    assert how is not None
    skin = reading.spots["cheek"]
    sitter = SitterReading(
        name="sitter 1", main=True, state="seen", box=(left, top, right - left, bottom - top), confidence=0.9,
        level=skin.level, low=skin.level - 3.0, high=skin.level + 2.0, stops=skin.stops, clipped=skin.clipped,
    )  # fmt: skip
    peaks = PeaksMeter(made.format, how).look_closely(frame, reading.picture.active)
    reading = msgspec.structs.replace(reading, peaks=peaks, sitters=(sitter,), spots=None)
    return reading, view, ControlFile(controls=controls_of(made)), profile(made)


class DeskWatch(FakeWatch):
    """A fake watch with a real desk: what it is told is carried out, and its plan is in the snapshot."""

    def __init__(self, now: Snapshot, desk: PlanDesk, aims: tuple[Aim, ...] = (AIM,)) -> None:
        super().__init__(msgspec.structs.replace(now, aims=aims))
        self.desk = desk

    def snapshot(self) -> Snapshot:
        """The told snapshot with the newest plan."""
        now = self.now
        curve = known_curve(now.reading.encoding.curve) if now.reading is not None else None
        self.desk.look(now.reading, curve, now.aims, now.at, spots=now.spots, rate=25.0)
        self.change(planning=self.desk.planning)
        return super().snapshot()

    def plan(self, on: bool) -> None:
        super().plan(on)
        self.desk.ask(on)

    def set_controls(self, controls: Controls, limits: ControlLimits | None = None) -> None:
        self.asked.append(("controls", controls, limits))
        self.desk.set_controls(controls, limits)

    def set_policy(self, name: str | None) -> None:
        super().set_policy(name)
        self.desk.set_policy(name)

    def plan_for(self, name: str | None) -> None:
        super().plan_for(name)
        self.desk.plan_for(name)


def boathouse(told: bool = True, camera: bool = True, **scene: Any) -> DeskWatch:
    """A watch on a rendered boathouse; ``told`` says whether the operator has told what is set."""
    reading, view, file, known = moment(**scene)
    desk = PlanDesk(file if told else None, policies=POLICIES, camera=known if camera else None)
    now = snapshot()
    return DeskWatch(msgspec.structs.replace(now, reading=reading, view=view), desk)


__all__ = ["AIM", "MIDDLE", "POLICIES", "DeskWatch", "boathouse", "moment"]
