"""Matrices against the constants printed in their Recommendations, and there and back again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.errors import FeedUnreadable
from analysis.model.frame import Encoding
from analysis.signal.levels import code, percent
from analysis.signal.matrix import decoder, encode, encoding_decoder, luma_weights

MATRICES = st.sampled_from(["bt709", "bt601", "bt2020"])


@pytest.mark.parametrize(
    "matrix,weights,cr,cb",
    [  # BT.709-6 items 3.2 and 3.3; BT.601-7 2.5.1; BT.2020-2 table 4
        ("bt709", (0.2126, 0.7152, 0.0722), 1.5748, 1.8556),
        ("bt601", (0.299, 0.587, 0.114), 1.402, 1.772),
        ("bt2020", (0.2627, 0.6780, 0.0593), 1.4746, 1.8814),
    ],
)
def test_constants(matrix: str, weights: tuple[float, ...], cr: float, cb: float) -> None:
    assert luma_weights(matrix) == pytest.approx(weights, abs=1e-12)
    full = decoder(matrix, 8, "full")
    assert (full.r_cr, full.b_cb) == pytest.approx((cr, cb), abs=1e-12)
    narrow = decoder(matrix, 10, "narrow")
    assert (narrow.r_cr, narrow.b_cb) == pytest.approx((cr * 219 / 224, cb * 219 / 224), abs=1e-12)


def test_bt601_green_as_in_jfif() -> None:
    """JFIF 1.02 (ITU-T T.871 section 7) prints 0.344136 and 0.714136 for full range."""
    full = decoder("bt601", 8, "full")
    assert (full.g_cb, full.g_cr) == pytest.approx((-0.344136, -0.714136), abs=1e-6)


@given(MATRICES, st.sampled_from([8, 10, 12]), st.sampled_from(["narrow", "full"]), st.tuples(*[st.floats(0, 1)] * 3))
def test_there_and_back(matrix: str, bits: int, span: str, rgb: tuple[float, float, float]) -> None:
    back = decoder(matrix, bits, span).rgb(*encode(rgb, matrix, bits, span))
    assert [percent(value, bits, span) / 100 for value in back] == pytest.approx(rgb, abs=1e-9)


@given(MATRICES, st.sampled_from([8, 10, 12]), st.floats(0, 100))
def test_grey_has_no_colour(matrix: str, bits: int, level: float) -> None:
    y, cb, cr = encode((level / 100,) * 3, matrix, bits, "narrow")
    assert (cb, cr) == pytest.approx((1 << (bits - 1),) * 2, abs=1e-6)
    assert y == pytest.approx(code(level, bits, "narrow"), abs=1e-6)


def test_rgb_needs_no_matrix() -> None:
    assert luma_weights("rgb") == luma_weights("bt709")
    with pytest.raises(FeedUnreadable, match="matrix cannot be rgb"):
        decoder("rgb", 8, "full")


def test_an_encoding_chooses_its_decoder() -> None:
    encoding = Encoding(bits=10, range="narrow", matrix="bt2020")
    assert encoding_decoder(encoding, 10) == decoder("bt2020", 10, "narrow")
