"""The panels of the match view: the difference with its bars, what to move, the list of holds, the hold's picture."""

from __future__ import annotations

import msgspec
import pytest

from analysis.engine.matching import NO_PICTURE, NOT_SAID, MatchDesk
from analysis.exposure.plan_words import LAMPS
from analysis.model.hold import Apart, Difference, HoldMark, Matching
from analysis.model.instant import Instant
from analysis.model.snapshot import Snapshot
from tests.tui.holding import SET, comparing, holds, lit, matching
from tests.tui.synthetic import START, snapshot
from tests.tui.widgets.drawing import BRAILLE, PLAIN, draw, ink_of, text
from tui.bridge import judge
from tui.hold_words import age, is_old, set_then
from tui.look import Look
from tui.palette import GREY_FIRST, Ink
from tui.sheet import Sheet
from tui.widgets.hold_list import HoldList
from tui.widgets.hold_picture import HoldPicture, LivePicture
from tui.widgets.match_moves import MatchCautions, MatchMoves, minded, told
from tui.widgets.match_table import MatchTable, put_bar

SIZES = [(46, 11), (67, 20), (112, 30)]


def row(sheet: Sheet, name: str) -> str:
    return next(line for line in sheet.lines() if line.strip().startswith(name))


def with_difference(found: Difference) -> Snapshot:
    now = comparing()
    assert now.matching is not None
    return msgspec.structs.replace(now, matching=msgspec.structs.replace(now.matching, difference=found))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_every_part_has_its_stops_its_side_and_its_words(size: tuple[int, int], look: Look) -> None:
    for stops, figure, words in ((0.7, "+0.7", "brighter"), (-1.0, "-1.0", "darker")):
        sheet = draw(MatchTable, size, comparing(stops), look)
        shown = text(sheet)
        for name in ("skin", "backgr", "middle"):
            assert figure in row(sheet, name) and words in row(sheet, name), shown
        assert "alike" in row(sheet, "ratio" if size[0] < 84 else "skin over background")
        assert "clipped" in shown and "crushed" in shown
        assert look is BRAILLE or shown.isascii()


def test_the_sides_of_the_bars_tell_the_direction_without_colour() -> None:
    for stops in (1.0, -1.0):
        line = row(draw(MatchTable, (46, 11), comparing(stops), PLAIN), "skin")
        before, after = line.split("|")
        assert ("#" in after) == (stops > 0.0) and ("#" in before) == (stops < 0.0)


@pytest.mark.parametrize(
    ("apart", "bar"),
    [
        (Apart(stops=0.0), "······●······"),
        (Apart(stops=0.16), "······●······"),
        (Apart(stops=0.17), "······│█·····"),
        (Apart(stops=2.0), "······│██████"),
        (Apart(stops=2.05), "······│██████"),
        (Apart(stops=7.0), "······│█████▶"),
        (Apart(stops=-7.0), "◀█████│······"),
        (Apart(stops=1.0, at_least=True), "······│██▶···"),
        (Apart(stops=-1.0, at_least=True), "···◀██│······"),
        (None, "······│······"),
    ],
)
def test_bars(apart: Apart | None, bar: str) -> None:
    sheet = Sheet(13, 1)
    put_bar(sheet, 0, 0, 13, apart)
    assert sheet.lines() == [bar]
    plain = Sheet(13, 1, ascii=True)
    put_bar(plain, 0, 0, 13, apart)
    assert plain.lines()[0].isascii() and "?" not in plain.lines()[0]


def test_what_the_clip_hides_is_marked_in_figure_and_words() -> None:
    sheet = draw(MatchTable, (112, 30), with_difference(Difference(highlights=Apart(stops=-0.7, at_least=True))))
    assert "≤ -0.7" in row(sheet, "highlights") and "at least 2/3 stop darker" in row(sheet, "highlights")


def test_what_is_not_told_says_why() -> None:
    notes = ("highlights clipped in both",)
    sheet = draw(MatchTable, (46, 11), with_difference(Difference(notes=notes, middle=Apart(stops=0.5))))
    assert "not told" in row(sheet, "skin") and "–" in row(sheet, "skin")
    assert "not told: highlights clipped in both" in text(sheet)


@pytest.mark.parametrize(
    ("by", "words"), [("spot", "the spots"), ("surroundings", "around the sitters"), ("rest", "less the faces")]
)
def test_it_says_what_the_background_is_read_from(by: str, words: str) -> None:
    found = Difference(background=Apart(stops=0.5), background_by=by)
    assert words in text(draw(MatchTable, (67, 20), with_difference(found)))


def test_shares_are_points_of_percent() -> None:
    sheet = draw(MatchTable, (67, 20), with_difference(Difference(clipped=3.14, crushed=-0.5)))
    assert "+3.14" in row(sheet, "clipped") and "more clipped" in row(sheet, "clipped")
    assert "-0.50" in row(sheet, "crushed") and "less crushed" in row(sheet, "crushed")


@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_told_without_a_hold_or_a_picture(size: tuple[int, int]) -> None:
    bare = draw(MatchTable, size, comparing(chosen=None))
    assert "NO HOLD IS CHOSEN" in text(bare) and "Enter on one of the list" in text(bare)
    none = draw(MatchTable, size, comparing(chosen=None, kept=()))
    assert "k keeps what is read now" in text(none)
    lost = msgspec.structs.replace(snapshot("lost", with_picture=False), matching=matching(0.7))
    assert "NO PICTURE" in text(draw(MatchTable, size, lost)) and "+0.7" not in text(draw(MatchTable, size, lost))
    assert "ND from" not in text(draw(MatchMoves, size, lost))
    waiting = msgspec.structs.replace(comparing(), matching=Matching(names=("bench",), hold=holds()[0]))
    assert "COMPARING" in text(draw(MatchTable, size, waiting))


def test_late_pictures_are_dimmed() -> None:
    now = comparing()
    late = msgspec.structs.replace(now, feed=msgspec.structs.replace(now.feed, state="late"))
    assert ink_of(draw(MatchTable, (67, 20), late), "+0.7") == Ink.STALE
    moves = draw(MatchMoves, (60, 20), late)
    assert Ink.STRONG not in {Ink(int(ink)) for ink in moves.inks[1:].ravel() if ink < GREY_FIRST}


@pytest.mark.parametrize("size", [(33, 11), (52, 20), (88, 30)])
@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
def test_the_first_way_leads(size: tuple[int, int], look: Look) -> None:
    shown = text(draw(MatchMoves, size, comparing(0.7), look))
    flat = " ".join(shown.split())
    assert "1 ND from 6 to" in flat and "TO MATCH IT" in flat
    assert look is BRAILLE or shown.isascii()
    if size[1] >= 20:
        assert "Brings the skin to the hold" in flat
        assert "in stops: close 2/3 stop on everything" in flat


def test_where_nobody_said_what_is_set_stops_are_told_and_why() -> None:
    flat = " ".join(text(draw(MatchMoves, (60, 12), comparing(1.0, said=False))).split())
    assert "close 1 stop on everything" in flat
    assert f"no plan: {NOT_SAID}" in flat


def test_a_way_that_falls_short_says_so_first() -> None:
    found = matching(0.7)
    assert found.planned is not None
    short = msgspec.structs.replace(found.planned, missing="1 stop short even at ISO 800: more light")
    first, _ = told(msgspec.structs.replace(found, planned=short), 60)
    assert first[0] == ("no way reaches it: 1 stop short even at ISO 800: more light", Ink.CARE)
    assert first[1][0].startswith("nearest: ND from 6 to")


def test_cautions_stand_across_the_screen_and_only_beside_a_picture() -> None:
    careful = msgspec.structs.replace(comparing(), matching=msgspec.structs.replace(matching(0.7), cautions=(LAMPS,)))
    for width in (60, 80, 120, 200):
        lines = minded(judge(careful, 0.0), width)
        sheet = draw(MatchCautions, (width, len(lines)), careful)
        assert " ".join(text(sheet).split()) == f"! {LAMPS}", width
        assert ink_of(sheet, "! Lamps") == Ink.CARE
    assert minded(judge(comparing(), 0.0), 80) == []
    lost = msgspec.structs.replace(snapshot("lost", with_picture=False), matching=careful.matching)
    assert minded(judge(lost, 0.0), 80) == []


def test_words_are_short_in_all_rows_or_in_none() -> None:
    found = Difference(sitter=Apart(stops=-0.7), background=Apart(stops=1.7), middle=Apart(stops=0.0))
    narrow = draw(MatchTable, (45, 11), with_difference(found))
    assert row(narrow, "skin").rstrip().endswith(" 2/3 darker")
    assert row(narrow, "backgr.").rstrip().endswith(" 1 2/3 brighter")
    wide = draw(MatchTable, (112, 30), with_difference(found))
    assert "2/3 stop darker" in row(wide, "skin") and "1 2/3 stops brighter" in row(wide, "background")


def test_what_cannot_be_compared_says_why() -> None:
    now = comparing()
    assert now.matching is not None
    dark = msgspec.structs.replace(now.matching, difference=None, trouble="the picture is dark")
    shown = text(draw(MatchTable, (46, 11), msgspec.structs.replace(now, matching=dark)))
    assert "NOT COMPARED" in shown and "the picture is dark" in shown and "COMPARING" not in shown


def test_the_live_picture_is_called_now_with_and_without_a_picture() -> None:
    lost = msgspec.structs.replace(snapshot("lost", with_picture=False), matching=matching(0.7))
    for moment in (comparing(), lost):
        heading = draw(LivePicture, (46, 11), moment).lines()[0]
        assert heading.startswith("NOW ─") and "PICTURE" not in heading


def test_where_a_hold_is_from_is_cut_with_a_sign() -> None:
    mark = HoldMark(name="bench", at=START, feed="scene:boathouse?sun=on&sway=off")
    found = Matching(names=("bench",), marks=(mark,))
    lines = draw(HoldList, (24, 6), msgspec.structs.replace(comparing(), matching=found)).lines()
    assert lines[2].rstrip().endswith("…")


def test_the_list_says_which_is_compared_and_how_old_each_is() -> None:
    sheet = draw(HoldList, (32, 10), comparing())
    lines = sheet.lines()
    assert lines[0].startswith("HOLDS") and lines[0].endswith("3")
    assert "● bench" in lines[1] and lines[1].endswith("12 min")
    assert lines[2].strip() == "scene:boathouse"
    assert lines[3].strip().startswith("hold 1 9.01") and lines[3].endswith("1 day")
    assert ink_of(sheet, "2 days") == Ink.CARE and ink_of(sheet, "12 min") == Ink.SOFT


def test_many_holds_scroll_with_the_keys() -> None:
    now = comparing(kept=holds(more=9))
    listed = HoldList(PLAIN, "list")
    for picked in now.matching.names:
        listed.picked = picked
        sheet = Sheet(26, 7, True)
        listed.draw(sheet, judge(now, 0.0))
        marked = [line for line in sheet.lines() if line.startswith(">")]
        assert len(marked) == 1 and picked in marked[0]
        assert "scene:" not in text(sheet)


def test_an_empty_list_says_how_to_begin() -> None:
    assert "none yet: k keeps one" in text(draw(HoldList, (26, 7), comparing(chosen=None, kept=())))


def test_what_was_said_last_stands_at_the_foot() -> None:
    listed = HoldList(BRAILLE, "list")
    listed.words = "no more against bench"
    sheet = Sheet(26, 7)
    listed.draw(sheet, judge(comparing(), 0.0))
    assert sheet.lines()[-1].strip() == "no more against bench"


@pytest.mark.parametrize("look", [BRAILLE, PLAIN])
@pytest.mark.parametrize("size", [(26, 9), (45, 14), (81, 25)])
def test_the_hold_is_drawn_with_its_age_and_origin(size: tuple[int, int], look: Look) -> None:
    sheet = draw(HoldPicture, size, comparing(), look)
    lines = sheet.lines()
    assert lines[0].startswith("HOLD bench") and lines[0].endswith("12 min ago")
    assert "ND 6, ISO 800, T2.8" in lines[-1]
    assert ("scene:boathouse" in lines[-1]) == (size[0] > 40)
    assert text(sheet).isascii() or look is BRAILLE
    live = draw(LivePicture, size, comparing(0.0), look)
    assert live.lines()[0].startswith("NOW ")
    body, beside = sheet.lines()[1:-1], live.lines()[1:-1]
    drawn = [sum(any(c not in " " for c in line) for line in part) for part in (body, beside)]
    assert abs(drawn[0] - drawn[1]) <= 1, "both pictures have the same size"


def test_the_hold_and_the_same_picture_live_look_alike() -> None:
    hold, live = (draw(kind, (45, 14), comparing(0.0)) for kind in (HoldPicture, LivePicture))
    inks = [sheet.inks[1:13].astype(int) for sheet in (hold, live)]
    grey = (inks[0] >= GREY_FIRST) & (inks[1] >= GREY_FIRST)
    assert grey.mean() > 0.5
    steps = abs((inks[0] - GREY_FIRST) // 24 - (inks[1] - GREY_FIRST) // 24)[grey]
    assert (steps <= 1).mean() > 0.95


def test_a_hold_of_another_day_is_marked_old() -> None:
    sheet = draw(HoldPicture, (45, 14), comparing(chosen="hold 2 9.02"))
    assert sheet.lines()[0].endswith("OLD: 2 days") and ink_of(sheet, "OLD: 2 days") == Ink.CARE


def test_a_hold_without_a_picture_and_none_at_all() -> None:
    bare = tuple(msgspec.structs.replace(each, picture=None, controls=None) for each in holds())
    shown = text(draw(HoldPicture, (45, 14), comparing(kept=bare)))
    assert "kept without a picture" in shown and "ND" not in shown
    assert "none is chosen" in text(draw(HoldPicture, (45, 14), comparing(chosen=None)))


def test_a_hold_stays_in_sight_when_the_picture_is_lost() -> None:
    desk = MatchDesk(holds())
    desk.choose("bench")
    desk.look(None, None, START)
    assert desk.matching.trouble == NO_PICTURE
    lost = msgspec.structs.replace(snapshot("lost", with_picture=False), matching=desk.matching)
    assert "HOLD bench" in text(draw(HoldPicture, (45, 14), lost))
    live = text(draw(LivePicture, (45, 14), lost))
    assert "no picture" in live and "▀" not in live


def test_plain_signal_shows_both_as_they_come() -> None:
    panel = HoldPicture(BRAILLE, "hold")
    shown = []
    for plain in (False, True):
        panel.plain = plain
        sheet = Sheet(45, 14)
        panel.draw(sheet, judge(comparing(), 0.0))
        shown.append(text(sheet))
    assert all("HOLD bench" in each for each in shown)


@pytest.mark.parametrize("size", [(1, 1), (5, 2), (10, 3), (20, 5), (30, 40)])
@pytest.mark.parametrize("kind", [MatchTable, MatchMoves, HoldList, HoldPicture, LivePicture])
def test_any_size_can_be_drawn(kind, size: tuple[int, int]) -> None:
    for moment in (comparing(), comparing(-7.0), comparing(chosen=None), snapshot("lost", with_picture=False)):
        assert len(draw(kind, size, moment).lines()) == size[1]


def test_ages_in_words() -> None:
    kept = Instant(0.0, 1000.0)
    told = [age(kept, Instant(9.0, 1000.0 + seconds)) for seconds in (0, 59, 60, 3599, 3600, 86399, 86400, 200000)]
    assert told == ["just now", "just now", "1 min", "59 min", "1 h", "23 h", "1 day", "2 days"]
    assert age(kept, Instant(0.0, 0.0)) == "just now", "a clock that was set back makes nothing older than new"
    assert is_old(kept, Instant(0.0, 1000.0 + 86400.0)) and not is_old(kept, Instant(0.0, 1000.0 + 86399.0))


def test_what_was_set_in_words() -> None:
    keyed = msgspec.structs.replace(SET, key_percent=40.0)
    hold = msgspec.structs.replace(holds()[0], controls=keyed)
    assert set_then(hold) == "ND 6, ISO 800, T2.8, key 40 %"
    assert set_then(msgspec.structs.replace(hold, controls=None)) == ""
    assert lit(0.0).reading is not None
