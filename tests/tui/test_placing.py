"""Aims and distances as the panels share them."""

from __future__ import annotations

import msgspec
import pytest

from tests.tui.measured import AIM, SECOND, SITTER, SPOT_READINGS, complete
from tests.tui.synthetic import snapshot
from tui.placing import band_of, main_sitter, sitter_distance, spot_distance

READING = complete().reading


def test_the_main_sitter_is_the_one_that_says_so() -> None:
    assert main_sitter(READING).name == "sitter 1"
    swapped = tuple(msgspec.structs.replace(each, main=not each.main) for each in (SITTER, SECOND))
    assert main_sitter(msgspec.structs.replace(READING, sitters=swapped)).name == "sitter 2"
    assert main_sitter(msgspec.structs.replace(READING, sitters=())) is None
    assert main_sitter(msgspec.structs.replace(READING, sitters=None)) is None
    assert main_sitter(None) is None


def test_an_aim_in_ire_needs_no_curve_and_one_in_stops_does() -> None:
    bare = snapshot().reading
    assert bare.encoding.curve is None
    assert band_of(bare, "sitter 1", (AIM,)).centre == 50.0
    in_stops = msgspec.structs.replace(AIM, value=0.0, tolerance=0.5, unit="stops")
    assert band_of(bare, "sitter 1", (in_stops,)) is None
    # BT.709 item 1.2: 1.099 * 0.18 ^ 0.45 - 0.099 = 40.9 %.
    assert band_of(READING, "sitter 1", (in_stops,)).centre == pytest.approx(40.9, abs=0.05)


def test_distance_in_thirds() -> None:
    # BT.709 item 1.2, inverse: 50 IRE is 0.53 stop above middle grey, 60 IRE is 1.02.
    bright = msgspec.structs.replace(SITTER, level=60.0)
    off = sitter_distance(READING, bright, (AIM,))
    assert off.stops == pytest.approx(0.494, abs=0.005)
    assert off.thirds == 1
    assert not off.within
    clipped = sitter_distance(READING, msgspec.structs.replace(bright, clipped=4.0), (AIM,))
    assert clipped.words == "at least 1/3 stop over"


def test_nothing_to_compare_is_no_distance() -> None:
    assert sitter_distance(READING, msgspec.structs.replace(SITTER, level=None), (AIM,)) is None
    assert sitter_distance(READING, SITTER, ()) is None
    assert band_of(READING, "sitter 1", ()) is None


def test_a_spot_has_a_distance_only_with_an_aim_of_its_own() -> None:
    bench = SPOT_READINGS["bench"]
    assert spot_distance(READING, "bench", bench, (AIM,)) is None
    own = msgspec.structs.replace(AIM, target="bench", value=31.0, tolerance=2.0)
    assert spot_distance(READING, "bench", bench, (AIM, own)).within
