"""The prediction against the truth: the plan is applied to the camera model, and what is rendered is compared.

Small pictures, so that the whole grid takes seconds: skin within a tenth of a stop, the clipped share within 0.2
percent points where no light was hidden by the clip, and between its two bounds, marked "at least", where it was.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analysis.exposure.aims import level_of
from analysis.exposure.plan import plan
from analysis.exposure.policy import OPEN_SKY
from analysis.exposure.predict import Forecast, Outlook
from analysis.exposure.settings_grid import Settings
from analysis.feed.scene.renderer import Renderer
from analysis.model.reading import Reading
from analysis.settings.policy_files import load_policy
from analysis.signal.curves import curve
from tests.exposure.boathouse import controls_of, counted_clipped, profile, read, renderer, true_clipped
from tests.exposure.outdoors import skin_aim

LAYOUTS = {8: "yuyv422", 10: "yuv422p10le"}
CODINGS = [("bt709", 8), ("bt709", 10), ("hlg", 10), ("acescct", 8), ("acescct", 10)]
SETTINGS = [(3.5, 800.0), (2.0, 800.0), (1.0, 400.0), (0.0, 800.0), (0.0, 1600.0), (-1.0, 800.0)]
MOVES = [(0.0, 0), (1.0, 0), (-1.0, 0), (2.0, 3), (0.0, -3), (0.0, 2), (-0.5, 1), (0.0, 6), (-2.0, 0)]
"""Stops of ND and thirds of a stop of ISO."""
SHARE, COARSE = 0.2, 0.24
"""Percent points; the second for 8-bit ACEScct, where a code is 0.08 stop wide: with less ISO the end of a full sensor
comes to lie elsewhere within a code, and what was counted in other codes was off by 0.23."""


@cache
def seen(coding: tuple[str, int], nd: float, iso: float) -> tuple[Renderer, Reading]:
    scene = renderer(curve=coding[0], layout=LAYOUTS[coding[1]], nd=nd, iso=iso)
    return scene, read(scene)


def moved(
    scene: Renderer, reading: Reading, nd: float, thirds: int, known: bool = True
) -> tuple[Forecast, Renderer, float]:
    """What is predicted, the scene as it then is, and the level from which it is clipped in IRE."""
    made = scene.controls
    after = {"nd": made.nd + nd, "iso": made.iso * 2.0 ** (thirds / 3.0)}
    how = curve(made.curve)
    camera = profile(scene) if known else None
    outlook = Outlook(reading, controls_of(scene), how, camera=camera, sitter=(reading.sitters or ())[0])
    one = Settings(
        nd=np.array([after["nd"]]), iso=np.array([after["iso"]]), t_stop=np.array([2.0**1.5]), angle=np.array([180.0])
    )
    new = renderer(curve=made.curve, layout=made.layout, **after)
    # The meter counts from a little below the level at which a signal stops rising; so does the prediction.
    end = level_of(float(outlook.ends(one.iso)[0]), how)
    return outlook.over(one), new, min(100.0, end)


@pytest.mark.parametrize("coding", CODINGS, ids=lambda each: f"{each[0]}-{each[1]}")
@pytest.mark.parametrize(("nd", "iso"), SETTINGS)
def test_every_move_from_every_setting(coding: tuple[str, int], nd: float, iso: float) -> None:
    scene, reading = seen(coding, nd, iso)
    for change, thirds in MOVES:
        found, new, level = moved(scene, reading, change, thirds)
        counted, skin = counted_clipped(new, level), new.truth(0.0).skin
        told = f"nd {change:+} iso {thirds:+}/3: {found} true {counted}, skin {skin}"
        known, most = float(found.clipped[0]), float(found.clipped_at_most[0])
        share = COARSE if coding == ("acescct", 8) else SHARE
        assert known - share <= counted <= most + share, told
        if not found.at_least[0]:
            assert most - known <= 0.02, told
        clear = skin.saturated == 0.0 and skin.level < 99.0 and not found.skin_clipped[0]
        if clear and not ((reading.sitters or ())[0].clipped or 0.0) >= 1.0:
            assert abs(float(found.sitter_stops[0]) - skin.stops) <= 0.1, told
            assert float(found.sitter_level[0]) == pytest.approx(skin.level, abs=2.0), told
        elif clear:
            assert found.at_least[0], told


@pytest.mark.parametrize("coding", CODINGS[:3], ids=lambda each: f"{each[0]}-{each[1]}")
@pytest.mark.parametrize(("nd", "iso"), SETTINGS[:4])
def test_without_a_profile_the_truth_lies_within_what_is_told(coding: tuple[str, int], nd: float, iso: float) -> None:
    """Curves whose codes end before the sensor is full: what is unknown of the sensor is told as bounds."""
    scene, reading = seen(coding, nd, iso)
    for change, thirds in MOVES:
        found, new, _ = moved(scene, reading, change, thirds, known=False)
        true = new.truth(0.0, clip=100.0).clipped.any
        assert found.clipped[0] - 0.2 <= true <= found.clipped_at_most[0] + 0.2, (change, thirds)
        skin = new.truth(0.0).skin
        if skin.level < 95.0 and not found.skin_hidden:
            assert abs(float(found.sitter_stops[0]) - skin.stops) <= 0.1


@pytest.mark.parametrize("coding", [("bt709", 10), ("hlg", 10)], ids=lambda each: each[0])
def test_what_was_hidden_is_said_to_be(coding: tuple[str, int]) -> None:
    scene, reading = seen(coding, -1.0, 800.0)
    found, new, level = moved(scene, reading, 2.0, 0)
    assert found.at_least[0] and found.clipped[0] < true_clipped(new, level) <= found.clipped_at_most[0] + 0.2
    assert found.headroom[0] == 0.0  # nothing lost is promised back


def test_less_iso_does_not_bring_back_what_the_sensor_lost() -> None:
    """EMVA 1288 R4.0: saturation is of the sensor; gain after it only moves the level."""
    scene, reading = seen(("acescct", 10), -1.0, 800.0)
    full = scene.truth(0.0).saturated
    now, _, level = moved(scene, reading, 0.0, 0)
    found, new, _ = moved(scene, reading, 0.0, -3)
    assert full > 3.0 and new.truth(0.0).saturated == full
    assert float(found.clipped[0]) == pytest.approx(float(now.clipped[0]), abs=1e-6)
    assert float(found.clipped[0]) == pytest.approx(true_clipped(scene, level), abs=0.2)
    assert not found.at_least[0]


def test_less_iso_lowers_the_level_at_which_the_sensor_clips() -> None:
    scene, reading = seen(("acescct", 10), 2.0, 800.0)
    outlook = Outlook(reading, controls_of(scene), curve("acescct"), camera=profile(scene))
    ends = outlook.ends(np.array([400.0, 800.0, 1600.0]))
    assert np.diff(ends) == pytest.approx([1.0, 1.0])
    assert level_of(float(ends[0]), curve("acescct")) < level_of(float(ends[1]), curve("acescct"))


@pytest.mark.parametrize(
    "coding", [("bt709", 8), ("bt709", 10), ("acescct", 10)], ids=lambda each: f"{each[0]}-{each[1]}"
)
@pytest.mark.parametrize("wanted", [-0.5, 0.3, 1.2])
def test_a_plan_that_is_followed_does_what_it_said(coding: tuple[str, int], wanted: float) -> None:
    scene, reading = seen(coding, 2.0, 800.0)
    made = scene.controls
    found = plan(
        reading,
        controls_of(scene),
        load_policy(OPEN_SKY, {}),
        curve(made.curve),
        (skin_aim(wanted),),
        camera=profile(scene),
    )
    assert found.plans
    for way in found.plans:
        new = renderer(curve=made.curve, layout=made.layout, nd=way.controls.nd_stops, iso=way.controls.iso)
        skin = new.truth(0.0).skin
        assert way.predicted.sitter_stops == pytest.approx(skin.stops, abs=0.1)
        true = true_clipped(new, 100.0)
        if way.predicted.at_least:
            assert way.predicted.clipped - 0.2 <= true <= way.predicted.clipped_at_most + 0.2
        else:
            assert way.predicted.clipped == pytest.approx(true, abs=0.2)
        if found.missing is None:
            assert abs(skin.stops - wanted) <= 1 / 3 + 0.15


def test_shadow_noise_follows_the_light_and_not_the_iso() -> None:
    """EMVA 1288 R4.0: signal-to-noise is made on the sensor; measured again on the scene that was moved."""
    scene, reading = seen(("bt709", 10), 2.0, 800.0)
    for change, thirds in ((0.0, 3), (0.0, -3), (-1.0, 0), (1.0, 0)):
        found, new, _ = moved(scene, reading, change, thirds)
        again = read(new)
        assert again.noise is not None and again.noise.shadow_snr_stops is not None
        assert float(found.snr_stops[0]) == pytest.approx(again.noise.shadow_snr_stops, abs=0.35)
