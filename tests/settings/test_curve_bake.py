"""Baked tables against the library, for every log curve it has, by its own list of names."""

from __future__ import annotations

import inspect
import sys

import numpy as np
import pytest

from analysis.model.errors import StopkeeperError, UsageError
from analysis.settings.curve_bake import WITHIN, bake, offered
from analysis.signal.curves import curve
from analysis.signal.curves.written import parse_csv
from tests.support.colour_library import colour_library

STOPS = np.linspace(-8.0, 8.0, 4001)
STAIRS_AND_DIPS = 1e-3
"""One curve of the library is rounded to 10-bit codes, and two step back where rounded constants join."""


def signal_of_the_library(name: str, unit: str) -> tuple[np.ndarray, np.ndarray]:
    """Light and signal, asked of the library in its own way: it turns shares of codes into IRE itself where it can."""
    colour = colour_library()
    function = colour.LOG_ENCODINGS[name]
    light = 0.18 * 2.0**STOPS
    with np.errstate(all="ignore"):
        if unit == "level":
            return light, np.asarray(function(light))
        return light, np.asarray(function(light, out_normalised_code_value=False))


def test_every_log_curve_of_the_library_within_its_stated_error() -> None:
    names = list(colour_library().LOG_ENCODINGS)
    assert list(offered()) == names and len(names) >= 32
    coarse = []
    for number, name in enumerate(names):
        baked = bake(name)
        light, expected = signal_of_the_library(name, baked.unit)
        inside = (baked.low <= STOPS) & (baked.high >= STOPS)
        table = parse_csv(baked.text, "baked", "baked.csv")
        missed = np.abs(table.encode(light[inside]) - expected[inside]).max()
        assert missed <= baked.error * 1.05 + 1e-7, f"curve {number} of the list misses by {missed}"
        if baked.error > WITHIN:
            coarse.append(number)
            assert baked.error < STAIRS_AND_DIPS, f"curve {number} of the list"
        assert baked.low <= -7.0 and baked.high == 8.0, f"curve {number} of the list reaches {baked.low}"
        assert baked.rows < 1000 and len(baked.text) < 25_000
        back = table.decode(table.encode(light[inside]))
        np.testing.assert_allclose(back, light[inside], rtol=1e-7)
    assert len(coarse) <= 3, coarse


def test_shares_of_codes_are_taken_as_the_library_says() -> None:
    colour = colour_library()
    for number, (name, function) in enumerate(colour.LOG_ENCODINGS.items()):
        shares = "out_normalised_code_value" in inspect.signature(function).parameters
        assert bake(name).unit == ("code" if shares else "level"), f"curve {number} of the list"


def test_open_curves_agree_with_the_closed_forms() -> None:
    """Academy S-2016-001; Cineon printing density; ERIMM RGB: 18 % at 0.4100524 (published by the library)."""
    colour_library()
    for name in ("ACEScct", "Cineon"):
        table = parse_csv(bake(name).text, "baked", "x")
        light = 0.18 * 2.0**STOPS
        assert np.abs(table.encode(light) - curve(name).encode(light)).max() < WITHIN
    assert parse_csv(bake("ERIMM RGB").text, "x", "x").middle == pytest.approx(0.4100524, abs=WITHIN)
    assert parse_csv(bake("Log2").text, "x", "x").middle == pytest.approx(0.5, abs=WITHIN)


def test_the_unit_can_be_said() -> None:
    """Cineon as shares of codes: 18 % at 467.8 of 1023 is (467.8 - 64) / 876 in narrow range."""
    colour_library()
    assert bake("Cineon", "code").unit == "code"
    middle = parse_csv(bake("Cineon", "code").text, "x", "x").middle
    assert middle == pytest.approx((467.838 - 64) / 876, abs=WITHIN)


def test_names_in_any_capitals_and_slips() -> None:
    colour_library()
    assert bake(" acescct ").library_name == "ACEScct"
    with pytest.raises(UsageError, match='acesct: the library has no log curve of this name; did you mean "ACEScct"'):
        bake("acesct")
    with pytest.raises(UsageError, match="curves list --library names them"):
        bake("zzzzzz")


def test_the_source_names_the_library_and_the_unit() -> None:
    colour = colour_library()
    made = parse_csv(bake("ACEScct").text, "x", "x")
    assert made.source == f"colour-science {colour.__version__}, log curve ACEScct; signal as the library has it"


def test_without_the_library_one_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("colour", "colour.models"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(StopkeeperError) as caught:
        bake("ACEScct")
    assert caught.value.line() == (
        "the colour-science library is not installed; install it with pip install 'stopkeeper[curves]'"
    )
    assert caught.value.exit_code == 1


def test_nothing_that_runs_always_imports_the_library() -> None:
    import subprocess

    lines = "import sys, analysis.watch, tui.cli.curves, analysis.settings.curve_bake; print('colour' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.strip() == "False"
