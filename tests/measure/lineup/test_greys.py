"""Grey ramps and steps: even in signal, even in light, and a stop apart, through every curve.

Curves are those of ITU-R BT.709-6 item 1.2, BT.2100 tables 4 and 5, IEC 61966-2-1, Academy S-2016-001 and
S-2014-003, and Cineon; their own figures are checked in tests/signal. ACEScct is written out here once more.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.lineup import look
from analysis.signal.curves import curve, names
from tests.measure.lineup import renders
from tests.measure.lineup.test_pictures import acescct

SIZE = (640, 360)


def scale(steps: int | None = None, size: tuple[int, int] = SIZE) -> np.ndarray:
    return renders.ramp(*size, steps)


def stops(low: float, steps: int) -> np.ndarray:
    """Light of steps one stop apart, the first ``low`` stops from an 18 % card."""
    return 0.18 * np.exp2(low + scale(steps) * (steps - 1))


@pytest.mark.parametrize("layout", ["yuv420p", "yuv422p10le", "rgb24", "gray", "gray10le"])
@pytest.mark.parametrize("steps", [None, 8, 11])
@pytest.mark.parametrize("written", ["narrow", "full"])
def test_even_signal_tells_the_range(layout: str, steps: int | None, written: str) -> None:
    name = "grey ramp" if steps is None else f"grey steps ({steps})"
    for declared in ("narrow", "full"):
        made = renders.frame(renders.grey(scale(steps)), layout, written=written, declared=declared)
        found = look(made)
        assert found.pattern == name
        assert found.true == (written == declared)
        assert [fault.what for fault in found.faults] == ([] if written == declared else ["range"])


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720), (720, 576), (320, 180)])
def test_every_size(size: tuple[int, int]) -> None:
    for steps in (None, 10):
        assert look(renders.frame(renders.grey(scale(steps, size)), "yuv420p")).true


def test_a_ramp_from_white_to_black_is_one_too() -> None:
    for steps in (None, 9):
        assert look(renders.frame(renders.grey(scale(steps)[:, ::-1]), "yuv420p")).true


def test_a_ramp_between_pads_of_black_and_white() -> None:
    levels = np.clip((scale() - 0.15) / 0.7, 0.0, 1.0)
    found = look(renders.frame(renders.grey(levels), "yuv420p"))
    assert found.pattern == "grey ramp" and found.true


@pytest.mark.parametrize("gain,lift,word", [(0.95, 0.0, "gain"), (1.05, 0.0, "gain"), (0.95, 0.05, "black")])
def test_level_errors_of_a_ramp(gain: float, lift: float, word: str) -> None:
    for steps in (None, 11):
        (fault,) = look(renders.frame(renders.grey(scale(steps)), "yuv422p", gain=gain, lift=lift)).faults
        assert fault.what == "level" and word in fault.detail


def test_a_ramp_made_narrow_twice() -> None:
    (fault,) = look(renders.frame(renders.squeezed(renders.grey(scale())), "yuv422p")).faults
    assert fault.what == "range" and "narrow once more" in fault.detail


@pytest.mark.parametrize("name", [name for name in names() if name not in ("linear", "acescc")])
@pytest.mark.parametrize("steps", [None, 9])
def test_even_light_answers_to_its_curve(name: str, steps: int | None) -> None:
    levels = renders.grey(curve(name).encode(scale(steps)))
    right = look(renders.frame(levels, "yuv422p10le", curve=name))
    assert right.true and right.pattern is not None and right.pattern.endswith("even steps of light")
    other = "acescct" if name != "acescct" else "bt709"
    wrong = look(renders.frame(levels, "yuv422p10le", curve=other))
    assert not wrong.true
    (fault,) = wrong.faults
    assert fault.what == "curve" and name in fault.detail and other in fault.detail
    assert f"--curve {name}" in fault.set
    (unsaid,) = look(renders.frame(levels, "yuv422p10le")).faults
    assert unsaid.what == "curve" and "no curve is declared" in unsaid.detail


@pytest.mark.parametrize("layout", ["yuv420p", "yuv422p10le"])
def test_steps_a_stop_apart_through_acescct(layout: str) -> None:
    """One stop of ACEScct is 1/17.52 of the range: 12.5 codes of 8 bit (Academy S-2016-001, section 4)."""
    made = renders.frame(renders.grey(acescct(stops(-4.0, 11))), layout, curve="acescct")
    found = look(made)
    assert found.pattern == "grey steps (11), one stop apart" and found.true
    unit = 219 * (1 if layout == "yuv420p" else 4) / 17.52
    codes = [bar.found[0] for bar in found.bars]
    assert np.diff(codes) == pytest.approx(unit, abs=1.0)
    (fault,) = look(renders.told(made, curve="cineon")).faults
    assert fault.what == "curve" and "acescct" in fault.detail


def test_curves_that_cannot_be_told_apart_are_all_named() -> None:
    """ACEScc and ACEScct share their logarithm above light 0.0078 (S-2014-003 and S-2016-001, section 4)."""
    made = renders.frame(renders.grey(acescct(stops(-4.0, 9))), "yuv422p10le", curve="bt709")
    (fault,) = look(made).faults
    assert "acescct" in fault.detail and "acescc " in fault.detail.replace(";", " ")
    for name in ("acescct", "acescc"):
        assert look(renders.told(made, curve=name)).true


def test_range_and_curve_at_once() -> None:
    made = renders.frame(
        renders.grey(curve("hlg").encode(scale(9))), "yuv422p10le", written="full", declared="narrow", curve="bt709"
    )
    assert [fault.what for fault in look(made).faults] == ["range", "curve"]


def test_an_unknown_response_is_never_true_and_says_so() -> None:
    for steps in (None, 9):
        found = look(renders.frame(renders.grey(0.2 + 0.6 * scale(steps) ** 1.6), "yuv422p", curve="bt709"))
        assert found.pattern is not None and not found.true
        (fault,) = found.faults
        assert fault.what == "curve" and "any curve known here" in fault.detail


def test_a_declared_curve_nobody_knows_does_no_harm() -> None:
    found = look(renders.frame(renders.grey(curve("bt709").encode(scale())), curve="shore-log"))
    assert not found.true and [fault.what for fault in found.faults] == ["curve"]


@pytest.mark.parametrize("codec,options", [("libx264", {"crf": "20"}), ("mpeg2video", {"qscale": "2"})])
def test_greys_through_lossy_coding(codec: str, options: dict[str, str]) -> None:
    for steps in (None, 11):
        made = renders.frame(renders.grey(scale(steps, (1280, 720))), "yuv420p")
        assert look(renders.through(made, codec, options, 2)).true, steps


def test_greys_with_noise() -> None:
    for steps in (None, 11):
        found = look(renders.frame(renders.grey(scale(steps, (1280, 720))), "yuv420p", noise=2.0))
        assert found.pattern is not None and found.true


@pytest.mark.parametrize("part", [0.05, 0.3])
def test_a_grey_gradient_is_never_true(part: float) -> None:
    """A wall that is lit from one side: from one grey to another, not from black to white."""
    for name in (None, "bt709", "acescct"):
        made = renders.frame(renders.grey(0.5 - part + 2 * part * scale()), "yuv420p", noise=1.0)
        assert not look(renders.told(made, curve=name)).true
