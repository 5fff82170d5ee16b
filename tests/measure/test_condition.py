"""Sameness and darkness of pictures, the evidence for a frozen or a dark feed."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.measure.darkness import dark_share
from analysis.measure.sameness import fingerprint
from analysis.model.frame import Picture
from analysis.signal.layouts import LAYOUTS
from tests.measure import plain

NAMES = st.sampled_from(sorted(LAYOUTS))


def random_frame(name: str, width: int, height: int, seed: int):
    planes = plain.random_planes(LAYOUTS[name], width, height, np.random.default_rng(seed))
    return plain.frame_of(planes, name, width, height)


@given(NAMES, st.integers(1, 30), st.integers(1, 30), st.integers(0, 1000))
def test_equal_pictures_have_equal_fingerprints(name: str, width: int, height: int, seed: int) -> None:
    assert fingerprint(random_frame(name, width, height, seed)) == fingerprint(random_frame(name, width, height, seed))


@given(NAMES, st.data())
def test_one_code_anywhere_in_the_first_plane_changes_it(name: str, data: st.DataObject) -> None:
    frame = random_frame(name, 12, 10, 1)
    first = frame.planes[0].copy()
    spot = data.draw(st.integers(0, first.size - 1))
    first.flat[spot] ^= data.draw(st.integers(0, 7).map(lambda bit: 1 << bit))
    changed = plain.frame_of((first, *frame.planes[1:]), name, 12, 10)
    assert fingerprint(changed) != fingerprint(frame)


def test_the_size_and_layout_count_as_well() -> None:
    plane = np.zeros((4, 8), np.uint8)
    prints = {
        fingerprint(plain.frame_of((plane.reshape(shape).copy(),), name, width, height))
        for name, width, height, shape in (
            ("gray", 8, 4, (4, 8)), ("gray", 4, 8, (8, 4)), ("yuyv422", 4, 4, (4, 8)), ("ya8", 4, 4, (4, 8)),
        )
    }  # fmt: skip
    assert len(prints) == 4


def test_it_is_crc32_and_takes_loose_memory() -> None:
    wide = np.random.default_rng(1).integers(0, 256, (6, 20), dtype=np.uint8)
    loose, tight = (plain.frame_of((plane,), "gray", 10, 6) for plane in (wide[:, :10], wide[:, :10].copy()))
    assert fingerprint(loose) == fingerprint(tight) == zlib.crc32(wide[:, :10].tobytes(), zlib.crc32(b"gray 10 6"))
    picture = Picture(planes=tight.planes, format=tight.format)
    assert fingerprint(picture) == fingerprint(tight)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
@pytest.mark.parametrize("span", ["narrow", "full"])
def test_dark_share_of_every_layout(name: str, span: str) -> None:
    how = LAYOUTS[name]
    frame = random_frame(name, 100, 80, 2)
    frame = plain.frame_of(frame.planes, name, 100, 80, span)
    planes = plain.components(frame)
    brightest = np.max(planes, axis=0) if how.is_rgb else planes[0]
    limit = 2 ** (how.depth - 8) * (16 + 21.9) if span == "narrow" else 0.1 * (2**how.depth - 1)
    assert dark_share(frame) == pytest.approx(float((brightest <= limit).mean()))


def test_ten_percent_itself_is_dark() -> None:
    for code, share in ((37, 1.0), (38, 0.0)):  # 16 + 21.9 = 37.9
        assert dark_share(plain.frame_of((np.full((4, 4), code, np.uint8),), "gray", 4, 4)) == share


@pytest.mark.parametrize("width,height", [(1920, 1080), (641, 479), (7680, 4320), (3, 2000)])
def test_large_pictures_are_sampled_evenly(width: int, height: int) -> None:
    plane = np.full((height, width), 120, np.uint8)
    plane[: round(height * 0.7)] = 16
    assert dark_share(plain.frame_of((plane,), "gray", width, height)) == pytest.approx(0.7, abs=0.01)
