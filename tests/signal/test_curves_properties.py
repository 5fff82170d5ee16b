"""What must hold for every curve, whatever its formula."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.signal.curves import MIDDLE_GREY, curve, names

# BT.709-6 publishes rounded constants: the two parts miss each other by 0.0002 V at the join.
JOIN = (0.0179, 0.0181)


def lights(name: str) -> np.ndarray:
    low = {"pq": 0.0, "acescc": 0.0}.get(name, -0.02)
    return np.concatenate([np.linspace(low, 1.0, 5001), np.geomspace(1e-6, 64.0, 5000)])


@pytest.mark.parametrize("name", names())
def test_round_trip_from_light(name: str) -> None:
    light = lights(name)
    assert light.size == 10_001
    if name == "bt709":
        light = light[(light < JOIN[0]) | (light > JOIN[1])]
    back = curve(name).decode(curve(name).encode(light))
    np.testing.assert_allclose(back, light, rtol=2e-6, atol=2e-9 if name != "acescc" else 1e-8)


@pytest.mark.parametrize("name", names())
def test_round_trip_from_signal(name: str) -> None:
    low = {"pq": 1e-4, "acescc": -0.3584}.get(name, -0.0685)
    signal = np.linspace(low, 1.0868, 10_001)
    if name == "pq":
        signal = signal[signal <= 1.0]
    if name == "bt709":
        signal = signal[(signal < 0.0810) | (signal > 0.0813)]
    back = curve(name).encode(curve(name).decode(signal))
    np.testing.assert_allclose(back, signal, atol=2e-6)


@pytest.mark.parametrize("bits", [8, 10, 12])
@pytest.mark.parametrize("name", names())
def test_every_narrow_code_comes_back(name: str, bits: int) -> None:
    """ITU-R BT.709-6 item 3.4: code to V to light to V to the same code, black to white."""
    scale = 2 ** (bits - 8)
    codes = np.arange(16 * scale, 235 * scale + 1)
    if name == "bt709":
        codes = codes[codes != 540] if bits == 12 else codes  # the one code that lies inside the step of the join
    v = (codes / scale - 16) / 219
    again = curve(name).encode(curve(name).decode(v))
    np.testing.assert_array_equal(np.floor((219 * again + 16) * scale + 0.5).astype(int), codes)


@pytest.mark.parametrize("name", names())
@given(a=st.floats(-0.05, 100.0), b=st.floats(-0.05, 100.0))
def test_more_light_never_gives_less_signal(name: str, a: float, b: float) -> None:
    low, high = sorted((a, b))
    signal = curve(name).encode(np.array([low, high]))
    assert signal[0] <= signal[1] + 1e-12


@pytest.mark.parametrize("name", names())
@given(a=st.floats(-0.07, 1.0), b=st.floats(-0.07, 1.0))
def test_more_signal_never_means_less_light(name: str, a: float, b: float) -> None:
    low, high = sorted((a, b))
    light = curve(name).decode(np.array([low, high]))
    assert light[0] <= light[1] + 1e-12


@pytest.mark.parametrize("name", names())
@given(stops=st.floats(-5.0, 2.0))
def test_stops_survive_the_curve(name: str, stops: float) -> None:
    """A card s stops from middle grey reads s stops after the round trip, whichever the curve."""
    light = np.array(MIDDLE_GREY * 2.0**stops)
    back = float(curve(name).decode(curve(name).encode(light)))
    assert np.log2(back / MIDDLE_GREY) == pytest.approx(stops, abs=2e-2 if name == "bt709" else 1e-6)


@pytest.mark.parametrize("name", names())
@pytest.mark.parametrize("shape", [(), (5,), (2, 3), (2, 3, 3)])
def test_shape_is_kept_and_input_untouched(name: str, shape: tuple[int, ...]) -> None:
    light = np.full(shape, 0.18)
    before = light.copy()
    assert curve(name).encode(light).shape == shape
    assert curve(name).decode(light).shape == shape
    np.testing.assert_array_equal(light, before)


@pytest.mark.parametrize("name", names())
def test_no_warning_and_no_nan_on_wild_input(name: str) -> None:
    wild = np.array([-10.0, -1.0, -1e-9, 0.0, 1e-12, 1.0, 70000.0])
    assert np.all(np.isfinite(curve(name).encode(wild)))
    assert np.all(np.isfinite(curve(name).decode(np.array([-1.0, -0.07, 0.0, 0.5, 1.0, 1.09]))))


@pytest.mark.parametrize("name", names())
def test_middle_grey_has_one_meaning(name: str) -> None:
    assert float(curve(name).decode(np.array(curve(name).middle))) == pytest.approx(MIDDLE_GREY, rel=1e-6)
