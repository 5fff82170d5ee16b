"""Exposure values, light, shutter, distance and ratio against published formulae and worked examples."""

from __future__ import annotations

from math import log2

import pytest

from analysis.exposure import arithmetic as a
from analysis.exposure import key_power as k
from analysis.exposure.aims import level_of
from analysis.signal.curves import curve


def test_speed_value_of_apex() -> None:
    # ASA PH2.5-1960: Sv = 0 at ISO 3.125, so 5 at ISO 100.
    assert a.speed_value(3.125) == 0.0
    assert a.speed_value(100) == pytest.approx(5.0)
    assert a.speed_value(800) == pytest.approx(8.0)


@pytest.mark.parametrize(
    ("number", "speed", "ev"), [(16, 125, 14.966), (16, 100, 14.644), (2.8, 50, 8.615), (8, 250, 13.966)]
)
def test_exposure_values(number: float, speed: float, ev: float) -> None:
    # APEX: Ev = log2(N^2 / t), calculated.
    assert a.exposure_value(number, 1 / speed) == pytest.approx(ev, abs=0.0006)
    assert a.aperture_value(number) + a.time_value(1 / speed) == a.exposure_value(number, 1 / speed)


def test_meter_equations() -> None:
    # ISO 2720:1974: EV 0 at ISO 100 is 0.125 cd/m2 with K 12.5 and 2.5 lx with C 250.
    assert a.luminance(0) == 0.125
    assert a.illuminance(0) == 2.5
    assert a.luminance(15) == 4096.0
    # N^2/t = L S / K, written out for f/8 at 1/60 and ISO 400
    light = a.luminance(a.exposure_value(8, 1 / 60), 400)
    assert pytest.approx(light * 400 / 12.5) == 8**2 * 60


@pytest.mark.parametrize(("k", "c", "reflectance"), [(12.5, 250, 15.71), (14, 250, 17.59), (12.5, 330, 11.90)])
def test_reflectance_that_meters_imply(k: float, c: float, reflectance: float) -> None:
    assert a.meter_reflectance(k, c) == pytest.approx(reflectance, abs=0.006)


def test_sunny_sixteen() -> None:
    # f/16 at 1/ISO is 3200 cd/m2 with K 12.5, at every ISO.
    assert a.sunny_luminance() == pytest.approx(3200)
    assert a.luminance(a.exposure_value(16, 1 / 400), 400) == pytest.approx(3200)


@pytest.mark.parametrize(("t", "iso", "speed", "fc"), [(4, 800, 48, 24), (2.8, 100, 50, 98)])
def test_set_light(t: float, iso: float, speed: float, fc: float) -> None:
    # fc = 25 T^2 / (ISO t), worked examples of a cinematographer's page (which rounds 24 to 25).
    assert a.footcandles(t, iso, 1 / speed) == pytest.approx(fc, abs=0.5)
    assert a.lux(t, iso, 1 / speed) == pytest.approx(fc * 10.764, rel=0.01)


def test_set_light_is_the_meter_equation_with_c_269() -> None:
    assert a.lux(5.6, 320, 1 / 48) == pytest.approx(a.illuminance(a.exposure_value(5.6, 1 / 48), 320, 269.1))


def test_a_filter_asks_for_its_factor_in_light() -> None:
    assert a.footcandles(4, 800, 1 / 48, nd_stops=2) == pytest.approx(4 * a.footcandles(4, 800, 1 / 48))


@pytest.mark.parametrize(
    ("t", "iso", "speed", "stops"),
    [(16, 100, 100, 0.0), (8, 100, 100, 2.0), (2.8, 800, 50, 9.03), (5.6, 800, 50, 7.03), (16, 800, 50, 4.0)],
)
def test_nd_of_a_sunny_day(t: float, iso: float, speed: float, stops: float) -> None:
    # The rule f/16 at 1/ISO: two stops wider is two stops of ND, and so on; calculated.
    assert a.sunny_nd(t, iso, 1 / speed) == pytest.approx(stops, abs=0.01)


@pytest.mark.parametrize(
    ("angle", "speed"),
    [(360, 24), (270, 32), (180, 48), (172.8, 50), (144, 60), (90, 96), (72, 120), (45, 192)],
)
def test_shutter_table_at_24(angle: float, speed: float) -> None:
    # A published table for 24 frames a second; its last row prints 1/198, t = angle / (360 fps) gives 1/192.
    assert 1 / a.shutter_seconds(angle, 24) == pytest.approx(speed)
    assert a.shutter_angle(1 / speed, 24) == pytest.approx(angle)


# Angles open for whole half-cycles of the mains, by angle = 360 fps k / (2 f); rows calculated, the one of 25
# frames on 60 Hz is also a published worked example (75 k).
STEADY = [
    (24000 / 1001, 50, [86.31, 172.63, 258.94, 345.25]),
    (24000 / 1001, 60, [71.93, 143.86, 215.78, 287.71, 359.64]),
    (24, 50, [86.4, 172.8, 259.2, 345.6]),
    (24, 60, [72, 144, 216, 288, 360]),
    (25, 50, [90, 180, 270, 360]),
    (25, 60, [75, 150, 225, 300]),
    (30000 / 1001, 50, [107.89, 215.78, 323.68]),
    (30000 / 1001, 60, [89.91, 179.82, 269.73, 359.64]),
    (30, 50, [108, 216, 324]),
    (30, 60, [90, 180, 270, 360]),
    (48000 / 1001, 50, [172.63, 345.25]),
    (48, 50, [172.8, 345.6]),
    (48000 / 1001, 60, [143.86, 287.71]),
    (48, 60, [144, 288]),
    (50, 50, [180, 360]),
    (50, 60, [150, 300]),
    (60000 / 1001, 50, [215.78]),
    (60000 / 1001, 60, [179.82, 359.64]),
    (60, 50, [216]),
    (60, 60, [180, 360]),
]


@pytest.mark.parametrize(("rate", "mains", "angles"), STEADY)
def test_angles_without_flicker(rate: float, mains: float, angles: list[float]) -> None:
    found = a.steady_angles(rate, mains)
    assert list(found) == pytest.approx(angles, abs=0.006)
    for angle in found:
        assert a.ripple_left(a.shutter_seconds(angle, rate), mains) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("seconds", "mains", "left"), [(1 / 48, 50, 0.0395), (1 / 50, 60, 0.126), (1 / 60, 50, 0.165)])
def test_ripple_that_a_shutter_leaves(seconds: float, mains: float, left: float) -> None:
    # |sinc(f t)| with f twice the mains, calculated.
    assert a.ripple_left(seconds, mains) == pytest.approx(left, abs=0.0006)


@pytest.mark.parametrize(
    ("f", "glass", "t", "lost"), [(2, 0.90, 2.11, 0.15), (2, 0.75, 2.31, 0.42), (2.8, 0.5, 3.96, 1.0)]
)
def test_t_stop_of_a_lens(f: float, glass: float, t: float, lost: float) -> None:
    # T = N / sqrt(transmission), from memory; values calculated.
    assert a.t_stop(f, glass) == pytest.approx(t, abs=0.006)
    assert 2 * log2(a.t_stop(f, glass) / f) == pytest.approx(lost, abs=0.006)


@pytest.mark.parametrize(("distance", "part"), [(2, 1 / 4), (4, 1 / 16), (8, 1 / 64)])
def test_inverse_square(distance: float, part: float) -> None:
    # A published worked example: from 1 foot to 2, 4 and 8 feet a quarter, a 16th and a 64th of the light.
    assert 2 ** a.distance_stops(1, distance) == pytest.approx(part)


@pytest.mark.parametrize(("one", "other", "stops"), [(1, 2, -2), (2, 3, -1.170), (3, 2, 1.170), (5, 3.5355, 1)])
def test_stops_between_distances(one: float, other: float, stops: float) -> None:
    assert a.distance_stops(one, other) == pytest.approx(stops, abs=0.0006)
    assert a.distance_for(one, stops) == pytest.approx(other, abs=0.001)


@pytest.mark.parametrize(("stops", "factor"), [(1 / 3, 1.1225), (0.5, 1.189), (1, 1.414), (2, 2.0)])
def test_moves_for_parts_of_a_stop(stops: float, factor: float) -> None:
    assert a.distance_for(1.0, -stops) == pytest.approx(factor, abs=0.0006)


@pytest.mark.parametrize(("ratio", "stops"), [(1, 0), (1.5, 0.585), (2, 1), (3, 1.585), (4, 2), (8, 3), (16, 4)])
def test_lighting_ratios(ratio: float, stops: float) -> None:
    # 2 stops are 4:1 and 3 stops 8:1 (published); 800 against 200 footcandles are 4:1.
    assert a.ratio_stops(ratio) == pytest.approx(stops, abs=0.0006)
    assert a.ratio_stops(800 / 200) == 2.0


@pytest.mark.parametrize(("k", "stops"), [(1, 1), (2, 1.585), (3, 2), (7, 3)])
def test_the_other_way_of_giving_a_ratio(k: float, stops: float) -> None:
    assert a.ratio_stops(a.lit_ratio(k)) == pytest.approx(stops, abs=0.0006)


@pytest.mark.parametrize(("decibels", "stops"), [(3, 0.498), (6, 0.997), (9, 1.495), (12, 1.993), (18, 2.990)])
def test_gain_in_decibels(decibels: float, stops: float) -> None:
    assert a.gain_stops(decibels) == pytest.approx(stops, abs=0.0006)


@pytest.mark.parametrize(("before", "after", "stops"), [(50, 100, 1), (100, 25, -2), (20, 80, 2), (30, 45, 0.585)])
def test_key_power_on_a_linear_dimmer(before: float, after: float, stops: float) -> None:
    assert k.key_stops(before, after) == pytest.approx(stops, abs=0.0006)
    assert k.key_power(before, stops) == pytest.approx(after, abs=0.05)


def test_key_power_through_a_dimmer_curve() -> None:
    # A dimmer whose light is the square of its dial: half the dial is a quarter of the light, two stops.
    square = tuple((dial, dial**2 / 100.0) for dial in range(0, 101, 5))
    assert k.key_stops(100, 50, square) == pytest.approx(-2.0)
    assert k.key_power(100, -2.0, square) == pytest.approx(50.0)
    assert k.key_power(50, 4.0, square) == pytest.approx(400.0)  # four times the light there is


def test_a_dark_key_has_no_stops() -> None:
    with pytest.raises(ValueError, match="no power"):
        k.key_stops(0, 50)


# Levels of the Zone System's grey steps through BT.709 (calculated from BT.709-6 item 1.2): zone V is middle grey.
@pytest.mark.parametrize(
    ("stops", "level"), [(-5, 2.5), (-4, 5.1), (-3, 10.0), (-2, 17.3), (-1, 27.3), (0, 40.9), (1, 59.5), (2, 84.9)]
)
def test_zones_through_bt709(stops: float, level: float) -> None:
    assert level_of(stops, curve("bt709")) == pytest.approx(level, abs=0.06)
