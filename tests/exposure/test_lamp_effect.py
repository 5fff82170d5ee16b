"""What a key adds, against the light that was set; and the ratios of the trade."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.exposure.lamp_effect import lamp_effect, share_of, stops_of_share
from analysis.exposure.turn_compare import Look, look_at
from analysis.exposure.turn_rest import rest_of
from analysis.model.light import COLUMNS
from analysis.model.turn import LampEffect, ratio_of
from tests.exposure.turn_film import Film, Moment
from tests.exposure.turn_maps import FACE, SITTER, body_and_face, room, seen


@pytest.mark.parametrize(
    ("ratio", "stops"), [(1.0, 0.0), (1.5, 0.585), (2.0, 1.0), (3.0, 1.585), (4.0, 2.0), (8.0, 3.0)]
)
def test_ratios_of_the_trade(ratio: float, stops: float) -> None:
    # Key plus fill to fill: 2:1 is one stop, 4:1 two, 8:1 three; 800 foot-candles to 200 is 4:1. Common practice;
    # the same figures stand in the encyclopedic article "Lighting ratio".
    assert ratio_of(stops) == pytest.approx(ratio, abs=0.01)


@pytest.mark.parametrize("fill", [1.0, 3.0, 7.0])
def test_key_to_fill_is_one_less(fill: float) -> None:
    # A key k times the fill gives k + 1 to 1 (the other convention): k = 1, 3, 7 are one, two and three stops.
    added = np.log2(1.0 + fill)
    assert ratio_of(added) - 1.0 == pytest.approx(fill)
    assert share_of(added) == pytest.approx(fill / (1.0 + fill))
    assert stops_of_share(share_of(added)) == pytest.approx(added)


def test_light_that_is_all_the_lamps_adds_to_none() -> None:
    with pytest.raises(ValueError, match="does not add"):
        stops_of_share(1.0)


def looks(before: Moment, after: Moment, curve: str = "acescct", bits: int = 8) -> tuple[Look, Look]:
    found = []
    for moment in (before, after):
        film = Film(lambda _, m=moment: m, curve, bits, jitter=0.0)
        maps = [look_at(film.map_of(film.frame(n / 10.0, n)), film.sitters(moment)) for n in range(5)]
        found.append(rest_of(tuple(maps)).look)
    return found[0], found[1]


@pytest.mark.parametrize("power", [0.5, 2.0, 6.0])
@pytest.mark.parametrize(("curve", "bits"), [("acescct", 8), ("bt709", 10), ("hlg", 8)])
def test_what_a_key_adds_to_a_rendered_sitter_and_wall(power: float, curve: str, bits: int) -> None:
    off, on = Moment(whole=-2.5), Moment(whole=-2.5, key=power)
    found = lamp_effect(*looks(off, on, curve, bits))
    film = Film(lambda _: on, curve, bits)
    assert found is not None and not found.at_least
    assert found.sitter_stops == pytest.approx(film.true_change(off, on), abs=0.1)
    # The film's key reaches the walls at a sixteenth, and not what is seen through the doors.
    assert found.background_stops == pytest.approx(np.log2(1.0 + power / 16.0), abs=0.1)
    assert found.lit_stops is not None and found.shadow_stops is not None and found.ratio_stops is not None
    assert found.lit_stops > found.shadow_stops
    assert found.key_share == pytest.approx(1.0 - 2.0**-found.lit_stops)


def test_sides_share_and_ratio_of_a_face_lit_from_the_left() -> None:
    face = body_and_face()
    level = np.where(face, 0.0, room())
    left = face & (np.arange(COLUMNS) < (FACE[0] + FACE[2] / 2.0) * COLUMNS)
    lit = level + np.where(left, 2.0, 0.0) + np.where(face & ~left, 0.5, 0.0)
    found = lamp_effect(look_at(seen(level, 0.0), SITTER), look_at(seen(lit, 1.0), SITTER))
    assert found is not None
    assert found.lit_stops == pytest.approx(2.0, abs=0.05)
    assert found.shadow_stops == pytest.approx(0.5, abs=0.05)
    assert found.key_share == pytest.approx(0.75, abs=0.01)
    assert found.ratio_stops == pytest.approx(1.5, abs=0.05)
    assert found.ratio == pytest.approx(2.83, abs=0.1)
    assert found.background_stops == pytest.approx(0.0, abs=0.02)


def test_a_lamp_on_the_darker_side_still_gives_a_ratio_of_one_or_more() -> None:
    face = body_and_face()
    left = face & (np.arange(COLUMNS) < (FACE[0] + FACE[2] / 2.0) * COLUMNS)
    level = np.where(left, 1.5, np.where(face, 0.0, room()))
    filled = level + np.where(face & ~left, 1.0, 0.0)
    found = lamp_effect(look_at(seen(level, 0.0), SITTER), look_at(seen(filled, 1.0), SITTER))
    assert found is not None and found.ratio_stops == pytest.approx(0.5, abs=0.05)
    assert found.lit_stops == pytest.approx(1.0, abs=0.05) and found.shadow_stops == pytest.approx(0.0, abs=0.05)


def test_the_wrong_way_round_is_turned_round() -> None:
    off, on = looks(Moment(), Moment(key=1.0))
    assert lamp_effect(on, off) == lamp_effect(off, on)


def test_clipped_skin_is_at_least() -> None:
    face = body_and_face()
    dark = np.where(face, 4.5, room())
    found = lamp_effect(look_at(seen(dark, 0.0), SITTER), look_at(seen(dark + 3.0 * face, 1.0), SITTER))
    assert isinstance(found, LampEffect)
    assert found.at_least and found.ratio is None and 1.0 < found.sitter_stops < 3.0


def test_without_a_sitter_or_a_change_there_is_nothing_to_tell() -> None:
    light = look_at(seen(room(), 0.0), SITTER)
    assert lamp_effect(light, look_at(seen(room(), 1.0), SITTER)) is None
    assert lamp_effect(look_at(seen(room(), 0.0), ()), look_at(seen(room() + 1.0, 1.0), ())) is None
