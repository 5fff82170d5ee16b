"""Whom a plan is for: the main sitter, what one points to, the middle; and what is said where there is nobody."""

from __future__ import annotations

import msgspec
import pytest

from analysis.exposure.aims import aim_for
from analysis.exposure.subject import MIDDLE, choices, subject_of
from analysis.model.errors import UsageError
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, SitterReading, Spot, SpotReading
from tests.exposure.outdoors import INDOORS, LOG, reading, skin_aim

CHEEK = Spot(name="cheek", kind="watch", x=0.5, y=0.25, width=0.1, height=0.2)
LAMP = Spot(name="lamp", kind="let go", x=0.0, y=0.0, width=0.1, height=0.1)
WALL = Spot(name="wall", kind="background", x=0.0, y=0.5, width=0.1, height=0.1)
SPOTS = (LAMP, WALL, CHEEK)
AIMS = (skin_aim(),)


def seen(sitters: tuple[SitterReading, ...] | None = (), *, spots: bool = True, **more) -> Reading:
    read = {
        "lamp": SpotReading(level=90.0, stops=5.0, clipped=40.0, kind="let go"),
        "wall": SpotReading(level=30.0, stops=-2.0, clipped=0.0, kind="background"),
        "cheek": SpotReading(level=45.0, stops=0.6, clipped=0.0, kind="watch"),
    }
    made = reading(1.0, *INDOORS)
    return msgspec.structs.replace(made, sitters=sitters, spots=read if spots else None, **more)


def sitter(name: str, main: bool = False, **more) -> SitterReading:
    made = reading(1.0, *INDOORS).sitters[0]
    return msgspec.structs.replace(made, name=name, main=main, **more)


def test_the_main_sitter_comes_first() -> None:
    found = subject_of(seen((sitter("sitter 1"), sitter("sitter 2", main=True))), AIMS, LOG, None, SPOTS)
    assert found.sitter.name == "sitter 2"
    assert found.aims == AIMS


def test_a_main_sitter_who_cannot_be_read_leaves_it_to_the_other() -> None:
    dark = sitter("sitter 1", main=True, state="too dark", level=None, stops=None)
    assert subject_of(seen((dark, sitter("sitter 2"))), AIMS, LOG).sitter.name == "sitter 2"


def test_without_a_sitter_a_watched_spot_with_an_aim_is_planned_for() -> None:
    own = Aim(target="cheek", value=0.2, tolerance=0.3, unit="stops")
    others = (Aim(target="lamp", value=5.0, tolerance=0.3, unit="stops"), skin_aim(-2.0, "wall"))
    found = subject_of(seen(()), (*AIMS, *others, own), LOG, None, SPOTS)
    assert found.sitter.name == "cheek"
    assert found.sitter.level == 45.0
    assert found.sitter.box == (960, 270, 192, 216), "in pixels of the picture"
    assert aim_for("cheek", found.aims) == own


def test_a_spot_that_was_chosen_and_has_no_aim_is_held_to_the_sitters() -> None:
    found = subject_of(seen(()), AIMS, LOG, "cheek", SPOTS)
    aim = aim_for("cheek", found.aims)
    assert aim is not None
    assert (aim.value, aim.unit, aim.tolerance) == (AIMS[0].value, "stops", AIMS[0].tolerance)
    assert aim_for("sitter 1", found.aims) == AIMS[0], "that of the sitters stays"


def test_what_was_chosen_stands_before_the_main_sitter() -> None:
    both = (sitter("sitter 1", main=True), sitter("sitter 2"))
    assert subject_of(seen(both), AIMS, LOG, "sitter 2").sitter.name == "sitter 2"
    assert subject_of(seen(both), AIMS, LOG, "cheek", SPOTS).sitter.name == "cheek"


def test_the_middle_is_planned_to_middle_grey() -> None:
    found = subject_of(seen(()), AIMS, LOG, MIDDLE)
    assert found.sitter.level == 40.0
    # ACEScct (S-2016-001): 18 % lies at 41.36 IRE and a stop is 5.71 of them.
    assert found.sitter.stops == pytest.approx((40.0 - 41.36) / 5.71, abs=0.01)
    aim = aim_for(MIDDLE, found.aims)
    assert aim is not None
    assert (aim.value, aim.unit) == (0.0, "stops")


@pytest.mark.parametrize(
    ("made", "target", "words"),
    [
        (seen(()), None, "no face is seen; place a spot on the skin"),
        (seen(None), None, "faces are not looked for; place a spot on the skin"),
        (
            seen((sitter("sitter 1", main=True, state="too dark", level=None, stops=None),)),
            None,
            "sitter 1 is too dark; go brighter until the skin can be read",
        ),
        (
            seen((sitter("sitter 1", main=True, state="clipped", level=None, stops=None),)),
            None,
            "sitter 1 is clipped; go darker until the skin can be read",
        ),
        (seen(()), "sitter 7", "sitter 7 is not in the picture; choose what to plan for"),
        (seen(()), "bench", "bench is not in the picture; choose what to plan for"),
        (seen(luma=None), MIDDLE, "the middle of the picture is too dark to be read; go brighter"),
        (
            seen((sitter("sitter 1", state="too dark", level=None, stops=None),)),
            "sitter 1",
            "sitter 1 cannot be read; choose what to plan for",
        ),
    ],
)
def test_what_is_missing_is_said_in_one_line(made: Reading, target: str | None, words: str) -> None:
    with pytest.raises(UsageError) as caught:
        subject_of(made, AIMS, LOG, target, SPOTS)
    line = f"{caught.value.what}; {caught.value.todo}"
    assert line.startswith(words)
    assert "\n" not in line


def test_no_aim_is_said_with_its_name() -> None:
    with pytest.raises(UsageError, match="no aim for sitter 1"):
        subject_of(seen((sitter("sitter 1", main=True),)), (), LOG)
    with pytest.raises(UsageError, match="no aim for cheek"):
        subject_of(seen(()), (), LOG, "cheek", SPOTS)


def test_a_spot_without_light_cannot_be_planned_for() -> None:
    dark = {"cheek": SpotReading(level=1.0, stops=None, clipped=0.0, kind="watch")}
    with pytest.raises(UsageError, match="too dark"):
        subject_of(msgspec.structs.replace(seen(()), spots=dark), AIMS, LOG, "cheek", SPOTS)


def test_what_may_be_chosen() -> None:
    made = seen((sitter("sitter 2"), sitter("sitter 1", main=True)))
    assert choices(made, SPOTS) == ("sitter 1", "sitter 2", "wall", "cheek", MIDDLE)
    assert choices(None, ()) == (MIDDLE,)
