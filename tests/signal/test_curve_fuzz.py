"""Whatever stands in a curve file: a rising curve that comes back, or one line."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.model.errors import SettingsError
from analysis.signal.curves import Curve
from analysis.signal.curves.written import parse_csv, parse_toml

LOG = "signal = 'code'\n[log]\nslope = 0.25\ngain = 5\nshift = 0.05\nlift = 0.4\nbase = 10\n[toe]\ncut = 0.01\n"
TABLE = "source = 'us'\n[table]\nstops = [-3, -1.5, 0, 1]\nire = [10, 20, 40, 60]\n"
STEPS = "# source: us\nlight,code10\n0,64\n0.09,300\n0.18,414\n1,940\n"
SIGNAL = np.linspace(-0.0685, 1.09, 201)


def judge(parse: Callable[[str, str, str], Curve], text: str) -> None:
    try:
        made = parse(text, "fuzz", "fuzz.file")
    except SettingsError as error:
        assert "\n" not in error.line() and error.line().isprintable() and len(error.line()) < 400
        return
    light = made.decode(SIGNAL)
    assert np.all(np.isfinite(light)) and np.all(np.diff(light) >= 0.0)
    assert np.all(np.isfinite(made.encode(np.array([-1.0, 0.0, 0.18, 1.0, 1e4]))))


@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    judge(parse_toml, text)
    judge(parse_csv, text)


def damaged(draw: st.DrawFn, text: str) -> str:
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        drop = draw(st.integers(0, 3))
        text = (
            text[:at] + draw(st.text(alphabet="0123456789-.,eE=[]'\"#\n\x00é stopligh", max_size=3)) + text[at + drop :]
        )
    return text


@pytest.mark.parametrize("whole", [LOG, TABLE])
@settings(max_examples=300)
@given(data=st.data())
def test_damaged_toml(whole: str, data: st.DataObject) -> None:
    judge(parse_toml, data.draw(st.composite(lambda draw: damaged(draw, whole))()))


@settings(max_examples=300)
@given(data=st.data())
def test_damaged_csv(data: st.DataObject) -> None:
    judge(parse_csv, data.draw(st.composite(lambda draw: damaged(draw, STEPS))()))


numbers = st.one_of(st.floats(), st.floats(-2.0, 2.0), st.floats(1e-12, 1.0), st.integers())


@settings(max_examples=300)
@given(st.lists(numbers, min_size=6, max_size=6), st.booleans())
def test_any_numbers_in_a_log(values: list[float], toe: bool) -> None:
    keys = ("slope", "gain", "shift", "lift", "base")
    text = "[log]\n" + "".join(f"{key} = {value}\n" for key, value in zip(keys, values, strict=False))
    judge(parse_toml, text + (f"[toe]\ncut = {values[5]}\n" if toe else ""))


@given(st.lists(st.tuples(numbers, numbers), max_size=8))
def test_any_numbers_in_a_table(rows: list[tuple[float, float]]) -> None:
    judge(parse_csv, "stops,signal\n" + "\n".join(f"{a},{b}" for a, b in sorted(rows)))
    judge(parse_csv, "light,ire\n" + "\n".join(f"{a},{b}" for a, b in sorted(rows)))


@pytest.mark.parametrize("text", [LOG, TABLE])
def test_the_whole_ones_are_good(text: str) -> None:
    judge(parse_toml, text)
    assert 0.2 < parse_toml(text, "x", "x").middle < 0.6
    assert parse_csv(STEPS, "x", "x").middle == pytest.approx((414 - 64) / 876)
