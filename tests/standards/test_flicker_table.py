"""Safe shutter angles and beats for every usual frame rate at 50 and 60 Hz mains.

A shutter of ``angle / (360 fps)`` seconds is safe when it spans whole half periods of the mains (arithmetic; the worked
example 25 frames at 60 Hz giving 75, 150, 225, 300 degrees is common teaching, no published source). The
table was calculated by hand from ``360 fps k / (2 f)``; 24 frames at 172.8 and 144 degrees are common practice.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.measure.mains import alias_hz, any_angle_safe, ripple, ripple_stops, safe_angles

TABLE = {
    (23.976, 50): (86.31, 172.63, 258.94, 345.25),
    (23.976, 60): (71.93, 143.86, 215.78, 287.71, 359.64),
    (24, 50): (86.4, 172.8, 259.2, 345.6),
    (24, 60): (72, 144, 216, 288, 360),
    (25, 50): (90, 180, 270, 360),
    (25, 60): (75, 150, 225, 300),
    (29.97, 50): (107.89, 215.78, 323.68),
    (29.97, 60): (89.91, 179.82, 269.73, 359.64),
    (30, 50): (108, 216, 324),
    (30, 60): (90, 180, 270, 360),
    (47.952, 50): (172.63, 345.25),
    (47.952, 60): (143.86, 287.71),
    (48, 50): (172.8, 345.6),
    (48, 60): (144, 288),
    (50, 50): (180, 360),
    (50, 60): (150, 300),
    (59.94, 50): (215.78,),
    (59.94, 60): (179.82, 359.64),
    (60, 50): (216,),
    (60, 60): (180, 360),
}
ANY_ANGLE = {(24, 60), (25, 50), (30, 60), (50, 50), (60, 60)}


@pytest.mark.parametrize("fps,mains", TABLE)
def test_safe_angles(fps: float, mains: float) -> None:
    found = safe_angles(fps, mains)
    assert len(found) == len(TABLE[fps, mains])
    assert found == pytest.approx(TABLE[fps, mains], abs=0.006)


@pytest.mark.parametrize("fps,mains", TABLE)
def test_safe_angles_leave_no_ripple(fps: float, mains: float) -> None:
    for angle in safe_angles(fps, mains):
        assert ripple_stops(fps, angle, mains, 0.3) == pytest.approx(0.0, abs=1e-9)
        assert ripple_stops(fps, angle * 0.97, mains, 0.3) > 0.001


@pytest.mark.parametrize("fps,mains", TABLE)
def test_rates_that_make_any_angle_safe(fps: float, mains: float) -> None:
    assert any_angle_safe(fps, mains) is ((fps, mains) in ANY_ANGLE)


@pytest.mark.parametrize("fps", [24000 / 1001, 30000 / 1001, 60000 / 1001])
def test_the_thousandth_less_beats_at_an_eighth_of_a_hertz(fps: float) -> None:
    """The table has 0.12 Hz: 120 Hz less a thousandth part."""
    assert alias_hz(fps, 60.0) == pytest.approx(0.12, abs=0.001)
    assert not any_angle_safe(fps, 60.0)


@pytest.mark.parametrize(
    "fps,mains,beat", [(24, 50, 4), (25, 60, 5), (30, 50, 10), (50, 60, 20), (60, 50, 20), (48, 50, 4), (48, 60, 24)]
)
def test_beats(fps: float, mains: float, beat: float) -> None:
    assert alias_hz(fps, mains) == pytest.approx(beat)


# Mean of 1 + m cos(2 pi f t) over an exposure: what is left of m, and the stops peak to peak at m = 0.3 (calculated).
@pytest.mark.parametrize(
    "fps,angle,mains,part,stops",
    [(24, 180, 50, 0.0395, 0.034), (25, 180, 60, 0.126, 0.109), (30, 180, 50, 0.165, 0.143)],
)
def test_residual_ripple(fps: float, angle: float, mains: float, part: float, stops: float) -> None:
    seconds = angle / (360 * fps)
    assert ripple(seconds, mains) == pytest.approx(part, abs=5e-4)
    assert ripple_stops(fps, angle, mains, 0.3) == pytest.approx(stops, abs=5e-4)
    # The same by adding the light up in small steps, for exposures that begin at every phase.
    starts, steps = np.linspace(0.0, 0.5 / mains, 401), (np.arange(4000) + 0.5) / 4000 * seconds
    light = 1.0 + 0.3 * np.cos(2 * np.pi * 2 * mains * (starts[:, None] + steps[None, :]))
    caught = np.log2(light.mean(axis=1))
    assert ripple_stops(fps, angle, mains, 0.3) == pytest.approx(float(np.ptp(caught)), abs=1e-4)


def test_a_very_short_shutter_sees_the_light_as_it_is() -> None:
    assert ripple(0.0, 50.0, 0.3) == 0.3
    assert ripple_stops(25.0, 0.01, 60.0, 0.3) == pytest.approx(math.log2(1.3 / 0.7), abs=1e-5)
    assert ripple_stops(25.0, 1e-9, 60.0, 1.0) == math.inf


@pytest.mark.parametrize("fps,mains", [(0.0, 50.0), (-24.0, 50.0), (24.0, 0.0), (float("nan"), 50.0)])
def test_what_is_no_frequency_is_refused(fps: float, mains: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        safe_angles(fps, mains)
    with pytest.raises(ValueError, match="positive"):
        alias_hz(fps, mains)
