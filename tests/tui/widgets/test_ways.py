"""What is set, the ways and their sentences as panels: at every size, with and without a plan."""

from __future__ import annotations

import msgspec
import pytest

from analysis.model.controls import ControlLimits, Controls
from analysis.model.instant import Instant
from analysis.model.planning import Planning
from tests.tui.deciding import boathouse
from tests.tui.measured import complete
from tests.tui.synthetic import snapshot
from tests.tui.test_way_words import planning, predicted, way
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, inks, text
from tui.palette import Ink
from tui.widgets.set_now import KEYS, SetNowPanel
from tui.widgets.status import StatusPanel
from tui.widgets.ways import WaysPanel
from tui.widgets.why import WhyPanel

NARROW, WIDE = (53, 13), (100, 40)
THREE = (
    way(),
    way(Controls(nd_stops=6.0, iso=640.0, t_stop=2.8), reason="Less noise."),
    way(Controls(nd_stops=4.0, iso=200.0, t_stop=2.8), reason="Lower clip."),
)


def told(found: Planning, **more):
    return msgspec.structs.replace(complete(), planning=found, **more)


@pytest.mark.parametrize("size", [NARROW, WIDE])
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_every_way_with_all_it_gives_and_costs(size, look) -> None:
    found = msgspec.structs.replace(planning(*THREE), subject="sitter 1")
    shown = text(draw(WaysPanel, size, told(found), look))
    for words in (
        "WAYS by open-sky", "for sitter 1", "suggested: 3.1 % is clipped", "now", "ND 8", "ISO 2000", "ISO 640", "ND 4",
        "skin", "54.2", "50.1", "off", "on aim", "clipped", "0.31", "crushed", "0.02", "headroom", "2.5",
        "shadow S/N", "4.6", "depth", "blur", "same",
    ):  # fmt: skip
        assert words in shown, words
    assert look is BRAILLE or shown.isascii()


@pytest.mark.parametrize("size", [NARROW, WIDE])
def test_a_single_way_says_that_there_is_no_other(size) -> None:
    def words(found: Planning) -> str:
        return " ".join(text(draw(WaysPanel, size, told(found))).split())

    assert "no other way with" in words(planning())
    assert "no other way" not in words(planning(*THREE))
    assert "no other way" not in words(planning(missing="1 stop short"))
    assert "no other way" not in words(planning(way(planning().controls))), "who may stay looks for none"


def test_the_heading_names_whom_it_is_for_at_every_size() -> None:
    found = msgspec.structs.replace(planning(*THREE), subject="the middle")
    assert draw(WaysPanel, NARROW, told(found)).lines()[0].endswith("─ for the middle")
    assert draw(WaysPanel, WIDE, told(found)).lines()[0].endswith("p changes the policy; for the middle, f changes")


def test_half_a_number_is_never_shown() -> None:
    now = Controls(nd_stops=6.67, iso=12800.0, t_stop=2.8, key_percent=100.0, key_distance=2.25)
    for width in range(36, 90):
        line = draw(SetNowPanel, (width, 3), told(Planning(controls=now, said=True))).lines()[1]
        part = width // 6
        cells = [line[number * part : (number + 1) * part].strip(" ▶") for number in range(6)]
        for cell, whole in zip(cells, ("6.67", "12800", "2.8", "180°", "100", "2.25"), strict=True):
            assert whole in cell or cell == "…", (width, cells)


def test_the_chosen_way_is_marked_without_colour() -> None:
    sheet = draw(WaysPanel, WIDE, told(planning(*THREE)))
    assert "▶ 1" in text(sheet)
    assert "▶ 2" not in text(sheet)
    assert "> 1" in text(draw(WaysPanel, WIDE, told(planning(*THREE)), PLAIN))


def test_with_room_the_other_ways_have_their_reasons_too() -> None:
    shown = text(draw(WaysPanel, WIDE, told(planning(*THREE))))
    assert "2: Less noise." in shown
    assert "3: Lower clip." in shown
    assert "Less noise" not in text(draw(WaysPanel, NARROW, told(planning(*THREE))))


def test_figures_of_a_late_picture_are_dim() -> None:
    late = told(planning(*THREE), feed=snapshot("late").feed)
    assert ink_of(draw(WaysPanel, WIDE, late), "54.2") == Ink.STALE


def test_a_plan_of_an_older_picture_says_how_old_it_is() -> None:
    now = complete().at
    fresh = msgspec.structs.replace(planning(*THREE), at=Instant(now.monotonic - 0.5, now.utc - 0.5))
    assert "ago" not in text(draw(WaysPanel, WIDE, told(fresh)))
    old = msgspec.structs.replace(fresh, at=Instant(now.monotonic - 7.0, now.utc - 7.0))
    sheet = draw(WaysPanel, WIDE, told(old))
    assert ink_of(sheet, "planned 7.0 s ago") == Ink.CARE


def test_why_there_is_no_plan() -> None:
    trouble = Planning(said=True, trouble="no face is seen; place a spot on the skin, then choose what to plan for")
    shown = text(draw(WaysPanel, NARROW, told(trouble)))
    assert "NO PLAN" in shown
    assert "place a spot on the skin" in shown
    assert "PLANNING" in text(draw(WaysPanel, NARROW, told(Planning())))
    assert "PLANNING" in text(draw(WaysPanel, NARROW, complete()))


def test_a_plan_without_a_way_says_what_is_missing() -> None:
    found = planning(missing="no setting keeps the clipped share within 0.5 %: less light, or more ND")
    assert found.planned is not None
    none = msgspec.structs.replace(found, planned=msgspec.structs.replace(found.planned, plans=()))
    shown = text(draw(WaysPanel, NARROW, told(none)))
    assert "NO WAY" in shown
    assert "less light, or more ND" in " ".join(shown.split())


@pytest.mark.parametrize("panel", [WaysPanel, WhyPanel])
def test_no_plan_stands_beside_a_picture_that_is_gone(panel) -> None:
    lost = msgspec.structs.replace(snapshot("lost", with_picture=False), planning=planning(*THREE))
    shown = text(draw(panel, NARROW, lost))
    assert "ISO 2000" not in shown
    assert "on aim" not in shown
    assert panel is WhyPanel or "NO PICTURE" in shown


def test_the_nearest_way_is_called_so() -> None:
    shown = text(draw(WaysPanel, NARROW, told(planning(missing="2 stops short even at ISO 3200: more light"))))
    assert "nearest" in shown


def test_cautions_stand_before_the_reason_where_room_is_short() -> None:
    found = planning(way(reason="long reason " * 30), cautions=("Lamps are hot.",))
    shown = text(draw(WhyPanel, (60, 3), told(found)))
    assert "! Lamps are hot." in shown
    assert "long reason" in shown
    assert text(draw(WhyPanel, (60, 1), told(found))).strip() == "! Lamps are hot."


def test_what_is_set_with_two_keys_each() -> None:
    found = msgspec.structs.replace(
        planning(), controls=Controls(nd_stops=6.0, t_stop=2.8, key_percent=60.0), camera="lake"
    )
    lines = draw(SetNowPanel, (80, 3), told(found)).lines()
    for words in ("ND 6", "ISO 800", "T2.8", "180° 1/50", "key 60 %", "at –"):
        assert words in lines[1], words
    for letter in KEYS.values():
        assert f"{letter}/{letter.upper()}" in lines[2]
    assert lines[2].count("locked") == 2
    assert "lake" in lines[0]
    free = msgspec.structs.replace(found, limits=ControlLimits(locked=("key",)))
    # The key has two controls, power and distance.
    assert draw(SetNowPanel, (80, 3), told(free)).lines()[2].count("locked") == 2
    assert "▶ND 6" in lines[1]


@pytest.mark.parametrize("width", [80, 120, 200])
def test_what_nobody_said_is_not_shown_and_how_to_say_it_is(width: int) -> None:
    sheet = draw(SetNowPanel, (width, 3), told(Planning()))
    lines = sheet.lines()
    assert "NOT SAID WHAT IS SET" in lines[0]
    assert "two keys each" in lines[0]
    assert "watch --controls FILE" in lines[0]
    assert "800" not in lines[1]
    assert "180" not in lines[1]
    assert ink_of(sheet, "two keys each") == Ink.CARE


def test_ascii_is_ascii_and_a_degree_is_no_digit() -> None:
    shown = text(draw(SetNowPanel, (80, 3), told(planning()), PLAIN))
    assert shown.isascii()
    assert "180d 1/50" in shown
    assert text(draw(WhyPanel, (80, 3), told(planning()), PLAIN)).isascii()


def test_the_status_lines_say_what_is_set_where_it_was_said() -> None:
    assert "ND 6  ISO 800  T2.8  180°" in text(draw(StatusPanel, (140, 2), told(planning())))
    narrow = text(draw(StatusPanel, (80, 2), told(planning())))
    assert "ND 6  ISO 800" in narrow, "what is moved most stays where there is little room"
    assert "T2.8" not in narrow
    assert "ISO" not in text(draw(StatusPanel, (140, 2), told(Planning())))
    assert "ISO" not in text(draw(StatusPanel, (140, 2), complete()))


@pytest.mark.parametrize("panel", [SetNowPanel, WaysPanel, WhyPanel])
@pytest.mark.parametrize("size", [(1, 1), (5, 2), (10, 3), (30, 6), (53, 9), (60, 10), (75, 12), (200, 50)])
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_any_size_can_be_drawn(panel, size, look) -> None:
    hidden = way(predicted=predicted(sitter_at_least=True, clipped_at_most=4.0, background_stops=1.0))
    for found in (Planning(), planning(*THREE), planning(hidden, said=False, missing="x", cautions=("y",))):
        assert len(draw(panel, size, told(found), look).lines()) == size[1]


def test_a_real_plan_fits_its_columns() -> None:
    """No figure of a real plan is cut at the sizes the screen gives the table."""
    watch = boathouse(nd=-1.0)
    watch.plan(True)
    moment = watch.snapshot()
    shown = text(draw(WaysPanel, (75, 26), moment))
    assert moment.planning is not None
    assert moment.planning.planned is not None
    for plan in moment.planning.planned.plans:
        assert f"at most {plan.predicted.clipped_at_most:.2f}" in shown
    assert Ink.SITTER in inks(draw(WaysPanel, (75, 26), moment))
