"""Synthetic clips whose beat and depth follow from arithmetic: 4, 5 and 10 Hz; 0.034, 0.109 and 0.143 stop.

Light ``1 + 0.3 cos(2 pi 2 f t)`` gathered over the exposure leaves ``0.3 |sinc(2 f t)|`` at the beat
``|2 f - k fps|`` (calculated; see test_flicker_table). The same must be read with a global and a rolling shutter.
"""

from __future__ import annotations

import pytest

from analysis.measure.mains import alias_hz, ripple_stops, safe_angles
from tests.measure.lamps import beats, frames, lamp, watched

CLIPS = [(24.0, 1 / 48, 50.0, 4.00, 0.034), (25.0, 1 / 50, 60.0, 5.00, 0.109), (30.0, 1 / 60, 50.0, 10.00, 0.143)]


@pytest.mark.parametrize("fps,exposure,mains,beat,stops", CLIPS)
@pytest.mark.parametrize("readout,kind", [(0.0, "whole"), (0.008, "bands"), (0.016, "bands"), (1 / 30, "bands")])
def test_the_three_clips(
    fps: float, exposure: float, mains: float, beat: float, stops: float, readout: float, kind: str
) -> None:
    found = watched(frames(lamp(mains, exposure, 0.3), fps, 7.0, readout))[-1]
    assert found is not None and found.kind == kind
    assert found.hz == pytest.approx(beat, abs=0.01)
    # Four bands in the picture, each as high as eight strips, lose 3 %.
    assert found.stops == pytest.approx(stops, rel=0.04 if readout < 0.03 else 0.07)


@pytest.mark.parametrize(
    "fps,mains", [(24.0, 50.0), (24.0, 60.0), (25.0, 50.0), (25.0, 60.0), (30.0, 50.0), (60.0, 50.0)]
)
def test_safe_angles_show_nothing(fps: float, mains: float) -> None:
    for angle in safe_angles(fps, mains)[:3]:
        said = watched(frames(lamp(mains, angle / (360 * fps), 0.3), fps, 6.0, readout=0.01))
        assert not beats(said)


# Rates of the table that beat, at 180 degrees (90 where 180 is safe), with 60 Hz told from 50.
@pytest.mark.parametrize(
    "fps,angle,mains",
    [(23.976, 180, 50), (29.97, 180, 50), (47.952, 180, 50), (50, 90, 60), (59.94, 180, 50), (60, 90, 50)],
)
def test_other_rates(fps: float, angle: float, mains: float) -> None:
    found = watched(frames(lamp(mains, angle / (360 * fps), 0.3), fps, 6.5))[-1]
    assert found is not None and found.hz == pytest.approx(alias_hz(fps, mains), abs=0.01)
    assert found.stops == pytest.approx(ripple_stops(fps, angle, mains, 0.3), rel=0.05)


def test_rates_that_fit_the_mains_show_nothing_at_any_angle() -> None:
    for fps, mains in ((25.0, 50.0), (30.0, 60.0), (24.0, 60.0)):
        assert not beats(watched(frames(lamp(mains, 1 / 200, 0.3), fps, 6.0)))
