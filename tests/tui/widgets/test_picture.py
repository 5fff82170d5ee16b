"""The small picture: for the eye, as it comes, as zones, only outside the aims; sitters and spots framed on it."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.measure.zones import CLIP, QUIET
from analysis.signal.tables import LookUpTable
from tests.tui.measured import AIM, KNOWN, SITTER, complete, read
from tests.tui.synthetic import snapshot
from tests.tui.widgets.drawing import BRAILLE, PLAIN, ink_of, text
from tui.arrange import Box
from tui.bridge import judge
from tui.look import Look
from tui.palette import GREY_FIRST, GREY_STEPS, ZONE_FIRST, ZONE_VALUES, Ink
from tui.sheet import Sheet
from tui.widgets.frames import Part, cells_of
from tui.widgets.picture import PicturePanel, Seen

SIZE = (46, 17)
LOOKS = [BRAILLE, PLAIN, Look(glyphs="braille", colours="16"), Look(glyphs="blocks", colours="mono")]
PARTS = [Part(0, 0, 1, 1), Part(0.99, 0.99, 0.01, 0.01), Part(-0.2, -0.2, 0.1, 0.1), Part(0.5, 0.5, 3, 3)]


def drawn(now, seen: Seen = "eye", look: Look = BRAILLE, size=SIZE, table: LookUpTable | None = None) -> Sheet:
    panel = PicturePanel(look, "picture", table)
    panel.see(seen)
    sheet = Sheet(*size, look.glyphs == "ascii")
    panel.draw(sheet, judge(now, 0.0))
    return sheet


def plain_picture(code: int, curve: str | None, **parts):
    """A uniform grey picture without sitters and spots."""
    encoding = msgspec.structs.replace(KNOWN, curve=curve, bits=10)
    now = read(sitters=None, spots=None, **parts)
    now = msgspec.structs.replace(now, reading=msgspec.structs.replace(now.reading, encoding=encoding))
    small = np.full((90, 160, 3), code, np.uint8)
    return msgspec.structs.replace(now, view=msgspec.structs.replace(now.view, small=small))


def grey_of(sheet: Sheet) -> float:
    """The mean grey step of a picture in half blocks, 0 to 23."""
    inks = sheet.inks[(sheet.inks >= GREY_FIRST) & (sheet.inks < ZONE_FIRST)].astype(int) - GREY_FIRST
    return float(np.mean(np.divmod(inks, GREY_STEPS)))


def values_of(sheet: Sheet) -> set[int]:
    """The values of a zone map that stand in the picture, without the legend."""
    inks = sheet.inks[1 : sheet.height - 1]
    pairs = inks[inks >= ZONE_FIRST].astype(int) - ZONE_FIRST
    return set(np.concatenate(np.divmod(pairs, ZONE_VALUES)).tolist())


def test_a_log_picture_is_shown_through_its_display_transform() -> None:
    # Middle grey is 41.4 % in ACEScct (S-2016-001) and 40.9 % in BT.709: both must look alike; two stops
    # below it ACEScct has 30 %, BT.709 17.8 % (item 1.2: 1.099 * 0.045 ^ 0.45 - 0.099).
    dark = plain_picture(round(0.300 * 255), "acescct")
    eye, signal = grey_of(drawn(dark)), grey_of(drawn(dark, "signal"))
    assert eye == pytest.approx(0.178 * 24, abs=1.0)
    assert signal == pytest.approx(0.300 * 24, abs=1.0)
    assert "acescct shown as bt709" in drawn(dark).lines()[0]
    assert "plain signal" in drawn(dark, "signal").lines()[0]


def test_an_operators_table_is_what_the_eye_gets() -> None:
    inverted = LookUpTable(values=np.linspace([1, 1, 1], [0, 0, 0], 16).astype(np.float32), title="inverted")
    now = plain_picture(230, "bt709")
    assert grey_of(drawn(now, table=inverted)) < 4 < grey_of(drawn(now))
    assert "table inverted" in drawn(now, table=inverted).lines()[0]
    assert grey_of(drawn(now, "signal", table=inverted)) > 4


def test_a_curve_nobody_named_is_shown_as_it_comes_and_that_is_said() -> None:
    sheet = drawn(plain_picture(100, None))
    assert ink_of(sheet, "as it comes") == Ink.CARE


@pytest.mark.parametrize(("code", "zone"), [(104, 5), (152, 6), (44, 3)])
def test_zones_are_stops_from_middle_grey(code: int, zone: int) -> None:
    # BT.709 item 1.2: 18 % is 40.9 % of the signal (code 104), a stop more 59.5 % (152), two less 17.8 % (44 rounds).
    assert values_of(drawn(plain_picture(code, "bt709"), "zones")) == {zone}


def test_zones_need_a_curve() -> None:
    assert "no curve, so no zones" in text(drawn(plain_picture(104, None), "zones"))


@pytest.mark.parametrize(
    "look", [BRAILLE, PLAIN, Look(glyphs="braille", colours="16"), Look(glyphs="blocks", colours="mono")]
)
@pytest.mark.parametrize("size", [(27, 8), (35, 13), (46, 17), (83, 22), (200, 50)])
def test_zones_have_their_legend_and_their_marks_named(look: Look, size) -> None:
    sheet = drawn(complete(), "zones", look, size)
    heading = sheet.lines()[0]
    assert "ZONES" in heading
    assert "clip" in heading
    assert "crush" in heading
    legend = sheet.inks[size[1] - 1]
    assert len(set(legend[legend >= ZONE_FIRST].tolist())) == 13, "eleven zones and two marks"
    assert look is not PLAIN or text(sheet).isascii()


def test_what_the_clip_level_says_is_clipped_in_the_zones() -> None:
    now = plain_picture(220, "bt709")
    clipped = msgspec.structs.replace(now.reading.clipped, level=80.0, by="ceiling")
    assert values_of(drawn(now, "zones")).isdisjoint({CLIP})
    reading = msgspec.structs.replace(now.reading, clipped=clipped)
    assert values_of(drawn(msgspec.structs.replace(now, reading=reading), "zones")) == {CLIP}


def test_only_what_is_outside_the_aims_is_left() -> None:
    grey = plain_picture(104, "bt709")
    assert values_of(drawn(grey, "outside")) == {QUIET}
    aim = msgspec.structs.replace(AIM, value=60.0, tolerance=3.0)
    reading = msgspec.structs.replace(grey.reading, sitters=(SITTER,))
    off = msgspec.structs.replace(grey, reading=reading, aims=(aim,))
    assert values_of(drawn(off, "outside")) == {QUIET, 5}
    on = msgspec.structs.replace(off, aims=(msgspec.structs.replace(aim, value=41.0),))
    assert values_of(drawn(on, "outside")) == {QUIET}


def test_a_spot_that_may_clip_is_left_alone() -> None:
    white = msgspec.structs.replace(plain_picture(255, "bt709"), spots=(complete().spots[0],))
    assert values_of(drawn(white, "outside")) == {CLIP, QUIET}
    watched = msgspec.structs.replace(white, spots=(msgspec.structs.replace(white.spots[0], kind="watch"),))
    assert values_of(drawn(watched, "outside")) == {CLIP}


@pytest.mark.parametrize("seen", ["eye", "zones"])
def test_sitters_and_spots_are_framed_where_they_are(seen: Seen) -> None:
    sheet = drawn(complete(), seen, size=(90, 27))
    shown = text(sheet)
    for corner in "╔╗╚╝":
        assert corner in shown
    for name in ("sitter 1", "window", "bench"):
        assert name in shown
    y = next(y for y, line in enumerate(sheet.lines()) if "╔" in line)
    x = sheet.lines()[y].index("╔")
    assert abs(x - 576 / 1920 * 90) <= 1, "the picture is as wide as the panel"


def test_frames_differ_in_ascii_too() -> None:
    shown = text(drawn(complete(), "eye", PLAIN, (90, 27)))
    assert shown.isascii()
    assert "#sitter 1" in shown
    assert "/window" in shown


@pytest.mark.parametrize("box", [Box(0, 0, 40, 20), Box(3, 1, 7, 3), Box(0, 0, 1, 1)])
@pytest.mark.parametrize(
    "part", [Part(0, 0, 1, 1), Part(0.99, 0.99, 0.01, 0.01), Part(-0.2, -0.2, 0.1, 0.1), Part(0.5, 0.5, 3, 3)]
)
def test_frames_never_leave_the_picture(box: Box, part: Part) -> None:
    cells = cells_of(part, box)
    assert cells.width >= 1
    assert cells.height >= 1
    assert box.x <= cells.x
    assert cells.x + cells.width <= box.x + box.width
    assert box.y <= cells.y
    assert cells.y + cells.height <= box.y + box.height


@pytest.mark.parametrize("seen", ["eye", "signal", "zones", "outside"])
@pytest.mark.parametrize("size", [(1, 1), (3, 2), (10, 3), (27, 8), (120, 3)])
def test_any_size_can_be_drawn(seen: Seen, size) -> None:
    for look in (BRAILLE, PLAIN):
        assert len(drawn(complete(), seen, look, size).lines()) == size[1]


@pytest.mark.parametrize("seen", ["eye", "signal", "zones", "outside"])
def test_without_a_picture_there_is_none(seen: Seen) -> None:
    sheet = drawn(snapshot("lost", with_picture=False), seen)
    assert "no picture" in text(sheet)
    assert sheet.inks.max() < GREY_FIRST
    late = drawn(snapshot("late"), seen)
    assert "LATE" in late.lines()[0]
