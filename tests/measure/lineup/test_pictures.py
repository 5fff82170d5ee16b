"""What may stand around and upon a line-up picture: black edges, a shift, scaling, noise, a curve, a limiter."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import pytest

from analysis.measure.lineup import look
from analysis.model.frame import Frame
from tests.measure import plain
from tests.measure.lineup import renders
from tests.standards import lavfi


def signal(size: tuple[int, int] = (1280, 720)) -> np.ndarray:
    """R'G'B' parts of the multi-pattern bars, from FFmpeg's own codes by the plain arithmetic of the tests."""
    made = lavfi.drawn("smptehdbars", "yuv444p12le", *size)
    exact = [channel.astype(float) for _, channel in plain.rgb_rounded(made)]
    return (np.stack(exact, axis=2) - 256.0) / 3504.0


def scaled(made: Frame, factor: float, x: float, y: float) -> Frame:
    """The picture made smaller and moved, black around it."""
    how = np.array([[factor, 0.0, x], [0.0, factor, y]])
    size = made.format.width, made.format.height
    planes = tuple(
        np.ascontiguousarray(
            cv2.warpAffine(plane, how, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=edge)
        )
        for plane, edge in zip(made.planes, (16, 128, 128), strict=True)
    )
    return msgspec.structs.replace(made, planes=planes)


@pytest.mark.parametrize("top,shift", [(90, 0), (0, 14), (44, 22), (90, -6)])
def test_black_edges_and_a_shift(top: int, shift: int) -> None:
    picture = renders.framed(renders.bars(1280, 720), top=top, shift=max(shift, 0))
    if shift < 0:
        picture = np.roll(picture, shift, axis=1)
    assert look(renders.frame(picture, "yuv420p")).true


@pytest.mark.parametrize("factor,x,y", [(0.93, 41.0, 25.0), (0.8, 128.5, 72.5), (0.75, 10.0, 170.0)])
def test_scaled_and_moved(factor: float, x: float, y: float) -> None:
    found = look(scaled(lavfi.drawn("smptehdbars", "yuv444p", 1280, 720), factor, x, y))
    assert found.pattern == "BT.709 multi-pattern (RP 219) bars" and found.true


@pytest.mark.parametrize("noise", [1.0, 2.0, 4.0])
def test_noise_on_the_picture(noise: float) -> None:
    for layout in ("yuv420p", "yuv422p10le", "rgb24"):
        found = look(renders.frame(renders.bars(1280, 720, sides=True), layout, noise=noise))
        assert found.true and found.pattern is not None
        wrong = look(renders.frame(renders.bars(1280, 720, sides=True), layout, noise=noise, gain=0.95))
        assert [fault.what for fault in wrong.faults] == ["level"]


def light_of_709(v: np.ndarray) -> np.ndarray:
    """BT.709-6 item 1.2, inverted."""
    return np.where(v < 0.081, v / 4.5, ((np.maximum(v, 0.081) + 0.099) / 1.099) ** (1 / 0.45))


def acescct(light: np.ndarray) -> np.ndarray:
    """Academy S-2016-001, section 4."""
    low = 10.5402377416545 * light + 0.0729055341958355
    return np.where(light <= 0.0078125, low, (np.log2(np.maximum(light, 0.0078125)) + 9.72) / 17.52)


def srgb(light: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("target", [acescct, srgb])
def test_a_curve_upon_the_bars_is_called_a_curve(target) -> None:
    found = look(renders.frame(target(light_of_709(signal())), "yuv422p"))
    assert found.pattern == "BT.709 multi-pattern (RP 219) bars" and not found.true
    assert [fault.what for fault in found.faults] == ["curve"]
    assert f"as if bt709 had been turned into {target.__name__}" in found.faults[0].detail


def test_a_gamma_upon_the_bars() -> None:
    v = signal()
    found = look(renders.frame(np.sign(v) * np.abs(v) ** 1.2, "yuv422p"))
    assert [fault.what for fault in found.faults] == ["curve"] and "as if" not in found.faults[0].detail


def test_a_limiter_that_cuts_what_is_below_black() -> None:
    found = look(renders.frame(np.clip(signal(), 0.0, 1.0), "yuv422p"))
    (fault,) = found.faults
    assert not found.true and fault.what == "level"
    assert "-2 IRE" in fault.detail and "cut off" in fault.detail and "limiter" in fault.set


def test_full_range_has_no_room_below_black() -> None:
    found = look(renders.frame(signal(), "yuv422p", written="full"))
    assert found.true, "the -2 IRE step is rightly at code 0"
    assert {bar.name: bar.found[0] for bar in found.bars}["-2 IRE"] == 0.0


def test_two_faults_at_once() -> None:
    made = renders.frame(signal(), "yuv422p", written="full", declared="narrow", coded="bt601", matrix="bt709")
    assert [fault.what for fault in look(made).faults] == ["range", "matrix"]


@pytest.mark.parametrize("bar,component,codes", [("green", 1, 7), ("red", 0, -6), ("blue", 2, 9)])
def test_one_bar_that_is_off_takes_the_tick_and_is_named(bar: str, component: int, codes: int) -> None:
    made = renders.frame(renders.bars(640, 360), "yuv444p")
    place = 80 * renders.NAMES.index(bar)
    planes = [plane.copy() for plane in made.planes]
    wrong = planes[component][:, place : place + 80].astype(int) + codes
    planes[component][:, place : place + 80] = wrong.astype(np.uint8)
    found = look(msgspec.structs.replace(made, planes=tuple(planes)))
    assert found.pattern is not None and not found.true
    assert any(bar in fault.detail for fault in found.faults)
    assert {b.name: b for b in found.bars}[bar].difference[component] == codes


@pytest.mark.parametrize("size", [(160, 120), (64, 48), (16, 8), (2, 2)])
def test_small_pictures_do_not_fail(size: tuple[int, int]) -> None:
    found = look(renders.frame(renders.bars(*size), "yuv420p"))
    assert found.pattern is None or found.true


def test_a_corrupt_frame_shows_nothing() -> None:
    made = renders.frame(renders.bars(640, 360))
    assert look(msgspec.structs.replace(made, corrupt=True, planes=())).pattern is None
