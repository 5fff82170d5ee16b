"""Rows of a picture: the right pixels, the right colours, in every layout."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.measure.ceiling_samples import ROWS, reach, samples_of
from analysis.model.errors import FeedUnreadable
from analysis.signal.layouts import LAYOUTS
from tests.measure import plain


def group_rgb(frame) -> list[np.ndarray]:
    """R'G'B' of the mean luma of each whole group, in floating point."""
    how = LAYOUTS[frame.format.layout]
    if how.is_rgb:
        return [part.astype(float) for part in plain.components(frame)]
    across, down = 1 << how.log2_width, 1 << how.log2_height
    exact = [value for _, value in plain.rgb_rounded(frame)]
    rows, columns = (size // step * step for size, step in zip(exact[0].shape, (down, across), strict=True))
    return [part[:rows, :columns].reshape(rows // down, down, columns // across, across).mean((1, 3)) for part in exact]


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_against_whole_pictures(name: str) -> None:
    how = LAYOUTS[name]
    frame = plain.frame_of(plain.random_planes(how, 32, 24, np.random.default_rng(3)), name, 32, 24)
    found = samples_of(frame, (0, 0, 32, 24), frame.format.encoding, rows=1000)
    drop = max(0, how.depth - 10)
    assert found.bits == how.depth - drop
    if not how.is_rgb:
        luma = plain.components(frame)[0][:: 1 << how.log2_height] >> drop
        assert np.array_equal(found.luma, luma)
    if how.is_grey:
        assert found.rgb is None
        return
    assert found.rgb is not None
    top = reach(found.bits, frame.format.encoding.range)
    for channel, expected in zip(found.rgb, group_rgb(frame), strict=True):
        expected = np.clip(expected / (1 << drop), 0, top)
        assert channel.shape == expected.shape
        assert np.abs(channel - expected).max() <= (
            0.51 if not drop else 2.9
        )  # codes lose the lowest bits of Y and of C


def test_an_even_channel_is_even_though_luma_is_not() -> None:
    """Red held at one code while green varies from pixel to pixel: exact at the group, not at each pixel."""
    green = np.random.default_rng(1).uniform(60, 150, (16, 32, 2))
    luma = 0.2126 * 206 + 0.7152 * green + 0.0722 * 90
    red = (206 - luma.mean(axis=2)) / 1.5748 * 224 / 219 + 128
    blue = (90 - luma.mean(axis=2)) / 1.8556 * 224 / 219 + 128
    planes = (luma.reshape(16, 64), blue, red)
    frame = plain.frame_of(tuple(np.rint(plane).astype(np.uint8) for plane in planes), "yuv422p", 64, 16)
    found = samples_of(frame, (0, 0, 64, 16), frame.format.encoding)
    assert found.rgb is not None
    assert np.abs(found.rgb[0] - 206).max() <= 2
    assert np.ptp(plain.rgb_codes(frame)[0]) > 20


def test_only_the_area_is_looked_at_and_rows_change() -> None:
    plane = np.repeat(np.arange(400, dtype=np.uint16)[:, None], 64, axis=1)
    chroma = np.full((400, 32), 512, np.uint16)
    seen: set[int] = set()
    for sequence in range(0, 40, 4):
        frame = plain.frame_of((plane.copy(), chroma.copy(), chroma.copy()), "yuv422p10le", 64, 400, sequence=sequence)
        found = samples_of(frame, (8, 100, 40, 200), frame.format.encoding)
        assert found.luma.shape[1] == 40
        assert ROWS <= found.luma.shape[0] <= ROWS + 1
        assert found.luma.min() >= 100
        assert found.luma.max() < 300
        seen |= set(found.luma[:, 0].tolist())
    assert len(seen) > 4 * ROWS


@pytest.mark.parametrize("size", [(1, 1), (2, 1), (5, 3), (33, 17)])
@pytest.mark.parametrize("name", ["yuv420p", "nv12", "yuv422p10le", "yuv411p", "gray", "bgr24", "gbrp10le"])
def test_odd_and_tiny_pictures(name: str, size: tuple[int, int]) -> None:
    width, height = size
    frame = plain.frame_of(
        plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(1)), name, width, height
    )
    found = samples_of(frame, (0, 0, width, height), frame.format.encoding)
    assert found.luma.shape[1] == width
    assert found.luma.shape[0] >= 1


def test_the_planes_are_not_written() -> None:
    planes = plain.random_planes(LAYOUTS["p010le"], 32, 24, np.random.default_rng(3))
    frame = plain.frame_of(planes, "p010le", 32, 24)
    before = [plane.copy() for plane in frame.planes]
    found = samples_of(frame, (0, 0, 32, 24), frame.format.encoding)
    assert all(np.array_equal(a, b) for a, b in zip(before, frame.planes, strict=True))
    assert not any(np.shares_memory(found.luma, plane) for plane in frame.planes)


def test_a_layout_nobody_reads() -> None:
    frame = plain.frame_of(plain.random_planes(LAYOUTS["gray"], 8, 8, np.random.default_rng(3)), "gray", 8, 8)
    other = type(frame.format)(layout="pal8", width=8, height=8, encoding=frame.format.encoding)
    with pytest.raises(FeedUnreadable):
        samples_of(type(frame)(**{**{f: getattr(frame, f) for f in frame.__struct_fields__}, "format": other}),
                   (0, 0, 8, 8), other.encoding)  # fmt: skip
