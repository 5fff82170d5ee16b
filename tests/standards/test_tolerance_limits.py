"""The preferred range of EBU R 103 (v3.0, May 2020): code ramps, the 1 % limit, and colours that fail with legal luma.

5 to 246 at 8 bits and 20 to 984 at 10 as EBU QC item 0051B counts them; 80 to 3936 at 12 bits from memory, four times
the 10-bit figures. 1 % of a 1080p picture is 20,736 pixels. No conformance is claimed by the program.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.sample import Sampler
from analysis.measure.tolerance import ToleranceMeter, estimate, preferred_codes
from analysis.model.frame import Frame
from analysis.model.reading import Tolerance
from analysis.signal.levels import percent
from analysis.signal.matrix import encode
from tests.measure import plain


def exact(frame: Frame, filtered: str = "none") -> Tolerance:
    return ToleranceMeter(frame.format, filtered).measure(frame, (0, 0, frame.format.width, frame.format.height))


def ramp(first: int, last: int, layout: str, rows: int = 8) -> Frame:
    """A picture whose every row holds each code from ``first`` to ``last`` once, without colour."""
    dtype = np.uint8 if last < 256 else np.uint16
    luma = np.ascontiguousarray(np.broadcast_to(np.arange(first, last + 1, dtype=dtype), (rows, last - first + 1)))
    middle = {256: 128, 1024: 512, 4096: 2048}[last + 1 if last > 255 else 256]
    planes = (luma,) if layout.startswith("gray") else (luma, np.full_like(luma, middle), np.full_like(luma, middle))
    return plain.frame_of(planes, layout, luma.shape[1], rows)


@pytest.mark.parametrize("layout", ["gray", "yuv444p"])
def test_full_8_bit_ramp(layout: str) -> None:
    """Below 5: 1.953 %; above 246: 3.516 %."""
    found = exact(ramp(0, 255, layout))
    assert found.luma == pytest.approx(1.953125 + 3.515625, abs=1e-12)
    for share in (found.r, found.g, found.b):
        assert share == (None if layout == "gray" else found.luma)
    assert found.any == found.luma and not found.within and not found.estimated


@pytest.mark.parametrize("layout,last,below,above", [("yuv444p10le", 1023, 20, 39), ("yuv444p12le", 4095, 80, 159)])
def test_deeper_ramps(layout: str, last: int, below: int, above: int) -> None:
    assert exact(ramp(0, last, layout)).any == 100.0 * (below + above) / (last + 1)


def test_nominal_ramp_is_inside() -> None:
    """16 to 235 reaches neither end: at or above 246 0 %."""
    assert exact(ramp(16, 235, "yuv444p")) == Tolerance(any=0.0, luma=0.0, r=0.0, g=0.0, b=0.0, within=True)


@pytest.mark.parametrize("bits,codes", [(8, (5, 246)), (10, (20, 984)), (12, (80, 3936))])
def test_limits_lie_at_minus_5_and_105_percent(bits: int, codes: tuple[int, int]) -> None:
    assert preferred_codes(bits) == codes
    assert percent(codes[0], bits, "narrow") == pytest.approx(-5.02, abs=0.005)
    assert percent(codes[1], bits, "narrow") == pytest.approx(105.02, abs=0.005)


@pytest.mark.parametrize("code,level", [(247, "above"), (4, "below")])
@pytest.mark.parametrize("pixels,within", [(20_736, True), (20_737, False)])
@pytest.mark.parametrize("layout", ["yuv422p", "gray"])
def test_one_percent_of_a_1080p_picture(pixels: int, within: bool, code: int, level: str, layout: str) -> None:
    luma = np.full((1080, 1920), 120, np.uint8)
    luma.flat[np.random.default_rng(1).choice(luma.size, pixels, replace=False)] = code
    chroma = np.full((1080, 960), 128, np.uint8)
    planes = (luma, chroma, chroma.copy()) if layout == "yuv422p" else (luma,)
    found = exact(plain.frame_of(planes, layout, 1920, 1080))
    assert found.within is within, level
    assert found.any == found.luma == pytest.approx(100.0 * pixels / 2_073_600, abs=1e-9)


def test_the_limits_themselves_are_inside() -> None:
    luma = np.full((64, 64), 5, np.uint8)
    luma[32:] = 246
    assert exact(plain.frame_of((luma,), "gray", 64, 64)).any == 0.0


# Colours given as R'G'B' parts of the range. Luma of each is legal; the channel named is not.
@pytest.mark.parametrize(
    "rgb,channel",
    [
        ((1.10, 0.3, 0.3), "r"),
        ((0.3, 0.3, 1.12), "b"),
        ((0.2, 1.07, 0.2), "g"),
        ((-0.07, 0.5, 0.5), "r"),
        ((0.6, 0.6, -0.08), "b"),
    ],
)
@pytest.mark.parametrize("layout", ["yuv444p", "yuyv422", "yuv422p10le"])
def test_a_saturated_colour_fails_with_legal_luma(rgb: tuple[float, float, float], channel: str, layout: str) -> None:
    bits = 10 if layout.endswith("10le") else 8
    codes = [round(value) for value in encode(rgb, "bt709", bits, "narrow")]
    if layout == "yuyv422":
        planes = (np.tile(np.array([codes[0], codes[1], codes[0], codes[2]], np.uint8), (32, 32)),)
    else:
        dtype, across = (np.uint16, 2) if bits == 10 else (np.uint8, 1)
        planes = tuple(np.full((32, 64 // (across if index else 1)), code, dtype) for index, code in enumerate(codes))
    frame = plain.frame_of(planes, layout, 64, 32)
    found = exact(frame)
    assert found.luma == 0.0 and found.any == 100.0 and not found.within
    assert {name for name in "rgb" if getattr(found, name)} == {channel}
    seen = estimate(Sampler(frame.format).take(frame, (0, 0, 64, 32)), frame.format)
    assert (seen.any, seen.luma, getattr(seen, channel), seen.estimated) == (100.0, 0.0, 100.0, True)


def test_75_and_100_percent_bars_are_inside() -> None:
    """Every colour of bars has R'G'B' of 0, 0.75 or 1 (ITU-R BT.471, BT.801: 75 % and 100 % bars)."""
    for top in (0.75, 1.0):
        for number in range(8):
            rgb = tuple(top * float(number >> bit & 1) for bit in range(3))
            planes = tuple(np.full((8, 8), round(code), np.uint8) for code in encode(rgb, "bt709", 8, "narrow"))
            assert exact(plain.frame_of(planes, "yuv444p", 8, 8)).any == 0.0
