"""What a driver says about its codes, by the rules of the kernel documentation ("Defining Colorspaces")."""

from __future__ import annotations

import pytest

from analysis.feed.source import FeedOptions
from analysis.feed.v4l2.colour import encoding_of

NOTHING = FeedOptions()


# colorspace, ycbcr_enc, quantization (linux/videodev2.h) -> range, matrix and where each comes from
@pytest.mark.parametrize(
    "said,span,matrix,span_from,matrix_from",
    [
        ((0, 0, 0), "narrow", "bt601", "assumed", "assumed"),  # nothing said
        ((8, 0, 0), "narrow", "bt601", "assumed", "assumed"),  # sRGB, what every webcam driver says
        ((8, 1, 1), "full", "bt601", "tag", "tag"),
        ((1, 0, 0), "narrow", "bt601", "assumed", "tag"),  # SMPTE 170M
        ((3, 0, 0), "narrow", "bt709", "assumed", "tag"),  # REC709 -> ENC_709, limited
        ((3, 1, 2), "narrow", "bt601", "tag", "tag"),  # the encoding outweighs the colorspace
        ((7, 0, 0), "full", "bt601", "tag", "tag"),  # JPEG: sRGB, ENC_601, full range
        ((10, 0, 0), "narrow", "bt2020", "assumed", "tag"),
        ((10, 7, 0), "narrow", "bt2020", "assumed", "tag"),
        ((12, 0, 0), "narrow", "bt709", "assumed", "tag"),  # DCI-P3 -> ENC_709
        ((3, 3, 0), "narrow", "bt601", "assumed", "tag"),  # xvYCC 601
        ((1, 4, 0), "narrow", "bt709", "assumed", "tag"),  # xvYCC 709
        ((2, 0, 0), "narrow", "bt709", "assumed", "assumed"),  # SMPTE 240M: no matrix of its own, so only assumed
        ((3, 2, 1), "full", "bt709", "tag", "tag"),
    ],
)
def test_kernel_rules(said: tuple[int, int, int], span, matrix, span_from, matrix_from) -> None:
    found = encoding_of("yuyv422", *said, NOTHING)
    assert (found.range, found.matrix) == (span, matrix)
    assert (found.range_from, found.matrix_from) == (span_from, matrix_from)


def test_rgb_is_full_unless_said_otherwise() -> None:
    assert encoding_of("rgb24", 8, 0, 0, NOTHING).range == "full"
    limited = encoding_of("rgb24", 8, 0, 2, NOTHING)
    assert (limited.range, limited.range_from, limited.matrix) == ("narrow", "tag", "rgb")


def test_jpeg_layouts_are_full_by_name_unless_the_driver_says_limited() -> None:
    assert encoding_of("yuvj422p", 8, 0, 0, NOTHING).range == "full"
    assert encoding_of("yuvj422p", 8, 0, 2, NOTHING).range == "narrow"


def test_the_operator_has_the_last_word() -> None:
    asked = FeedOptions(range="full", matrix="bt2020", curve="hlg")
    found = encoding_of("yuyv422", 3, 2, 2, asked)
    assert (found.range, found.matrix, found.curve) == ("full", "bt2020", "hlg")
    assert {found.range_from, found.matrix_from, found.curve_from} == {"asked"}


@pytest.mark.parametrize("name,bits", [("yuyv422", 8), ("p010le", 10), ("y210le", 10), ("gray12le", 12)])
def test_bits_are_those_of_the_codes(name: str, bits: int) -> None:
    assert encoding_of(name, 0, 0, 0, NOTHING).bits == bits
