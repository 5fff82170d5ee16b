"""Headroom in a watch, counted to the sensor's end at the ISO that was told, and to nothing where nobody told."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.engine.planning import PlanDesk
from analysis.model.controls import Controls
from analysis.model.instant import Instant
from analysis.model.light import LightMap
from analysis.model.reading import Measurement
from analysis.settings.control_files import ControlFile
from tests.exposure.outdoors import CAMERA, INDOORS, LOG, OUTDOORS, reading
from tests.exposure.test_sensor_end import nominal
from tests.tui.deciding import AIM, POLICIES

NOW = Instant(0.0, 0.0)


def measured(*parts: tuple[float, float, float], light: bool = False) -> Measurement:
    seen, yes = nominal(*parts), np.ones((27, 48), np.bool_)
    room = np.full((27, 48), seen.headroom_stops, np.float32)
    made = LightMap(
        stops=room, room=room, trusted=yes, clipped=~yes, crushed=~yes, at=NOW, generation=1, area=(0, 0, 1920, 1080)
    )
    return Measurement(reading=seen, view=None, instant=NOW, light=made if light else None)


def desk(iso: float = 800.0, **more: object) -> PlanDesk:
    file = ControlFile(controls=Controls(nd_stops=6.0, iso=iso))
    return PlanDesk(**({"file": file, "policies": POLICIES, "camera": CAMERA} | more))


@pytest.mark.parametrize(("iso", "left"), [(640.0, 0.8), (800.0, 1.1), (1600.0, 2.1)])
def test_headroom_counts_to_the_sensors_end_at_the_iso_that_is_told(iso: float, left: float) -> None:
    """The brightest lies at +4.9; a sensor that holds 6 stops at ISO 800 is full at 6 stops and log2(ISO / 800)."""
    found = desk(iso).to_sensor_end(measured(*OUTDOORS, light=True))
    assert found.reading.headroom_stops == pytest.approx(left, abs=0.12)
    assert found.light is not None and float(found.light.room[3, 4]) == pytest.approx(left, abs=0.12)
    assert nominal(*OUTDOORS).headroom_stops == pytest.approx(5.37)  # what the codes alone would say


def test_it_is_the_headroom_that_the_plan_tells() -> None:
    made = desk()
    made.ask(True)
    found = made.to_sensor_end(measured(*OUTDOORS))
    made.look(nominal(*OUTDOORS), LOG, (AIM,), NOW)
    assert made.planning.headroom_stops == pytest.approx(found.reading.headroom_stops, abs=0.005)
    assert made.planning.sensor_end == pytest.approx(75.2, abs=0.2)


def test_where_nobody_told_what_is_set_nothing_changes() -> None:
    made = desk(file=None)
    seen = measured(*OUTDOORS, light=True)
    assert made.to_sensor_end(seen) is seen and made.planning.sensor_end is None
    made.set_controls(Controls(iso=800.0))  # from now on it is known
    assert made.to_sensor_end(seen) is not seen and made.planning.sensor_end is not None


def test_without_a_profile_or_a_curve_nothing_changes() -> None:
    seen = measured(*OUTDOORS)
    assert desk(camera=None).to_sensor_end(seen) is seen
    unread = msgspec.structs.replace(seen.reading.encoding, curve=None)
    raw = msgspec.structs.replace(seen, reading=msgspec.structs.replace(seen.reading, encoding=unread))
    assert desk().to_sensor_end(raw) is raw


def test_once_the_picture_shows_its_ceiling_that_stands_and_the_screen_hears_of_it() -> None:
    made = desk()
    made.to_sensor_end(measured(*OUTDOORS))
    assert made.planning.sensor_end is not None
    clipping = msgspec.structs.replace(measured(*OUTDOORS), reading=reading(0.8, *OUTDOORS))
    assert made.to_sensor_end(clipping) is clipping
    assert made.planning.sensor_end is None


def test_the_end_stays_on_the_screen_while_plans_come_and_go() -> None:
    made = desk()
    made.to_sensor_end(measured(*INDOORS))
    end = made.planning.sensor_end
    made.ask(True)
    made.look(nominal(*INDOORS), LOG, (AIM,), NOW)
    assert made.planning.planned is not None and made.planning.sensor_end == end
    made.forget()
    assert made.planning.sensor_end == end
    unmeasured = measured(*INDOORS)
    unmeasured = msgspec.structs.replace(
        unmeasured, reading=msgspec.structs.replace(unmeasured.reading, headroom_stops=None)
    )
    assert made.to_sensor_end(unmeasured).reading.headroom_stops is None
