"""From a stream's own colour tags to an encoding, saying where each statement comes from.

Tag numbers are those of ISO/IEC 23091-2 (the same as ITU-T H.273), tables 3 and 4, which FFmpeg
uses unchanged.
"""

from __future__ import annotations

from functools import lru_cache

from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedUnreadable
from analysis.model.frame import Encoding, Matrix, Origin, Range
from analysis.signal.layouts import layout

_RANGES: dict[int, Range] = {1: "narrow", 2: "full"}
_MATRICES: dict[int, Matrix] = {1: "bt709", 5: "bt601", 6: "bt601", 9: "bt2020"}
_NOT_YCBCR = {8: "YCgCo", 10: "constant-luminance", 13: "constant-luminance", 14: "ICtCp", 15: "IPT"}
# BT.601 and BT.2020 name the same function as BT.709 (to the accuracy of their own decimals).
_CURVES: dict[int, str] = {1: "bt709", 6: "bt709", 13: "srgb", 14: "bt709", 15: "bt709", 16: "pq", 18: "hlg"}

_HD_HEIGHT = 720


@lru_cache(maxsize=64)
def encoding_from_tags(
    name: str, height: int, color_range: int, matrix: int, transfer: int, options: FeedOptions
) -> Encoding:
    """The encoding of pictures in layout ``name`` with these tags; what the operator asks for comes first.

    Where nothing is said: pictures of 720 lines and more are BT.709, smaller ones BT.601; R'G'B'
    and grey are full range, Y'CbCr narrow (common practice, no published source). Raises
    FeedUnreadable for colour codings that are not R'G'B' or Y'CbCr, unless a matrix is asked for.

    >>> said = encoding_from_tags("yuv420p", 1080, 0, 2, 18, FeedOptions())
    >>> said.range, said.range_from, said.matrix, said.curve, said.curve_from
    ('narrow', 'assumed', 'bt709', 'hlg', 'tag')
    """
    how = layout(name)
    levels, levels_from = _range(name, color_range, options)
    kind, kind_from = _matrix(name, height, matrix, options)
    curve = options.curve or _CURVES.get(transfer)
    curve_from: Origin = options.said if options.curve else "tag" if curve else "assumed"
    return Encoding(
        bits=how.depth,
        range=levels,
        matrix=kind,
        curve=curve,
        range_from=levels_from,
        matrix_from=kind_from,
        curve_from=curve_from,
    )


def _range(name: str, tag: int, options: FeedOptions) -> tuple[Range, Origin]:
    how = layout(name)
    if options.range is not None:
        return options.range, options.said
    if tag in _RANGES:
        return _RANGES[tag], "tag"
    if how.full_by_name:
        return "full", "tag"
    return ("full" if how.is_rgb or how.is_grey else "narrow"), "assumed"


def _matrix(name: str, height: int, tag: int, options: FeedOptions) -> tuple[Matrix, Origin]:
    if layout(name).is_rgb:
        return "rgb", "tag"
    if options.matrix is not None and options.matrix != "rgb":
        return options.matrix, options.said
    if tag in _NOT_YCBCR:
        raise FeedUnreadable(
            f"the colour coding {_NOT_YCBCR[tag]} cannot be read", todo="convert it, or ask for a matrix with --matrix"
        )
    if tag in _MATRICES:
        return _MATRICES[tag], "tag"
    return ("bt709" if height >= _HD_HEIGHT else "bt601"), "assumed"
