"""Where a sensor is full below the codes: by the profile and the ISO told, never against what the picture shows."""

from __future__ import annotations

import msgspec
import pytest

from analysis.exposure.aims import level_of
from analysis.exposure.predict import Outlook
from analysis.exposure.sensor_end import DISPROVED, full_at, sensor_end
from analysis.model.camera import CameraProfile
from analysis.model.controls import Controls
from analysis.model.reading import Reading, SignalEnd
from analysis.settings.camera_files import load_camera
from analysis.settings.places import shipped
from analysis.signal.curves import curve
from tests.exposure.outdoors import CAMERA, INDOORS, LOG, OUTDOORS, reading

change = msgspec.structs.replace


def nominal(*parts: tuple[float, float, float]) -> Reading:
    """A log picture that is counted to the end of its codes, 100 IRE, which this curve reaches at 10.3 stops."""
    made = reading(0.8, *parts)
    brightest = max(high for _, _, high in parts)
    assert made.clipped is not None
    counted = change(made.clipped, level=100.0, by="narrow")
    return change(made, clipped=counted, headroom_stops=10.27 - brightest)


def camera(**changes: object) -> CameraProfile:
    return change(CAMERA, natives=(change(CAMERA.natives[0], **changes),))


@pytest.mark.parametrize(("iso", "stops"), [(400.0, 5.0), (800.0, 6.0), (1600.0, 7.0)])
def test_the_end_moves_with_iso(iso: float, stops: float) -> None:
    """ISO rescales what the sensor caught: a stop more of it puts the full sensor a stop higher in the signal."""
    assert full_at(CAMERA.natives[0], iso) == pytest.approx(stops)
    found = sensor_end(nominal(*INDOORS), LOG, CAMERA, iso)
    assert found is not None
    # At most the allowance for rounding below the exact level of that light (S-2016-001: ACEScct).
    assert level_of(stops, LOG) - 0.6 < found.level < level_of(stops, LOG)
    assert found.below == pytest.approx(10.27 - stops, abs=0.12)


@pytest.mark.parametrize("iso", [640.0, 800.0, 1250.0])
@pytest.mark.parametrize("parts", [OUTDOORS, INDOORS])
def test_headroom_to_it_is_what_the_planner_reckons_with(parts: tuple, iso: float) -> None:
    seen = nominal(*parts)
    found = sensor_end(seen, LOG, CAMERA, iso)
    outlook = Outlook(seen, Controls(iso=iso), LOG, camera=CAMERA)
    assert found is not None and seen.headroom_stops is not None
    counted = 10.2739  # log2(light of 100 IRE / 0.18): (2 ** (17.52 - 9.72)) / 0.18 = 2 ** 10.274 (S-2016-001)
    assert counted - found.below == pytest.approx(outlook.clips_at, abs=0.001)


def test_the_shipped_profile_is_full_below_its_codes() -> None:
    profile = load_camera(shipped("configs") / "cameras" / "large-sensor-log.toml")
    found = sensor_end(nominal(*INDOORS), LOG, profile, 800.0)
    assert found is not None
    assert profile.response is not None and found.level == pytest.approx(profile.response.percent[-1], abs=0.6)


def test_nothing_is_told_where_nobody_knows() -> None:
    seen = nominal(*INDOORS)
    assert seen.clipped is not None
    assert sensor_end(seen, LOG, None, 800.0) is None
    assert sensor_end(seen, LOG, change(CAMERA, natives=()), 800.0) is None
    assert sensor_end(seen, LOG, camera(above_at_least=True), 800.0) is None
    assert sensor_end(change(seen, clipped=None), LOG, CAMERA, 800.0) is None


@pytest.mark.parametrize("by", ["ceiling", "profile", "asked"])
def test_a_level_that_is_known_already_stands(by: str) -> None:
    seen = nominal(*INDOORS)
    assert seen.clipped is not None
    assert sensor_end(change(seen, clipped=change(seen.clipped, by=by)), LOG, CAMERA, 800.0) is None


def test_a_ceiling_in_the_picture_stands() -> None:
    seen = change(nominal(*INDOORS), ceiling=SignalEnd(level=70.0, share=1.0, channels=("r", "g", "b")))
    assert sensor_end(seen, LOG, CAMERA, 800.0) is None


def test_where_the_codes_end_first_they_are_the_end() -> None:
    """BT.709 (BT.709-6, item 1.2) writes 100 IRE 2.47 stops above an 18 % card."""
    seen = nominal(*INDOORS)
    assert sensor_end(seen, curve("bt709"), CAMERA, 800.0) is None
    assert sensor_end(seen, LOG, CAMERA, 800.0 * 2.0**5) is None


def test_light_above_it_says_that_it_lies_elsewhere() -> None:
    end = sensor_end(nominal((100.0, -4.0, 5.8)), LOG, CAMERA, 800.0)
    assert end is not None
    over = nominal((100.0, -4.0, 6.0 + DISPROVED - 0.15))
    assert sensor_end(over, LOG, CAMERA, 800.0) is not None  # noise
    assert sensor_end(nominal((100.0, -4.0, 6.5)), LOG, CAMERA, 800.0) is None
    assert sensor_end(change(over, headroom_stops=None), LOG, CAMERA, 800.0) is not None
