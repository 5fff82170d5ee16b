"""Addresses to controls, and controls that cannot be."""

from __future__ import annotations

import math

import pytest

from analysis.feed import scene
from analysis.feed.scene.controls import SceneControls, Sensor
from analysis.feed.scene.query import PARAMETERS, parse
from analysis.feed.source import FeedOptions
from analysis.model.errors import UsageError


def controls(**query: str) -> SceneControls:
    return parse("boathouse", query, FeedOptions())


def test_nothing_said_is_the_default_shot() -> None:
    assert controls() == SceneControls()


def test_every_parameter_is_read() -> None:
    made = controls(
        size="1920x1080", rate="50", layout="yuv444p10le", bits="10", range="full", matrix="bt2020", curve="pq",
        ceiling="95", nd="3", iso="1600", native="400", t="4", shutter="172.8", headroom="7", full_well="30000",
        read_noise="4", lamp="0.5", complexion="dark", clouds="off", sun="on", sway="off", noise="off", seed="9",
        begin="12.5", turns="8:-2,20:2", switch="10,30.5",
    )  # fmt: skip
    assert made == SceneControls(
        width=1920, height=1080, rate=50.0, layout="yuv444p10le", range="full", matrix="bt2020", curve="pq",
        ceiling=95.0, nd=3.0, iso=1600.0, t_stop=4.0, shutter=172.8,
        sensor=Sensor(native_iso=400.0, headroom=7.0, full_well=30000.0, read_noise=4.0),
        lamp=True, lamp_power=0.5, complexion="dark", clouds=False, sun="on", sway=False, noise=False, seed=9,
        begin=12.5, turns=((8.0, -2.0), (20.0, 2.0)), switch=(10.0, 30.5),
    )  # fmt: skip


@pytest.mark.parametrize("bits,layout", [("8", "yuyv422"), ("10", "yuv422p10le"), ("12", "yuv422p12le")])
def test_bits_choose_a_layout(bits: str, layout: str) -> None:
    assert controls(bits=bits).layout == layout


@pytest.mark.parametrize(
    "text,lamp,power", [("on", True, 1.0), ("off", False, 1.0), ("2", True, 2.0), ("0", False, 0.0)]
)
def test_lamp(text: str, lamp: bool, power: float) -> None:
    made = controls(lamp=text)
    assert (made.lamp, made.lamp_power) == (lamp, power)


@pytest.mark.parametrize(
    "key,text",
    [("iso", "fast"), ("iso", "nan"), ("iso", "-800"), ("size", "1920"), ("size", "0x10"), ("size", "99999x2"),
     ("rate", "0"), ("rate", "inf"), ("bits", "9"), ("lamp", "maybe"), ("clouds", "yes"), ("sun", "noon"),
     ("range", "wide"), ("matrix", "rgb"), ("seed", "1.5"), ("seed", "-1"), ("shutter", "400"), ("t", "0"),
     ("ceiling", "120"), ("begin", "-1"), ("headroom", "0"), ("lamp", "-1"), ("full_well", "1e6"),
     ("turns", "8"), ("turns", "8:two"), ("turns", "8:1:2"), ("switch", "soon")],
)  # fmt: skip
def test_a_bad_value_is_one_clear_line(key: str, text: str) -> None:
    with pytest.raises(UsageError) as caught:
        controls(**{key: text})
    line = str(caught.value)
    assert "\n" not in line
    assert "use " in line or "did you mean" in line
    assert line.startswith("scene")


def test_layout_and_bits_must_agree() -> None:
    with pytest.raises(UsageError, match="8 bits, not 10"):
        controls(layout="nv12", bits="10")


@pytest.mark.parametrize("key", PARAMETERS)
def test_each_name_survives_a_slip_of_the_finger(key: str) -> None:
    if len(key) < 3:
        return
    with pytest.raises(UsageError, match=f"did you mean {key}"):
        controls(**{key[:-1] + "x" + key[-1]: "1"})


def test_the_documented_table_names_every_parameter() -> None:
    text = scene.__doc__ or ""
    named = {word for line in text.splitlines() for word in line.split("  ")[0].replace(",", "").split()}
    assert set(PARAMETERS) <= named


def test_a_packed_layout_needs_an_even_width() -> None:
    with pytest.raises(UsageError, match="even width"):
        controls(size="321x180")
    assert controls(size="321x180", layout="yuv422p").width == 321


def test_options_are_weaker_than_the_address() -> None:
    made = parse("boathouse", {"size": "640x360", "rate": "50"}, FeedOptions(width=1920, height=1080, rate=25.0))
    assert (made.width, made.height, made.rate) == (640, 360, 50.0)


@pytest.mark.parametrize(
    "angle,rate,seconds",
    # t = angle / (360 x rate), the cinematographic shutter formula: published list for 24 fps.
    [(360, 24, 1 / 24), (270, 24, 1 / 32), (180, 24, 1 / 48), (172.8, 24, 1 / 50), (144, 24, 1 / 60), (90, 24, 1 / 96),
     (72, 24, 1 / 120)],
)  # fmt: skip
def test_shutter_formula(angle: float, rate: float, seconds: float) -> None:
    assert SceneControls(shutter=angle, rate=rate).exposure_seconds == pytest.approx(seconds)


def test_reference_light_is_what_the_exposure_equation_gives() -> None:
    """N^2 / t = E S / C (ISO 2720:1974, flat receptor, C = 250): 490 lux at T2.8, 1/50 s, ISO 200 behind ND 2.

    ND 2 stops at ISO 800 is as ISO 200 without it.
    """
    lux = 250.0 * 2.8**2 / (200.0 / 50.0)
    assert lux == pytest.approx(490.0)
    assert SceneControls().sensor_stops == pytest.approx(0.0)
    assert SceneControls(nd=0.0, t_stop=5.6).sensor_stops == pytest.approx(0.0)


@pytest.mark.parametrize("nd,factor", [(1, 2), (2, 4), (3, 8), (6, 64), (10, 1024)])
def test_nd_in_stops_is_a_factor_of_two_each(nd: int, factor: int) -> None:
    """Neutral density tables: 0.3 density = 1 stop = factor 2, 3.0 = 10 stops = 1024 nominal."""
    one, other = SceneControls(nd=0.0).sensor_stops, SceneControls(nd=float(nd)).sensor_stops
    assert 2.0 ** (one - other) == pytest.approx(factor)


def test_iso_is_gain_and_not_exposure() -> None:
    assert SceneControls(iso=3200.0).sensor_stops == 0.0
    assert math.log2(SceneControls(iso=3200.0).gain) == 2.0
