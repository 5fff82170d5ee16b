"""A camera measured from a bracket of a grey card, against the rendered camera whose numbers are known."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np
import pytest

from analysis.feed.scene.controls import Sensor
from analysis.measure.card import StepReading
from analysis.measure.characterise import Characterised, characterise
from analysis.model.errors import Unmeasurable
from analysis.model.frame import Encoding
from analysis.signal.curves import curve, names
from analysis.signal.curves.table import GREY, StopsTable
from tests.measure.card_scenes import bracket, controls

KNOWN = [curve(name) for name in names()]
LUMA_NOISE = math.sqrt(0.2126**2 + 0.7152**2 + 0.0722**2)
"""Noise of luma over that of one channel, where R, G and B have their own (weights: ITU-R BT.709-6 item 3.2)."""


def measured(steps: Sequence[StepReading], snr: float = 2.0) -> Characterised:
    return characterise(steps, name="lakecam", iso=800, snr=snr, known=KNOWN)


def table(found: Characterised) -> StopsTable:
    response = found.profile.response
    return StopsTable(np.array(response.stops), np.array(response.percent) / 100.0)


@pytest.mark.parametrize("bits", [8, 10])
@pytest.mark.parametrize(
    "name,top", [("acescct", 4), ("acescc", 4), ("cineon", 4), ("hlg", 4), ("pq", 4), ("bt709", 2)]
)
def test_recovers_the_curve_within_a_twentieth_of_a_stop(name: str, top: int, bits: int) -> None:
    """From -4 to +4 stops, or to where the curve leaves the codes (BT.709: 109 IRE at 2.73 stops)."""
    found = measured(bracket(controls(bits, curve=name)))
    stops = np.linspace(-4.0, top, 161)
    read = np.log2(table(found).decode(curve(name).encode(GREY * 2.0**stops)) / GREY)
    assert np.abs(read - stops).max() < 0.05
    profile = found.profile
    assert (profile.curve, profile.bits, profile.range) == (name, bits, "narrow")
    assert profile.curve_within is not None and profile.curve_within < 0.07
    assert found.notes == ()


@pytest.mark.parametrize("name", ["acescct", "pq"])
def test_finds_where_the_sensor_is_full(name: str) -> None:
    """The scene's sensor holds 6 stops above an 18 % card; the level is the curve's there."""
    profile = measured(bracket(controls(curve=name))).profile
    assert profile.natives[0].stops_above == pytest.approx(6.0, abs=0.05)
    level = 100.0 * float(curve(name).encode(np.array(GREY * 2.0**6)))
    assert profile.clip_percent == pytest.approx(level, abs=0.15)
    assert not profile.natives[0].above_at_least


@pytest.mark.parametrize("ceiling", [83.0, 94.0])
def test_finds_a_ceiling_below_100(ceiling: float) -> None:
    """BT.709 reaches 83 IRE at 1.93 and 94 IRE at 2.29 stops (ITU-R BT.709-6 item 1.2, computed)."""
    at = float(np.log2(curve("bt709").decode(np.array(ceiling / 100.0)) / GREY))
    profile = measured(bracket(controls(8, ceiling=ceiling), np.arange(-6, 5, 0.5))).profile
    assert profile.clip_percent == pytest.approx(ceiling, abs=0.5)
    assert profile.natives[0].stops_above == pytest.approx(at, abs=0.1)


@pytest.mark.parametrize("snr", [1.0, 2.0, 4.0])
def test_usable_stops_end_where_the_sensor_says(snr: float) -> None:
    """EMVA 1288: signal e electrons, variance e + r^2; so e / sqrt(e + r^2) = snr times luma's share of the noise."""
    sensor = Sensor()
    middle = GREY * sensor.electrons_per_unit
    share = snr * LUMA_NOISE
    electrons = (share**2 + math.sqrt(share**4 + 4 * share**2 * sensor.read_noise**2)) / 2.0
    expected = -math.log2(electrons / middle)
    steps = bracket(controls(curve="linear", bits=12, iso=6400, nd=5.0), range(-9, 2))
    native = measured(steps, snr).profile.natives[0]
    # At ISO 6400 with three stops more ND the card is again at middle grey, on an eighth of the electrons.
    assert native.stops_below == pytest.approx(expected - 3.0, abs=0.15)


def test_iso_moves_the_clip() -> None:
    """Two stops more ISO take two stops less light for middle grey: two more are left above, two fewer below."""
    plain = measured(bracket(controls(curve="acescct"))).profile.natives[0]
    pushed = measured(bracket(controls(curve="acescct", iso=3200, nd=4.0), range(-6, 11))).profile.natives[0]
    assert pushed.stops_above - plain.stops_above == pytest.approx(2.0, abs=0.05)
    assert pushed.stops_below - plain.stops_below == pytest.approx(-2.0, abs=0.2)


def test_noise_is_that_of_the_sensor() -> None:
    """On a linear curve the standard deviation of luma is the sensor's (EMVA 1288), three channels mixed."""
    profile = measured(bracket(controls(12, curve="linear"), range(-6, 3), frames=8)).profile
    sensor = Sensor()
    for stops, noise in zip(profile.response.stops, profile.response.noise_percent, strict=True):
        electrons = GREY * sensor.electrons_per_unit * 2.0**stops
        one = math.sqrt(electrons + sensor.read_noise**2) / sensor.electrons_per_unit
        assert noise == pytest.approx(100 * one * LUMA_NOISE, rel=0.06), stops


def test_an_exposure_beside_the_curve_is_told() -> None:
    """All steps half a stop up: the same curve, exposed half a stop above it."""
    profile = measured(bracket(controls(curve="acescct", nd=1.5), range(-7, 7))).profile
    assert profile.curve == "acescct" and profile.curve_offset == pytest.approx(0.5, abs=0.04)


def test_ends_that_were_not_reached_are_at_least() -> None:
    found = measured(bracket(controls(curve="acescct"), range(-3, 4)))
    native = found.profile.natives[0]
    assert native.above_at_least and native.below_at_least and found.profile.clip_percent is None
    assert (native.stops_above, native.stops_below) == (3.0, 3.0)
    assert any("at least +3" in note for note in found.notes) and any("at least 3" in note for note in found.notes)


def test_the_order_of_the_steps_does_not_matter() -> None:
    steps = bracket(controls(curve="acescct"), range(-5, 6), frames=2)
    assert measured(steps[::-1]) == measured(steps)


ENCODING = Encoding(bits=10, range="narrow", matrix="bt709")


def step(
    stops: float, level: float | None = None, noise: float = 0.002, drift: float = 0.0, **more: object
) -> StepReading:
    """A step of an ACEScct camera whose signal stops at 0.75, unless a level is given."""
    signal = min(0.75, float(curve("acescct").encode(np.array(GREY * 2.0**stops)))) if level is None else level
    made = StepReading(
        stops=stops, level=signal, noise=0.0 if signal >= 0.75 else noise, drift=drift, code=1 / 876,
        frames=8, rgb=(signal,) * 3, bits=10, encoding=ENCODING,
    )  # fmt: skip
    return msgspec.structs.replace(made, **more)


GOOD = [step(s) for s in range(-5, 9)]


def changed(stops: float, new: StepReading) -> list[StepReading]:
    return [new if each.stops == stops else each for each in GOOD]


def test_the_plain_bracket_is_good() -> None:
    profile = measured(GOOD).profile
    assert profile.clip_percent == 75.0 and profile.curve == "acescct"
    # 0.75 is (0.75 * 17.52 - 9.72) stops over 1.0, which is 2.474 over middle grey (Academy S-2016-001).
    assert profile.natives[0].stops_above == pytest.approx(0.75 * 17.52 - 9.72 - math.log2(GREY), abs=0.01)


@pytest.mark.parametrize(
    "steps,says",
    [
        ([], "the bracket: 0 steps make no bracket; give 4 or more"),
        (GOOD[:3], "3 steps make no bracket"),
        ([*GOOD, step(2)], "step +2 is given twice"),
        (changed(1, step(1, bits=8)), "steps 0 and +1 differ in depth, range or matrix; use one setting"),
        (
            changed(2, step(2, encoding=msgspec.structs.replace(ENCODING, range="full"))),
            "steps +1 and +2 differ in depth, range or matrix",
        ),
        (changed(2, step(2, level=0.40)), "step +2 is darker (40.0 IRE) than step +1 (47.1 IRE); check the filters"),
        (changed(1, step(1, level=step(0).level + 1e-3)), "step +1: it reads as +0.0 stops against its neighbours"),
        (changed(-2, step(-2, level=step(-1.4).level)), "step -2: it reads as -1.4 stops against its neighbours"),
        (changed(0, step(0, drift=0.02)), "step 0: the light changes by 0.35 stops while it is read; use steady light"),
        ([step(s) for s in range(6, 14)], "only 1 of the steps lie between black and the clip; add steps"),
        ([step(s) for s in range(3, 9)], "only 3 of the steps lie between black and the clip"),
        ([step(s) for s in range(1, 9)], "middle grey lies outside the steps that rise; begin with step 0"),
        ([step(s) for s in range(-8, -1)], "middle grey lies outside the steps that rise"),
        ([step(s, noise=0.0) for s in range(-3, 4)], "no step shows any noise, so noise cannot be measured"),
        ([step(s, noise=0.2) for s in range(-3, 4)], "even the brightest step has a signal-to-noise ratio of only"),
    ],
)
def test_brackets_that_contradict_themselves_are_one_line(steps: list[StepReading], says: str) -> None:
    with pytest.raises(Unmeasurable) as caught:
        measured(steps)
    line = caught.value.line()
    assert says in line and "\n" not in line and caught.value.exit_code == 1


def test_a_coloured_card_is_remarked() -> None:
    found = measured(changed(0, step(0, rgb=(0.50, 0.41, 0.33))))
    assert any("not neutral (R 50 G 41 B 33 IRE)" in note for note in found.notes)


def test_black_that_no_longer_falls_is_left_out() -> None:
    crushed = [step(s, level=0.09 + 1e-6 * s, noise=0.0005) for s in (-9, -8, -7, -6)]
    profile = measured([*crushed, *GOOD]).profile
    assert profile.response.stops[0] == -6.0, "the last of the flat ones begins the rise"


def test_one_full_step_alone_is_known_by_its_silence() -> None:
    """The brightest step rises half as far as it should and its noise is gone: the sensor is full there."""
    steps = [each for each in GOOD if each.stops <= 5] + [step(6, level=0.725, noise=0.0001)]
    profile = measured(steps).profile
    assert profile.clip_percent == 72.5 and profile.response.stops[-1] == 5.0
    noisy = measured([each for each in GOOD if each.stops <= 5] + [step(6, level=0.725)]).profile
    assert noisy.clip_percent is None, "with its noise it may be a shoulder"
    assert noisy.response.stops[-1] == 5.0 and noisy.natives[0].above_at_least


def test_noise_below_rounding_counts_as_rounding() -> None:
    """A code's rounding has a standard deviation of 1/sqrt(12) code: no camera is better than its codes."""
    silent = measured([step(s, noise=0.002 if s < 0 else 0.0) for s in range(-4, 5)]).profile
    slope = 1 / 17.52
    expected = slope / math.log(2) / (1 / 876 / math.sqrt(12))
    assert silent.response.snr[5] == pytest.approx(expected, rel=0.01)


def test_a_scene_without_noise_is_refused() -> None:
    with pytest.raises(Unmeasurable, match="no step shows any noise"):
        measured(bracket(controls(noise=False, sway=False, curve="acescct"), frames=2))


def test_steps_without_noise_give_the_curve_and_the_clip() -> None:
    found = measured([msgspec.structs.replace(each, noise=None) for each in GOOD])
    whole = measured(GOOD).profile
    assert found.profile.response.percent == whole.response.percent and found.profile.clip_percent == 75.0
    assert found.profile.response.snr == found.profile.response.noise_percent == ()
    assert found.profile.noise_percent is None and found.profile.natives[0].below_at_least
    assert found.notes == ("noise was not measured: the stops below are those of the darkest step, 5",)


def test_no_known_curve_is_near_a_strange_one() -> None:
    odd = [step(s, level=0.4 + 0.25 * math.tanh(s / 2.5)) for s in range(-5, 6)]
    assert measured(odd).profile.curve is None
