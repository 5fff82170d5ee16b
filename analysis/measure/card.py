"""A grey card in the picture: where it is, what one step of a bracket shows of it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import msgspec
import numpy as np

from analysis.model.errors import Unmeasurable, UsageError
from analysis.model.frame import Encoding, Frame, Plane
from analysis.signal.layouts import check_planes, component
from analysis.signal.levels import black_code, codes_per_range
from analysis.signal.matrix import decoder, luma_weights

FEWEST_FRAMES = 2
_LEAST_PIXELS = 64
_FLAT_SHARE = 0.98


class CardArea(msgspec.Struct, frozen=True, kw_only=True):
    """Where the card lies, as parts of the picture from 0 to 1, or ``in_pixels``; by default its middle fifth.

    >>> CardArea(x=10, y=20, width=30, height=40, in_pixels=True).slices(1280, 720)
    (slice(20, 60, None), slice(10, 40, None))
    """

    x: float = 0.4
    y: float = 0.4
    width: float = 0.2
    height: float = 0.2
    in_pixels: bool = False

    def slices(self, width: int, height: int) -> tuple[slice, slice]:
        """Rows and columns of a picture of that size in pixels.

        Raises UsageError where the area reaches out of the picture or holds fewer than 64 pixels.
        """
        across, down = (1, 1) if self.in_pixels else (width, height)
        left, right = round(self.x * across), round((self.x + self.width) * across)
        top, bottom = round(self.y * down), round((self.y + self.height) * down)
        if not (0 <= left < right <= width and 0 <= top < bottom <= height):
            raise UsageError(f"the card does not lie inside the {width}x{height} picture", "--card", "give x,y,w,h")
        if (right - left) * (bottom - top) < _LEAST_PIXELS:
            raise UsageError("the card is too small to measure", "--card", f"cover {_LEAST_PIXELS} pixels or more")
        return slice(top, bottom), slice(left, right)


class CardView(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The card on one frame: its luma codes (rows, columns), mean R'G'B' in signal (None: no colour)."""

    luma: Plane
    rgb: tuple[float, float, float] | None
    bits: int
    encoding: Encoding


class StepReading(msgspec.Struct, frozen=True, kw_only=True):
    """One step of a bracket: ``stops`` of exposure from the reference, the rest in signal (0 black, 1 nominal white).

    ``level`` is the median of luma, ``noise`` the standard deviation from frame to frame of one pixel
    (None: not asked for), ``drift`` how far the frames' own means lie apart, ``code`` the size of one code.
    """

    stops: float
    level: float
    noise: float | None
    drift: float
    code: float
    frames: int
    rgb: tuple[float, float, float] | None
    bits: int
    encoding: Encoding


def signed(stops: float) -> str:
    """Stops as they are told: with a sign, except none.

    >>> signed(2.0), signed(-0.5), signed(0.0)
    ('+2', '-0.5', '0')
    """
    return f"{stops:+g}" if stops else "0"


def see_card(frame: Frame, area: CardArea) -> CardView:
    """A copy of the card's part of a frame; the frame's planes may be given back afterwards.

    Raises UsageError for an area outside the picture, FeedUnreadable or FeedCorrupt for planes that are
    not what the format says.
    """
    how = check_planes(frame)
    shape, span = frame.format, frame.format.encoding.range
    rows, columns = area.slices(shape.width, shape.height)
    first = component(how, frame.planes, 0, shape.width)[rows, columns]
    luma: Plane = np.right_shift(first, how.shift, dtype=how.dtype)
    if how.is_grey:
        return CardView(luma=luma, rgb=None, bits=how.depth, encoding=shape.encoding)
    if how.is_rgb:
        red, green, blue = (component(how, frame.planes, i, shape.width)[rows, columns] for i in range(3))
        weights = luma_weights("rgb")
        mixed = red * weights[0] + green * weights[1] + blue * weights[2]
        means = float(red.mean()), float(green.mean()), float(blue.mean())
        codes: Plane = np.floor(mixed + 0.5).astype(first.dtype)
        return CardView(luma=codes, rgb=_signals(means, how.depth, frame), bits=how.depth, encoding=shape.encoding)
    across, down = how.log2_width, how.log2_height
    chroma_rows = slice(rows.start >> down, max((rows.start >> down) + 1, rows.stop >> down))
    chroma_columns = slice(columns.start >> across, max((columns.start >> across) + 1, columns.stop >> across))
    cb, cr = (
        float((component(how, frame.planes, i, shape.width)[chroma_rows, chroma_columns] >> how.shift).mean())
        for i in (1, 2)
    )
    means = decoder(shape.encoding.matrix, how.depth, span).rgb(float(luma.mean()), cb, cr)
    return CardView(luma=luma, rgb=_signals(means, how.depth, frame), bits=how.depth, encoding=shape.encoding)


def _signals(codes: tuple[float, float, float], bits: int, frame: Frame) -> tuple[float, float, float]:
    span = frame.format.encoding.range
    black, size = black_code(bits, span), codes_per_range(bits, span)
    red, green, blue = ((code - black) / size for code in codes)
    return red, green, blue


def read_step(stops: float, views: Sequence[CardView], noise: bool = True) -> StepReading:
    """What the frames of one step say together.

    Noise is the two-frame form of ISO 15739 (6.2): half the mean square of the difference of two frames,
    without the difference of their means, over every neighbouring pair. Raises Unmeasurable for fewer
    than two frames, for frames of unlike form, and for a frame that is the one before it over again: a
    repeated picture would pass for one without noise. A card that is one code all over (a sensor that
    is full) may well stay the same. Without ``noise`` only the level counts, and one frame is enough.
    """
    where = f"step {signed(stops)}"
    if len(views) < (FEWEST_FRAMES if noise else 1):
        raise Unmeasurable(f"{len(views)} frames do not show noise", where, "give it 2 or more, better 8")
    one = views[0]
    if any((view.encoding, view.luma.shape) != (one.encoding, one.luma.shape) for view in views):
        raise Unmeasurable("the form of the picture changes", where, "use one setting of the feed")
    variances = []
    for number, (before, after) in enumerate(pairwise(views), 2):
        if noise and np.array_equal(before.luma, after.luma) and not _flat(after.luma):
            raise Unmeasurable(
                f"frame {number} is the same picture as the one before, so noise cannot be measured",
                where, "use a feed that neither repeats nor smooths its frames, or --without-noise",
            )  # fmt: skip
        difference = after.luma.astype(np.float64) - before.luma
        variances.append(0.5 * max(float(np.mean(difference**2) - np.mean(difference) ** 2), 0.0))
    span = one.encoding.range
    size = codes_per_range(one.bits, span)
    means = [float(view.luma.mean()) for view in views]
    return StepReading(
        stops=stops,
        level=(_median([view.luma for view in views]) - black_code(one.bits, span)) / size,
        noise=float(np.sqrt(np.mean(variances))) / size if noise else None,
        drift=(max(means) - min(means)) / size,
        code=1.0 / size,
        frames=len(views),
        rgb=_mean_of(views),
        bits=one.bits,
        encoding=one.encoding,
    )


def _flat(luma: Plane) -> bool:
    """Whether nearly every pixel has the same code."""
    return bool(np.bincount(luma.ravel()).max() >= _FLAT_SHARE * luma.size)


def _median(lumas: Sequence[Plane]) -> float:
    """The median code, to a fraction: every code is taken as spread evenly over its own width.

    The median passes through a curve unchanged where a mean of noisy light would not.

    >>> _median([np.array([[10, 10, 11, 11]], np.uint8)])
    10.5
    """
    count = np.sum([np.bincount(luma.ravel(), minlength=1 << 16) for luma in lumas], axis=0)
    below = np.cumsum(count)
    half = below[-1] / 2.0
    code = int(np.searchsorted(below, half))
    return float(code - 0.5 + (half - (below[code] - count[code])) / count[code])


def _mean_of(views: Sequence[CardView]) -> tuple[float, float, float] | None:
    colours = [view.rgb for view in views if view.rgb is not None]
    if not colours:
        return None
    red, green, blue = (float(np.mean([colour[i] for colour in colours])) for i in range(3))
    return red, green, blue
