"""Figures beyond levels: the sitter, headroom, the signal, spots; what matters most is there at every size."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.planning import Planning
from analysis.model.reading import Flicker, Noise, Tolerance
from tests.tui.measured import AIM, FLICKER, SITTER, complete, read
from tests.tui.synthetic import snapshot
from tests.tui.widgets.drawing import PLAIN, draw, ink_of, inks, text
from tui.palette import Ink
from tui.widgets.blocks.block import Step, share_out
from tui.widgets.numbers import NumbersPanel

NARROW, MIDDLE, WIDE = (27, 13), (35, 21), (46, 37)
SIZES = [NARROW, MIDDLE, WIDE]


def replaced(**changes):
    """The complete snapshot with another main sitter."""
    return complete(sitters=(msgspec.structs.replace(SITTER, **changes),))


steps = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 99)), min_size=1, max_size=4).map(
    lambda pairs: tuple(Step(*pair) for pair in sorted(pairs))
)


@given(st.lists(steps, min_size=1, max_size=6), st.integers(0, 60))
def test_rows_are_shared_out_without_exceeding_what_there_is(wanted, rows: int) -> None:
    given_rows = share_out(wanted, rows)
    least = sum(each[0].rows for each in wanted)
    assert sum(given_rows) <= max(rows, least)
    for number, each in enumerate(wanted):
        assert given_rows[number] in {step.rows for step in each}


def test_what_is_wanted_more_gets_its_rows_first() -> None:
    assert share_out([(Step(1), Step(4, 1)), (Step(1), Step(4, 2))], 5) == [1, 4]


@pytest.mark.parametrize("size", SIZES)
def test_the_sitter_stands_in_large_figures_with_distance_and_direction(size) -> None:
    shown = text(draw(NumbersPanel, size, replaced(level=46.0, stops=0.2)))
    assert "SITTER 1" in shown
    assert "skin" in shown
    # From 46 to 50 IRE in BT.709 is a quarter of a stop (item 1.2, inverse): one third to the nearest third.
    assert "● 1/3 stop under" in shown
    assert "aim 46-54" in shown
    assert "█" in shown or "▀" in shown


def test_over_and_on_the_aim_differ_in_words_and_glyph() -> None:
    over = draw(NumbersPanel, MIDDLE, replaced(level=61.0, stops=1.0))
    assert "▲ 2/3 stop over" in text(over)
    assert ink_of(over, "▲ 2/3 stop over") == Ink.SEEN
    on_aim = draw(NumbersPanel, MIDDLE, replaced(level=50.5))
    assert "● on aim" in text(on_aim)
    assert ink_of(on_aim, "● on aim") == Ink.AIM


@pytest.mark.parametrize("size", [MIDDLE, WIDE])
def test_all_that_is_known_of_a_sitter_is_told(size) -> None:
    shown = text(draw(NumbersPanel, size, replaced(clipped=0.0)))
    for words in ("+0.6 st", "44.0-58.3", "left +0.9"):
        assert words in shown
    assert "clip 2.50 %" in text(draw(NumbersPanel, size, replaced(clipped=2.5)))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("state", "words"), [("too dark", "TOO DARK"), ("clipped", "CLIPPED")])
def test_a_lost_face_has_no_number_but_a_reason(size, state: str, words: str) -> None:
    nothing = dict.fromkeys(("level", "low", "high", "stops", "ratio_stops", "clipped"))
    shown = text(draw(NumbersPanel, size, replaced(state=state, **nothing)))
    assert f" {words} " in shown
    assert "the skin cannot be read" in shown
    assert "52" not in shown.split("CLIPPED ─")[0]


def test_a_held_face_says_so() -> None:
    sheet = draw(NumbersPanel, MIDDLE, replaced(state="held"))
    assert "held, not seen now" in sheet.lines()[0]
    assert ink_of(sheet, "held, not seen now") == Ink.CARE


@pytest.mark.parametrize("size", SIZES)
def test_without_a_face_the_middle_stands_in_its_place(size) -> None:
    sheet = draw(NumbersPanel, size, complete(sitters=()))
    shown = text(sheet)
    assert "LEVEL" in shown
    assert "no face" in shown
    assert "middle" in shown
    assert "SITTER" not in shown


def test_nothing_jumps_when_a_face_is_lost() -> None:
    found, lost = (draw(NumbersPanel, MIDDLE, complete(sitters=s)).lines() for s in ((SITTER,), ()))
    for title in ("HEADROOM", "CLIPPED", "CRUSHED", "SPOTS"):
        rows = [next(y for y, line in enumerate(lines) if line.startswith(title)) for lines in (found, lost)]
        assert rows[0] == rows[1], title


def test_where_sitters_are_not_looked_for_nothing_speaks_of_them() -> None:
    shown = text(draw(NumbersPanel, WIDE, complete(sitters=None)))
    assert "face" not in shown
    assert "aim" not in shown


def test_an_aim_of_the_sitter_by_name_outranks_that_of_all() -> None:
    now = msgspec.structs.replace(complete(), aims=(AIM, msgspec.structs.replace(AIM, target="sitter 1", value=40.0)))
    assert "aim 36-44" in text(draw(NumbersPanel, MIDDLE, now))


@pytest.mark.parametrize("size", SIZES)
def test_headroom_is_large_and_named(size) -> None:
    sheet = draw(NumbersPanel, size, complete())
    shown = text(sheet)
    assert "headroom" in shown.lower()
    assert shown.count("█") + shown.count("▀") + shown.count("▄") > 20
    assert " ".join("2.1") in text(draw(NumbersPanel, NARROW, complete(), PLAIN))


@pytest.mark.parametrize("size", [MIDDLE, WIDE])
def test_footroom_stands_beside_the_headroom(size) -> None:
    line = next(line for line in draw(NumbersPanel, size, complete()).lines() if "footroom" in line)
    assert line.split("footroom")[1].split()[0] == "4.3"


def test_without_a_curve_there_are_no_stops_and_the_reason_is_told() -> None:
    sheet = draw(NumbersPanel, MIDDLE, snapshot())
    assert "no curve, no stops" in text(sheet)
    assert ink_of(sheet, "no curve, no stops") == Ink.CARE


def test_who_set_the_clip_level_is_told() -> None:
    now = complete(sitters=None)
    assert "% at 100.0, end of range" in text(draw(NumbersPanel, WIDE, now))
    for by, words in (("ceiling", "ceiling found"), ("asked", "asked"), ("profile", "camera profile")):
        clipped = msgspec.structs.replace(now.reading.clipped, level=94.2, by=by)
        shown = text(draw(NumbersPanel, WIDE, complete(sitters=None, clipped=clipped)))
        assert f"% at 94.2, {words}" in shown


def test_noise_is_told_or_why_not() -> None:
    shown = text(draw(NumbersPanel, WIDE, complete()))
    assert "shadow S/N  5.2 stops, noise 0.81 IRE" in shown
    refused = text(draw(NumbersPanel, WIDE, complete(noise=Noise(refused="the picture moves"))))
    assert "shadow S/N  – the picture moves" in refused


@pytest.mark.parametrize("size", SIZES)
def test_flicker_that_is_seen_is_told_at_every_size(size) -> None:
    sheet = draw(NumbersPanel, size, complete(flicker=FLICKER))
    assert "4.0 Hz 0.03 st" in text(sheet)
    assert Ink.SEEN in inks(sheet)


def test_safe_angles_at_this_rate() -> None:
    # 360 * 25 / 120 = 75 degrees and its multiples: a whole number of half periods of 60 Hz mains; arithmetic.
    shown = text(draw(NumbersPanel, WIDE, complete()))
    assert "safe 60 Hz  75 150 225 300" in shown
    assert "safe 50 Hz  any angle" in shown


def test_a_flicker_brings_the_angles_that_would_end_it() -> None:
    # 120 Hz light at 25 pictures a second beats at 120 - 5 * 25 = 5 Hz: 60 Hz mains; arithmetic.
    now = msgspec.structs.replace(complete(flicker=Flicker(hz=5.0, stops=0.1)), spots=())
    assert "safe 60 Hz  75 150 225 300" in text(draw(NumbersPanel, MIDDLE, now))
    wide = draw(NumbersPanel, WIDE, complete(flicker=Flicker(hz=5.0, stops=0.1))).lines()
    order = [line.split()[:2] for line in wide if line.strip().startswith(("flicker", "safe"))]
    assert order == [["flicker", "5.0"], ["safe", "60"], ["safe", "50"]]


def test_tolerance_with_its_limit() -> None:
    # EBU R 103: at most 1 % of the pixels outside the preferred range.
    assert "R 103       0.31 % outside within 1 %" in text(draw(NumbersPanel, WIDE, complete()))
    beyond = Tolerance(any=6.4, luma=6.0, r=6.4, g=0.0, b=0.0, within=False)
    sheet = draw(NumbersPanel, WIDE, complete(tolerance=beyond))
    assert "6.40 % outside BEYOND 1 %" in text(sheet)
    assert ink_of(sheet, "BEYOND 1 %") == Ink.SEEN


@pytest.mark.parametrize("size", [MIDDLE, WIDE])
def test_spots_are_listed_and_clip_matters_only_where_it_may_not(size) -> None:
    sheet = draw(NumbersPanel, size, complete())
    shown = text(sheet)
    assert "△ window 97.0 IRE" in shown
    assert "○ bench 31.4 IRE" in shown
    assert ink_of(sheet, "clip 12.0 %") == Ink.TEXT
    spots = complete().reading.spots | {
        "bench": msgspec.structs.replace(complete().reading.spots["bench"], clipped=3.0)
    }
    assert ink_of(draw(NumbersPanel, size, complete(spots=spots)), "clip 3.00 %") == Ink.OVER


def test_a_spot_with_an_aim_tells_how_far_off_it_is() -> None:
    aim = msgspec.structs.replace(AIM, target="bench", value=40.0, tolerance=3.0)
    now = msgspec.structs.replace(complete(sitters=None), aims=(aim,))
    assert "under" in next(line for line in draw(NumbersPanel, WIDE, now).lines() if "bench" in line)


def test_many_spots_are_counted_where_they_do_not_fit() -> None:
    now = complete()
    many = tuple(msgspec.structs.replace(now.spots[0], name=f"spot {n}") for n in range(16))
    shown = text(draw(NumbersPanel, MIDDLE, msgspec.structs.replace(now, spots=many)))
    assert "SPOTS +" in shown


@pytest.mark.parametrize("size", [*SIZES, (27, 7), (120, 1)])
@pytest.mark.parametrize("state", ["late", "lost"])
def test_late_is_dim_and_lost_is_blank(size, state: str) -> None:
    now = complete(flicker=FLICKER)
    feed = msgspec.structs.replace(now.feed, state=state)
    sheet = draw(NumbersPanel, size, msgspec.structs.replace(now, feed=feed))
    assert not {Ink.FIGURE, Ink.OVER, Ink.SEEN, Ink.AIM} & inks(sheet)
    if state == "lost":
        assert not any(figure in text(sheet) for figure in ("52.1", "2.1", "5.2", "0.31", "97.0", "4.0 Hz"))


@pytest.mark.parametrize("width", range(1, 60, 7))
@pytest.mark.parametrize("height", range(1, 45, 6))
def test_any_size_can_be_drawn_in_ascii_too(width: int, height: int) -> None:
    for now in (complete(flicker=FLICKER), complete(sitters=()), read()):
        shown = draw(NumbersPanel, (width, height), now, PLAIN).lines()
        assert len(shown) == height
        assert "".join(shown).isascii()


def test_headroom_says_to_which_end_it_is_counted() -> None:
    """Without a told sensor's end, to the level that counts as clipped; with one, to that."""
    now = complete()
    assert "sensor" not in text(draw(NumbersPanel, WIDE, now))
    known = msgspec.structs.replace(now, planning=Planning(sensor_end=75.14))
    assert "stops to 75.1, sensor's end" in text(draw(NumbersPanel, WIDE, known))
    assert "stops to 75.1" in text(draw(NumbersPanel, MIDDLE, known))
