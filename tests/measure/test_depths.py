"""The darkest channel of every pixel in stops: flat fields through a curve, colours, samples and whole pictures."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.depths import HIGH, LOW, STEP, DepthsMeter
from analysis.measure.sample import Sampler
from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.signal.curves import curve

WIDE, TALL = 64, 36


def flat(levels: tuple[float, float, float], name: str = "bt709") -> tuple[DepthsMeter, Frame]:
    """A 10-bit picture of one R'G'B' (V), narrow range, BT.709 matrix (ITU-R BT.709-6 items 3.2 to 3.4)."""
    red, green, blue = levels
    luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    codes = (876 * luma + 64, 896 * (blue - luma) / 1.8556 + 512, 896 * (red - luma) / 1.5748 + 512)
    planes = tuple(
        np.full((TALL, WIDE if number == 0 else WIDE // 2), round(value), np.uint16)
        for number, value in enumerate(codes)
    )
    shape = FrameFormat(
        layout="yuv422p10le", width=WIDE, height=TALL, encoding=Encoding(bits=10, range="narrow", matrix="bt709")
    )
    frame = Frame(planes=planes, format=shape, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    return DepthsMeter(shape, curve(name)), frame


def place(table: object) -> float:
    counts = np.asarray(table.counts)  # type: ignore[attr-defined]
    assert counts.sum() == pytest.approx(100.0)
    return LOW + STEP * (int(counts.argmax()) + 0.5)


@pytest.mark.parametrize("stops", [-8.1, -5.1, -3.1, -1.1, 0.9])
@pytest.mark.parametrize("name", ["bt709", "acescct"])
def test_grey_lies_where_its_light_is(stops: float, name: str) -> None:
    v = float(curve(name).encode(np.array(0.18 * 2.0**stops)))
    meter, frame = flat((v, v, v), name)
    assert place(meter.look_closely(frame, (0, 0, WIDE, TALL))) == pytest.approx(stops, abs=STEP)


def test_the_darkest_channel_counts() -> None:
    red, green, blue = (float(curve("bt709").encode(np.array(0.18 * 2.0**stops))) for stops in (0.0, -1.0, -4.1))
    meter, frame = flat((red, green, blue))
    assert place(meter.look_closely(frame, (0, 0, WIDE, TALL))) == pytest.approx(-4.1, abs=STEP)


@pytest.mark.parametrize("level", [0.0, -0.03])
def test_no_light_is_in_the_first_bin(level: float) -> None:
    meter, frame = flat((level,) * 3)
    assert meter.look_closely(frame, (0, 0, WIDE, TALL)).counts[0] == pytest.approx(100.0)


def test_a_sample_tells_the_same_of_a_flat_picture() -> None:
    meter, frame = flat((0.3, 0.3, 0.3))
    sampled = meter.look(Sampler(frame.format).take(frame, (0, 0, WIDE, TALL)))
    assert sampled == meter.look_closely(frame, (0, 0, WIDE, TALL))
    assert sampled.low + sampled.step * len(sampled.counts) == HIGH
