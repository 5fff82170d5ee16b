"""Y'CbCr to R'G'B' and back, for the three matrices in use.

Luma weights: ITU-R BT.709-6 item 3.2, BT.601-7 section 2.5.1, BT.2020-2 table 4 (non-constant
luminance). The colour differences follow from them: Cb = (B' - Y') / (2 (1 - kb)),
Cr = (R' - Y') / (2 (1 - kr)) (BT.709-6 item 3.3).
"""

from __future__ import annotations

import msgspec

from analysis.model.errors import FeedUnreadable
from analysis.model.frame import Encoding, Matrix, Range
from analysis.signal.levels import black_code, codes_per_range, top_code

_RED_BLUE: dict[str, tuple[float, float]] = {
    "bt709": (0.2126, 0.0722),
    "bt601": (0.299, 0.114),
    "bt2020": (0.2627, 0.0593),
}


class Decoder(msgspec.Struct, frozen=True, kw_only=True):
    """How R'G'B' follow from Y'CbCr, all in codes of the luma scale.

    ``R' = Y + r_cr (Cr - middle)``, ``G' = Y + g_cb (Cb - middle) + g_cr (Cr - middle)``,
    ``B' = Y + b_cb (Cb - middle)``: black and white of R', G', B' are those of luma.
    """

    middle: int
    r_cr: float
    g_cb: float
    g_cr: float
    b_cb: float

    def channels(self) -> tuple[tuple[float, float], ...]:
        """What one code of Cb and of Cr adds to R', to G' and to B'."""
        return (0.0, self.r_cr), (self.g_cb, self.g_cr), (self.b_cb, 0.0)

    def rgb(self, y: float, cb: float, cr: float) -> tuple[float, float, float]:
        """R'G'B' in codes, not rounded.

        >>> [round(v, 2) for v in decoder("bt709", 8, "narrow").rgb(51, 109, 212)]
        [180.33, 16.04, 16.53]
        """
        u, v = cb - self.middle, cr - self.middle
        return y + self.r_cr * v, y + self.g_cb * u + self.g_cr * v, y + self.b_cb * u


def luma_weights(matrix: Matrix) -> tuple[float, float, float]:
    """Weights of R', G', B' in luma; those of BT.709 for a feed that carries R'G'B'.

    >>> luma_weights("bt709")
    (0.2126, 0.7152, 0.0722)
    """
    red, blue = _RED_BLUE["bt709" if matrix == "rgb" else matrix]
    return red, round(1.0 - red - blue, 10), blue


def chroma_codes_per_range(bits: int, span: Range) -> int:
    """How many codes lie between the least and the greatest nominal Cb or Cr."""
    return 224 << (bits - 8) if span == "narrow" else top_code(bits)


def decoder(matrix: Matrix, bits: int, span: Range) -> Decoder:
    """The decoder of an encoding; raises FeedUnreadable when Y'CbCr is declared to need no matrix."""
    if matrix == "rgb":
        raise FeedUnreadable("the picture is Y'CbCr, its matrix cannot be rgb", todo="name it, for example bt709")
    red, green, blue = luma_weights(matrix)
    scale = codes_per_range(bits, span) / chroma_codes_per_range(bits, span)
    cr, cb = 2.0 * (1.0 - red) * scale, 2.0 * (1.0 - blue) * scale
    return Decoder(middle=1 << (bits - 1), r_cr=cr, g_cb=-cb * blue / green, g_cr=-cr * red / green, b_cb=cb)


def encoding_decoder(encoding: Encoding, bits: int) -> Decoder:
    """The decoder for what a feed declares, at the depth its samples have."""
    return decoder(encoding.matrix, bits, encoding.range)


def encode(rgb: tuple[float, float, float], matrix: Matrix, bits: int, span: Range) -> tuple[float, float, float]:
    """Y'CbCr in codes, not rounded, of R'G'B' given as parts of the signal range (0 to 1).

    >>> encode((1.0, 1.0, 1.0), "bt709", 10, "narrow")
    (940.0, 512.0, 512.0)
    """
    red, green, blue = luma_weights(matrix)
    y = red * rgb[0] + green * rgb[1] + blue * rgb[2]
    cb, cr = (rgb[2] - y) / (2.0 * (1.0 - blue)), (rgb[0] - y) / (2.0 * (1.0 - red))
    chroma, middle = chroma_codes_per_range(bits, span), 1 << (bits - 1)
    return black_code(bits, span) + codes_per_range(bits, span) * y, middle + chroma * cb, middle + chroma * cr
