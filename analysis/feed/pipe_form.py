"""How frames on a pipe are described: our own short form, and the open YUV4MPEG2 header."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import get_args

import msgspec

from analysis.model.errors import FeedUnreadable, UsageError
from analysis.model.frame import Encoding, FrameFormat, Matrix, Range
from analysis.settings.nearest import nearest
from analysis.signal.layouts import LARGEST, LAYOUTS, layout

EXAMPLE = "raw:1920x1080@25/yuv422p10le?range=narrow&matrix=bt709"
_FORM = re.compile(r"(\d{1,5})x(\d{1,5})(?:@(\d+(?:\.\d+)?|\d+/\d+))?/([a-z0-9]+)")
_KEYS = ("range", "matrix", "curve")

# YUV4MPEG2 colour spaces (tag C) that are layouts we read, by the documentation of the mjpegtools project.
_Y4M_LAYOUTS = {
    "": "yuv420p",
    "420": "yuv420p",
    "420jpeg": "yuv420p",
    "420mpeg2": "yuv420p",
    "420paldv": "yuv420p",
    "411": "yuv411p",
    "422": "yuv422p",
    "444": "yuv444p",
    "mono": "gray",
    "mono10": "gray10le",
    "mono12": "gray12le",
    **{f"{part}p{bits}": f"yuv{part}p{bits}le" for part in ("420", "422", "444") for bits in (10, 12)},
}


class PipeForm(msgspec.Struct, frozen=True, kw_only=True):
    """What a pipe carries; ``format`` is None where its own header will say (YUV4MPEG2)."""

    format: FrameFormat | None
    range: Range | None = None
    matrix: Matrix | None = None
    curve: str | None = None


def pipe_form(target: str, query: dict[str, str], where: str) -> PipeForm:
    """Read ``WIDTHxHEIGHT[@RATE]/LAYOUT`` or ``y4m``. Raises UsageError saying what is wrong.

    >>> form = pipe_form("1920x1080@25/yuv422p10le", {"range": "narrow"}, "raw:…")
    >>> form.format.layout, form.format.rate, form.format.encoding.range_from
    ('yuv422p10le', 25.0, 'asked')
    """
    for key in query:
        if key not in _KEYS:
            raise UsageError(f"unknown {key!r}", where, nearest(key, _KEYS))
    levels = _one_of(query, "range", get_args(Range), where)
    kind = _one_of(query, "matrix", get_args(Matrix), where)
    curve = query.get("curve")
    if target == "y4m":
        return PipeForm(format=None, range=levels, matrix=kind, curve=curve)
    found = _FORM.fullmatch(target)
    if found is None:
        raise UsageError("the pipe is not described", where, f"write {EXAMPLE} or raw:y4m")
    width, height, name = int(found[1]), int(found[2]), found[4]
    if not (1 <= width <= LARGEST and 1 <= height <= LARGEST):
        raise UsageError(f"a picture of {width}x{height} cannot be", where, f"write {EXAMPLE}")
    if name not in LAYOUTS:
        raise UsageError(f"unknown layout {name!r}", where, nearest(name, LAYOUTS))
    rate = rate_of(found[3]) if found[3] else None
    if found[3] and rate is None:
        raise UsageError("a rate must be above zero", where, f"write {EXAMPLE}")
    return PipeForm(format=frame_format(name, width, height, rate, levels, kind, curve))


def frame_format(
    name: str,
    width: int,
    height: int,
    rate: float | None,
    levels: Range | None,
    kind: Matrix | None,
    curve: str | None,
    levels_tag: Range | None = None,
) -> FrameFormat:
    """A frame format with what was asked, then what the header says, then the usual assumptions."""
    how = layout(name)
    if how.is_rgb:
        matrix: Matrix = "rgb"
    else:
        matrix = kind if kind not in {None, "rgb"} and kind is not None else "bt709" if height >= 720 else "bt601"
    assumed: Range = "full" if how.is_rgb or how.is_grey or how.full_by_name else "narrow"
    encoding = Encoding(
        bits=how.depth,
        range=levels or levels_tag or assumed,
        matrix=matrix,
        curve=curve,
        range_from="asked" if levels else "tag" if levels_tag or how.full_by_name else "assumed",
        matrix_from="tag" if how.is_rgb else "asked" if kind not in {None, "rgb"} else "assumed",
        curve_from="asked" if curve else "assumed",
    )
    return FrameFormat(layout=name, width=width, height=height, encoding=encoding, rate=rate)


def y4m_format(line: bytes, form: PipeForm, where: str) -> FrameFormat:
    """The format in a YUV4MPEG2 header line. Raises FeedUnreadable where it is none we read.

    >>> y4m_format(b"YUV4MPEG2 W64 H48 F25:1 C422p10", PipeForm(format=None), "raw:y4m").layout
    'yuv422p10le'
    """
    words = line.decode("ascii", "replace").split(" ")
    if words[0] != "YUV4MPEG2":
        raise FeedUnreadable("this is not YUV4MPEG2", where, f"describe the pipe, for example {EXAMPLE}")
    tags = {word[:1]: word[1:] for word in words[1:] if word and not word.startswith("X")}
    extra = {word[1:].partition("=")[0]: word.partition("=")[2] for word in words[1:] if word.startswith("X")}
    try:
        width, height = int(tags["W"]), int(tags["H"])
    except (KeyError, ValueError):
        raise FeedUnreadable("the YUV4MPEG2 header gives no size", where, "check the sender") from None
    if not (1 <= width <= LARGEST and 1 <= height <= LARGEST):
        raise FeedUnreadable(f"a picture of {width}x{height} cannot be", where, "check the sender")
    space = tags.get("C", "")
    if space not in _Y4M_LAYOUTS:
        raise FeedUnreadable(f"the YUV4MPEG2 colour space {space} cannot be read", where, "send 420, 422 or 444")
    told: dict[str, Range] = {"FULL": "full", "LIMITED": "narrow"}
    rate = rate_of(tags.get("F", "").replace(":", "/"))
    levels = told.get(extra.get("COLORRANGE", ""))
    return frame_format(_Y4M_LAYOUTS[space], width, height, rate, form.range, form.matrix, form.curve, levels)


def rate_of(text: str) -> float | None:
    """Frames a second from ``25``, ``29.97`` or ``30000/1001``; None for nothing or zero."""
    try:
        rate = float(Fraction(text))
    except (ValueError, ZeroDivisionError):
        return None
    return rate if rate > 0 else None


def _one_of(query: dict[str, str], key: str, known: tuple[str, ...], where: str):  # type: ignore[no-untyped-def]
    value = query.get(key)
    if value is None or value in known:
        return value
    raise UsageError(f"unknown {key} {value!r}", where, nearest(value, known))
