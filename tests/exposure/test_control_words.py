"""What is set and what is to be moved, in few words; in stops alone where nobody said what is set."""

from __future__ import annotations

import msgspec
import pytest

from analysis.exposure.control_words import (
    key_stops_between,
    relative_missing,
    relative_moves,
    set_words,
    short_moves,
    shutter_words,
)
from analysis.model.controls import Controls
from analysis.model.plan import Costs, Now, Plan, Planned, Predicted

FULL = Controls(nd_stops=6.0, iso=800.0, t_stop=2.8, shutter_angle=172.8, rate=24.0, key_percent=50.0, key_distance=2.0)


def off_by(stops: float, missing: str | None) -> Planned:
    predicted = Predicted(
        sitter_level=50, sitter_stops=0.5, clipped=0, clipped_at_most=0, at_least=False, crushed=0, headroom_stops=1,
        shadow_snr_stops=3,
    )  # fmt: skip
    costs = Costs(
        off_aim_stops=stops, clipped=0, noise_stops=0, depth_of_field_stops=0, motion_stops=0, below_native_stops=0,
        total=0,
    )  # fmt: skip
    way = Plan(controls=Controls(), moves=(), predicted=predicted, costs=costs, reason="")
    now = Now(controls=Controls(), sitter_level=50, clipped=0)
    return Planned(now=now, policy="open-sky", plans=(way,), missing=missing)


def test_everything_that_was_told_is_shown() -> None:
    assert set_words(FULL) == ("ND 6", "ISO 800", "T2.8", "172.8°", "key 50 %", "at 2")
    assert set_words(Controls()) == ("ND 0", "ISO 800", "180°")


def test_the_time_of_an_angle() -> None:
    # 172.8 degrees at 24 frames a second is 1/50 s: 172.8 / (360 x 24).
    assert shutter_words(FULL) == "172.8° 1/50"


@pytest.mark.parametrize(
    ("change", "short", "relative"),
    [
        ({"nd_stops": 8.0}, "ND 8", "2 stops more ND"),
        ({"nd_stops": 4.0}, "ND 4", "2 stops less ND"),
        ({"iso": 400.0}, "ISO 400", "ISO down 1 stop"),
        ({"iso": 2000.0}, "ISO 2000", "ISO up 1 1/3 stops"),
        ({"t_stop": 4.0}, "T4", "close by 1 stop"),
        ({"t_stop": 2.5}, "T2.5", "open by 1/3 stop"),
        ({"shutter_angle": 86.4}, "86.4°", "shutter 1 stop shorter"),
        ({"key_percent": 100.0}, "key 100 %", "key up 1 stop"),
        ({"key_distance": 4.0}, "key at 4", "key down 2 stops"),
    ],
)
def test_a_move_by_its_setting_and_by_its_stops(change, short: str, relative: str) -> None:
    to = msgspec.structs.replace(FULL, **change)
    assert short_moves(FULL, to) == (short,)
    assert relative_moves(FULL, to) == (relative,)


def test_power_and_distance_of_a_key_add_up() -> None:
    # Inverse square: half the distance is two stops; half the power takes one of them.
    assert key_stops_between(FULL, msgspec.structs.replace(FULL, key_percent=25.0, key_distance=1.0)) == 1.0
    # A dimmer that gives a fifth of its light at half its travel: from 50 to 100 is log2(5).
    dimmer = ((0.0, 0.0), (50.0, 20.0), (100.0, 100.0))
    moved = msgspec.structs.replace(FULL, key_percent=100.0)
    assert key_stops_between(FULL, moved, dimmer) == pytest.approx(2.3219, abs=1e-4)
    assert key_stops_between(FULL, moved, ()) == 1.0


def test_a_key_nobody_told_of_moves_nothing() -> None:
    assert key_stops_between(Controls(), FULL) == 0.0
    assert relative_moves(Controls(), Controls()) == ("stay",)


def test_what_is_missing_is_told_without_numbers_nobody_gave() -> None:
    assert relative_missing(off_by(-1.3, "1 1/3 stops short even at ISO 12800: more light")) == (
        "1 1/3 stops short even so: more light"
    )
    assert relative_missing(off_by(0.7, "2/3 stop over even at ND 10")) == "2/3 stop over even so: less light"
    assert relative_missing(off_by(-1.3, None)) is None
    assert relative_missing(off_by(0.0, "the background stays under")) == "the background stays under"


def test_what_a_clipped_skin_hides_stays_at_least() -> None:
    over = "at least 2 stops over even at ND 0 and ISO 100: more ND, or less light"
    assert relative_missing(off_by(2.0, over)) == "at least 2 stops over even so: less light"


def test_why_more_light_would_not_do_is_told_without_numbers_too() -> None:
    clips = "1 1/3 stops short at ND 4, ISO 1250, and more would clip the highlights: more light on the sitter alone"
    assert relative_missing(off_by(-1.3, clips)) == (
        "1 1/3 stops short even so, and more would clip the highlights: more light on the sitter alone"
    )
    between = "2/3 stop over at ND 6 and ISO 800, and the next step 1 1/3 stops under: finer steps, or another control"
    assert relative_missing(off_by(0.6, between)) == (
        "2/3 stop over, and the next step 1 1/3 stops under: finer steps, or another control"
    )
