"""What a device says about its codes: range and matrix, by the kernel's documented rules.

The fields are colorspace, Y'CbCr encoding and quantization of ``struct v4l2_pix_format``; the rules for values left
at "default" are the kernel documentation's ("Defining Colorspaces" and ``V4L2_MAP_YCBCR_ENC_DEFAULT``,
``V4L2_MAP_QUANTIZATION_DEFAULT`` of ``linux/videodev2.h``).
"""

from __future__ import annotations

from analysis.feed.source import FeedOptions
from analysis.model.frame import Encoding, Matrix, Origin, Range
from analysis.signal.layouts import layout

COLORSPACE_DEFAULT = 0
COLORSPACE_SMPTE240M = 2
COLORSPACE_REC709 = 3
COLORSPACE_JPEG = 7
COLORSPACE_SRGB = 8
COLORSPACE_BT2020 = 10
COLORSPACE_DCI_P3 = 12

# enum v4l2_ycbcr_encoding: 601, 709, xvYCC 601, xvYCC 709, sYCC, BT.2020 with and without constant luminance.
# SMPTE 240M (8) is missing on purpose: it has no matrix of its own here.
_MATRIX_OF: dict[int, Matrix] = {1: "bt601", 2: "bt709", 3: "bt601", 4: "bt709", 5: "bt601", 6: "bt2020", 7: "bt2020"}
_ENCODING_OF: dict[int, int] = {
    COLORSPACE_REC709: 2,
    COLORSPACE_DCI_P3: 2,
    COLORSPACE_BT2020: 6,
    COLORSPACE_SMPTE240M: 8,
}
_RANGE_OF: dict[int, Range] = {1: "full", 2: "narrow"}

# A webcam driver says sRGB of every device, so that this value alone is no statement about the matrix.
_SAYS_NOTHING = {COLORSPACE_DEFAULT, COLORSPACE_SRGB}


def encoding_of(layout_name: str, colorspace: int, ycbcr_enc: int, quantization: int, options: FeedOptions) -> Encoding:
    """The encoding of a device's codes: what was asked, else what the driver says, else the documented default.

    >>> encoding_of("yuyv422", 3, 0, 0, FeedOptions()).matrix
    'bt709'
    """
    how = layout(layout_name)
    matrix, matrix_from = _matrix(colorspace, ycbcr_enc)
    span, span_from = _range(how.is_rgb, how.full_by_name, colorspace, quantization)
    if how.is_rgb:
        matrix, matrix_from = "rgb", "tag"
    if options.matrix is not None:
        matrix, matrix_from = options.matrix, options.said
    if options.range is not None:
        span, span_from = options.range, options.said
    return Encoding(
        bits=how.depth,
        range=span,
        matrix=matrix,
        curve=options.curve,
        range_from=span_from,
        matrix_from=matrix_from,
        curve_from="assumed" if options.curve is None else options.said,
    )


def _matrix(colorspace: int, ycbcr_enc: int) -> tuple[Matrix, Origin]:
    said = ycbcr_enc or _ENCODING_OF.get(colorspace, 1)
    matrix = _MATRIX_OF.get(said)
    if matrix is None:
        return "bt709", "assumed"
    return matrix, "assumed" if ycbcr_enc == 0 and colorspace in _SAYS_NOTHING else "tag"


def _range(is_rgb: bool, full_by_name: bool, colorspace: int, quantization: int) -> tuple[Range, Origin]:
    said = _RANGE_OF.get(quantization)
    if said is not None:
        return said, "tag"
    if full_by_name or colorspace == COLORSPACE_JPEG:
        return "full", "tag"
    return ("full" if is_rgb else "narrow"), "assumed"
