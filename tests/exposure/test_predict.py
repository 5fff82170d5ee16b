"""What a prediction says of made-up pictures: how each control acts, and what it says of what it cannot know."""

from __future__ import annotations

from math import log2

import msgspec
import numpy as np
import pytest

from analysis.exposure.aims import level_of
from analysis.exposure.predict import Forecast, Outlook
from analysis.exposure.settings_grid import Settings
from analysis.model.controls import ControlLimits, Controls
from analysis.model.reading import Reading
from analysis.settings.control_files import camera_named
from analysis.signal.curves import curve
from tests.exposure.outdoors import CAMERA, LOG, OUTDOORS, reading, reading_on

NOW = Controls(nd_stops=4.0, iso=800.0, t_stop=4.0)


def asked(seen: Reading, now: Controls = NOW, key: float = 1.0, camera: object = CAMERA, **to: float) -> Forecast:
    """What one other setting would give."""
    outlook = Outlook(
        seen,
        now,
        LOG,
        camera=camera,  # type: ignore[arg-type]
        sitter=(seen.sitters or ())[0],
        background=-1.0,
    )
    one = {"nd": now.nd_stops, "iso": now.iso, "t_stop": 4.0, "angle": 180.0, **to}
    return outlook.over(Settings(**{name: np.array([value]) for name, value in one.items()}), key)


@pytest.mark.parametrize(
    ("to", "stops"),
    [
        ({"nd": 6.0}, -2.0),
        ({"iso": 1600.0}, 1.0),
        ({"t_stop": 5.656854}, -1.0),
        ({"angle": 90.0}, -1.0),
        ({"nd": 2.0, "iso": 400.0}, 1.0),
        ({}, 0.0),
    ],
)
def test_every_control_moves_the_skin_by_its_stops(to: dict[str, float], stops: float) -> None:
    found = asked(reading(0.5, *OUTDOORS), **to)
    assert found.sitter_stops[0] == pytest.approx(0.5 + stops, abs=1e-5)
    assert found.sitter_level[0] == pytest.approx(level_of(0.5 + stops, LOG), abs=0.01)
    assert found.background_stops[0] == pytest.approx(-1.0 + stops, abs=1e-5)


def test_the_clipped_share_is_read_off_the_picture() -> None:
    seen = reading(0.5, (80.0, -4.0, 2.0), (20.0, 3.0, 5.0))
    # Counting begins 0.6 IRE below the ceiling at +6: 0.105 stop on this curve (17.52 stops to 100 IRE, S-2016-001).
    end = 6.0 - 0.006 * 17.52
    for nd, share in ((4.0, 0.0), (3.0, 10.0 * (6.0 - end)), (2.0, 10.0 * (7.0 - end)), (1.0, 20.0)):
        found = asked(seen, nd=nd)
        assert found.clipped[0] == pytest.approx(share, abs=0.15)
        assert not found.at_least[0]


def test_hidden_light_is_told_as_bounds() -> None:
    seen = reading(0.5, (90.0, -4.0, 2.0), (10.0, 5.99, 6.0), clipped=10.0)
    darker = asked(seen, nd=6.0)
    assert darker.at_least[0]
    assert darker.clipped[0] == 0.0 and darker.clipped_at_most[0] == pytest.approx(10.0, abs=0.1)
    assert darker.headroom[0] == 0.0
    brighter = asked(seen, nd=3.0)
    assert not brighter.at_least[0] and brighter.clipped[0] == pytest.approx(10.0, abs=0.1)


def test_iso_brings_nothing_back() -> None:
    seen = reading(0.5, (90.0, -4.0, 2.0), (10.0, 5.99, 6.0), clipped=10.0)
    for iso in (200.0, 400.0, 640.0, 1600.0, 3200.0):
        found = asked(seen, iso=iso)
        assert found.clipped[0] == pytest.approx(10.0, abs=0.1)
        assert not found.at_least[0]


def test_clipped_skin_is_at_least() -> None:
    seen = reading(5.5, *OUTDOORS)
    sitter = msgspec.structs.replace((seen.sitters or ())[0], clipped=5.0)
    found = asked(msgspec.structs.replace(seen, sitters=(sitter,)), nd=6.0)
    assert found.at_least[0]


def test_iso_above_native_moves_the_level_and_not_the_scene() -> None:
    seen = reading(0.5, *OUTDOORS)
    plain, more = asked(seen), asked(seen, iso=1600.0)
    assert more.headroom[0] == pytest.approx(plain.headroom[0], abs=1e-6)
    assert asked(seen, nd=5.0).headroom[0] == pytest.approx(plain.headroom[0] + 1.0, abs=1e-6)


def test_the_end_of_the_codes_stops_the_rise() -> None:
    """ACEScct reaches 109 IRE at +11.8 stops; 100 IRE, from which the meter counts, at +10.27 (S-2016-001)."""
    outlook = Outlook(reading(0.5, *OUTDOORS), NOW, LOG, camera=CAMERA)
    assert outlook.ends(np.array([800.0 * 2**7]))[0] == pytest.approx(10.27, abs=0.01)


def test_a_second_native_iso_has_its_own_end() -> None:
    first = CAMERA.natives[0]
    second = msgspec.structs.replace(first, iso=3200.0, stops_above=6.0)
    camera = msgspec.structs.replace(CAMERA, natives=(first, second))
    outlook = Outlook(reading(0.5, *OUTDOORS), NOW, LOG, camera=camera)
    ends = outlook.ends(np.array([800.0, 1600.0, 3200.0]))
    assert np.diff(ends) == pytest.approx([1.0, -1.0])


def test_the_key_moves_the_sitter_alone_and_says_at_least() -> None:
    found = asked(reading(0.5, *OUTDOORS), key=2.0)
    assert found.sitter_stops[0] == pytest.approx(1.5) and found.background_stops[0] == -1.0
    assert found.at_least[0]  # nobody knows what else the lamp reaches
    shared = asked(reading(0.5, *OUTDOORS), msgspec.structs.replace(NOW, key_share=0.5), key=2.0)
    assert shared.sitter_stops[0] == pytest.approx(0.5 + log2(1.5))


def test_key_factor_by_power_dimmer_and_distance() -> None:
    now = msgspec.structs.replace(NOW, key_percent=50.0, key_distance=2.0)
    plain = Outlook(reading(0.5, *OUTDOORS), now, LOG)
    assert plain.key_factor(100.0, None) == 2.0
    assert plain.key_factor(None, 1.0) == 4.0
    dimmed = Outlook(reading(0.5, *OUTDOORS), now, LOG, limits=ControlLimits(dimmer=((0, 0), (50, 25), (100, 100))))
    assert dimmed.key_factor(100.0, 2.0) == 4.0


def test_noise_by_the_camera_and_without_one() -> None:
    seen = reading(0.5, *OUTDOORS)
    by_profile = asked(seen, nd=6.0, camera=camera_named("large-sensor-log", {}))
    alone = asked(seen, nd=6.0, camera=None)
    # Two stops less light cost one stop (photons) to two (read noise); EMVA 1288 R4.0.
    for found in (by_profile, alone):
        assert 1.0 <= found.snr_lost[0] <= 2.0
        assert found.snr_stops[0] == pytest.approx(3.0 - found.snr_lost[0])
    assert asked(seen, iso=3200.0).snr_lost[0] == pytest.approx(0.0)


def test_what_was_not_measured_is_not_told() -> None:
    seen = msgspec.structs.replace(reading(0.5, *OUTDOORS), noise=None, headroom_stops=None)
    found = asked(seen, nd=6.0)
    assert np.isnan(found.snr_stops[0]) and np.isnan(found.headroom[0])


def dark(noise: bool = False) -> Reading:
    """A picture of which 7.5 percent are crushed: 30 percent lie evenly from -8 to -4, and -7 is the floor."""
    seen = reading(0.5, (30.0, -8.0, -4.0), (70.0, -4.0, 2.0))
    crushed = msgspec.structs.replace(seen.crushed, any=7.5, luma=7.5, level=level_of(-7.0, LOG))  # type: ignore
    return msgspec.structs.replace(seen, crushed=crushed, noise=seen.noise if noise else None)


def test_crushed_grows_in_the_dark_and_is_not_promised_back() -> None:
    found = asked(dark(), nd=6.0)
    assert found.crushed[0] == pytest.approx(7.5 + 15.0, abs=0.6)
    assert found.crushed_at_least[0] == found.crushed[0]
    brighter = asked(dark(), nd=2.0)
    assert (brighter.crushed_at_least[0], brighter.crushed[0]) == (0.0, 7.5)
    assert asked(dark()).crushed[0] == 7.5


def test_noise_pulls_more_to_the_floor_than_light_does() -> None:
    quiet, noisy = (asked(dark(noise), nd=6.0).crushed[0] for noise in (False, True))
    assert quiet + 0.3 < noisy < quiet + 5.0


def test_iso_moves_the_floor_and_adds_no_noise() -> None:
    for noise in (False, True):
        assert asked(dark(noise), iso=200.0).crushed[0] == pytest.approx(22.5, abs=0.6)


def test_depth_of_field_and_motion() -> None:
    found = asked(reading(0.5, *OUTDOORS), t_stop=5.656854, angle=90.0)
    assert found.closed[0] == pytest.approx(1.0, abs=1e-5) and found.longer[0] == -1.0


def test_the_coarse_table_will_do_where_peaks_were_not_measured() -> None:
    seen = msgspec.structs.replace(reading(0.5, (80.0, -4.0, 2.0), (20.0, 3.0, 5.0)), peaks=msgspec.UNSET)
    assert asked(seen, nd=1.0).clipped[0] == pytest.approx(20.0, abs=1.5)


def test_an_unknown_sensor_is_not_said_to_keep_more_with_less_iso() -> None:
    """EMVA 1288 R4.0: saturation comes before gain, so less gain uncovers nothing that the sensor lost."""
    seen = reading(0.5, (90.0, -4.0, 2.0), (10.0, 10.3, 10.5), clipped=10.0)
    nominal = msgspec.structs.replace(seen.clipped, level=100.0, by="narrow")  # type: ignore[type-var]
    seen = msgspec.structs.replace(seen, clipped=nominal)
    now, less = asked(seen, camera=None), asked(seen, iso=400.0, camera=None)
    assert less.clips_at[0] == pytest.approx(now.clips_at[0])
    assert less.at_least[0] and less.clipped_at_most[0] == pytest.approx(10.0, abs=0.1)
    more = asked(seen, iso=1600.0, camera=None)
    assert more.clips_at[0] == pytest.approx(now.clips_at[0] - 1.0)


@pytest.mark.parametrize(("camera", "iso"), [("webcam", 100.0), ("large-sensor-log", 800.0)])
@pytest.mark.parametrize("by", ["profile", "narrow", "ceiling"])
@pytest.mark.parametrize("share", [0.05, 7.8])
def test_staying_gives_the_share_that_was_measured(camera: str, iso: float, by: str, share: float) -> None:
    """Whoever said from which level it counts: what is there now is counted, and is no forecast."""
    # BT.709 (BT.709-6, item 1.2) is full at log2(1 / 0.18) = 2.474 stops; the webcam's profile says 2.47.
    how, parts = curve("bt709"), ((100.0 - share, -4.0, 2.2), (share, 2.6, 2.9))
    seen = reading_on(how, 8, 0.5, *parts)
    assert seen.clipped is not None
    counted = msgspec.structs.replace(seen.clipped, any=share, luma=share, level=100.0, by=by)
    seen = msgspec.structs.replace(seen, clipped=counted, headroom_stops=0.0)
    now = Controls(nd_stops=0.0, iso=iso)
    outlook = Outlook(seen, now, how, camera=camera_named(camera), sitter=(seen.sitters or ())[0])
    one = Settings(**{name: np.array([value]) for name, value in (("nd", 0.0), ("iso", iso), ("angle", 180.0))},
                   t_stop=np.array([np.nan]))  # fmt: skip
    found = outlook.over(one)
    assert found.clipped[0] == pytest.approx(share, abs=0.01)
    assert found.clipped_at_most[0] == pytest.approx(share, abs=0.01)
    assert not found.at_least[0]
