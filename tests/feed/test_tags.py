"""Colour tags to encodings. Numbers: ITU-T H.273 (07/2021), tables 2 to 4, the same as ISO/IEC 23091-2."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.feed.address import parse_address
from analysis.feed.file import FileSource
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.tags import encoding_from_tags
from analysis.model.errors import FeedUnreadable
from analysis.signal.curves import names
from tests.support.clips import write_clip
from tests.support.fake_clock import FakeClock

PLAIN = FeedOptions(realtime=False)


@pytest.mark.parametrize(
    ("matrix", "told"), [(1, "bt709"), (5, "bt601"), (6, "bt601"), (9, "bt2020")], ids=["709", "470bg", "170m", "2020"]
)
def test_matrix_coefficients_of_table_4(matrix: int, told: str) -> None:
    made = encoding_from_tags("yuv420p", 1080, 1, matrix, 2, PLAIN)
    assert (made.matrix, made.matrix_from) == (told, "tag")


@pytest.mark.parametrize(
    ("transfer", "told"),
    [(1, "bt709"), (6, "bt709"), (13, "srgb"), (14, "bt709"), (15, "bt709"), (16, "pq"), (18, "hlg")],
)
def test_transfer_characteristics_of_table_3(transfer: int, told: str) -> None:
    made = encoding_from_tags("yuv420p10le", 1080, 1, 1, transfer, PLAIN)
    assert (made.curve, made.curve_from) == (told, "tag")
    assert told in names()


@pytest.mark.parametrize("transfer", [0, 2, 3, 4, 5, 9, 17])
def test_a_curve_that_nobody_names_or_we_do_not_have_is_none(transfer: int) -> None:
    made = encoding_from_tags("yuv420p", 1080, 1, 1, transfer, PLAIN)
    assert made.curve is None and made.curve_from == "assumed"


def test_range_flag() -> None:
    assert encoding_from_tags("yuv420p", 1080, 1, 1, 1, PLAIN).range == "narrow"
    full = encoding_from_tags("yuv420p", 1080, 2, 1, 1, PLAIN)
    assert (full.range, full.range_from) == ("full", "tag")


@pytest.mark.parametrize(
    ("name", "height", "range_", "range_from", "matrix", "matrix_from"),
    [
        ("yuv420p", 1080, "narrow", "assumed", "bt709", "assumed"),
        ("yuv420p", 720, "narrow", "assumed", "bt709", "assumed"),
        ("yuv420p", 576, "narrow", "assumed", "bt601", "assumed"),
        ("yuvj420p", 480, "full", "tag", "bt601", "assumed"),
        ("rgb24", 1080, "full", "assumed", "rgb", "tag"),
        ("gbrp10le", 480, "full", "assumed", "rgb", "tag"),
        ("gray", 1080, "full", "assumed", "bt709", "assumed"),
        ("p010le", 2160, "narrow", "assumed", "bt709", "assumed"),
    ],
)
def test_what_is_assumed_where_nothing_is_said(
    name: str, height: int, range_: str, range_from: str, matrix: str, matrix_from: str
) -> None:
    """Common practice, no published source."""
    made = encoding_from_tags(name, height, 0, 2, 2, PLAIN)
    assert (made.range, made.range_from, made.matrix, made.matrix_from) == (range_, range_from, matrix, matrix_from)


def test_what_the_operator_asks_for_comes_first() -> None:
    asked = FeedOptions(range="full", matrix="bt2020", curve="hlg")
    made = encoding_from_tags("yuv422p10le", 1080, 1, 1, 1, asked)
    assert (made.range, made.matrix, made.curve, made.bits) == ("full", "bt2020", "hlg", 10)
    assert {made.range_from, made.matrix_from, made.curve_from} == {"asked"}


def test_a_matrix_cannot_be_asked_of_rgb_nor_rgb_of_a_matrix() -> None:
    assert encoding_from_tags("rgb24", 1080, 0, 0, 2, FeedOptions(matrix="bt709")).matrix == "rgb"
    assert encoding_from_tags("yuv420p", 1080, 0, 2, 2, FeedOptions(matrix="rgb")).matrix == "bt709"


@pytest.mark.parametrize("matrix", [8, 14])
def test_other_colour_codings_are_refused_unless_a_matrix_is_asked_for(matrix: int) -> None:
    with pytest.raises(FeedUnreadable, match="--matrix"):
        encoding_from_tags("yuv444p", 1080, 0, matrix, 2, PLAIN)
    assert encoding_from_tags("yuv444p", 1080, 0, matrix, 2, FeedOptions(matrix="bt709")).matrix_from == "asked"


@pytest.mark.parametrize(
    ("container", "codec"), [("mkv", "ffv1"), ("mp4", "libx264"), ("ts", "libx264"), ("mov", "prores_ks")]
)
def test_tags_written_into_a_file_are_read_from_it(tmp_path: Path, container: str, codec: str) -> None:
    path = tmp_path / f"clip.{container}"
    name = "yuv422p10le"
    write_clip(path, name, codec, frames=2, color_range=1, colorspace=9, color_trc=18, color_primaries=9)
    source = FileSource(parse_address(str(path)), PLAIN, FramePool(), FakeClock())
    source.open()
    made = source.read().format.encoding
    source.close()
    assert (made.matrix, made.matrix_from) == ("bt2020", "tag")
    assert (made.curve, made.curve_from) == ("hlg", "tag")
    assert made.range == "narrow" and made.bits == 10
