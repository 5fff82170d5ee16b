"""The status lines, the key line, the mini view and the choice of pieces."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.snapshot import OutletStatus
from tests.tui.synthetic import FORMAT, alarm, snapshot
from tests.tui.widgets.drawing import PLAIN, draw, ink_of, text
from tui.bridge import judge
from tui.pacing import LinkReport
from tui.palette import Ink
from tui.widgets.keys import KeysPanel
from tui.widgets.mini import MiniPanel
from tui.widgets.pieces import Piece, choose
from tui.widgets.status import StatusPanel

STATES = ["closed", "opening", "priming", "live", "late", "still", "frozen", "dark", "suspect", "reshaped", "lost"]


def feed(state: str = "live", **more):
    now = snapshot(state)
    return msgspec.structs.replace(now, feed=msgspec.structs.replace(now.feed, **more))


def test_state_age_rate_and_address_are_on_the_first_line() -> None:
    line = draw(StatusPanel, (120, 2), snapshot()).lines()[0]
    for words in ("● LIVE", "picture 0.04 s old", "25.0 a second", "scene:boathouse"):
        assert words in line


def test_what_the_feed_is_stands_on_the_second_line() -> None:
    line = draw(StatusPanel, (130, 2), feed(skipped=3, missing=7)).lines()[1]
    for words in (
        "1920×1080",
        "10 bit",
        "narrow range",
        "BT.709 matrix ASSUMED",
        "skipped 3",
        "missing 7",
        "opening no. 1",
    ):
        assert words in line


def test_assumptions_stand_out_also_without_colour() -> None:
    sheet = draw(StatusPanel, (120, 2), snapshot())
    assert ink_of(sheet, "ASSUMED") == Ink.CARE
    assert "ASSUMED" in text(draw(StatusPanel, (80, 2), snapshot())), "it must not be the piece that is dropped"


def test_approximate_codes_are_marked() -> None:
    assert "APPROXIMATE" in text(draw(StatusPanel, (160, 2), feed(approximate=True)))


@pytest.mark.parametrize("state", STATES)
def test_every_state_has_its_word_and_evidence(state: str) -> None:
    shown = text(draw(StatusPanel, (140, 2), snapshot(state)))
    assert state.upper() in shown
    if state != "live":
        assert "no frame for 2.4 s" in shown


def test_before_the_first_picture_there_is_no_age_and_no_format() -> None:
    shown = text(draw(StatusPanel, (120, 2), feed("opening", age=None, format=None, fps=None)))
    assert "no picture yet" in shown
    assert " old" not in shown


def test_a_slow_link_is_told() -> None:
    link = LinkReport(frames=3.1, delay=0.6, latest=0.3, rate=9000, slow=True)
    showing = judge(snapshot(), 0.0, link=link)
    assert "link 3.1 fps, 0.60 s" in draw(StatusPanel, (120, 2), showing).lines()[0]
    fast = LinkReport(frames=8.0, delay=0.02, latest=0.02, rate=9000, slow=False)
    assert "link" not in text(draw(StatusPanel, (120, 2), judge(snapshot(), 0.0, link=fast)))


def test_a_fault_of_the_watch_takes_the_second_line() -> None:
    sheet = draw(StatusPanel, (120, 2), msgspec.structs.replace(snapshot(), fault="ValueError: odd size"))
    assert sheet.lines()[1].startswith(" ! ValueError: odd size")


def test_a_note_about_the_feed_is_shown() -> None:
    showing = judge(snapshot(), 0.0, note="No capture device found")
    assert "No capture device found" in draw(StatusPanel, (120, 2), showing).lines()[1]


def test_a_watch_that_does_not_answer_is_not_called_live() -> None:
    shown = text(draw(StatusPanel, (120, 2), judge(snapshot(), 5.0)))
    assert "NO ANSWER" in shown
    assert "LIVE" not in shown
    assert "picture 5.0 s old" in shown


def test_portrait_without_nominal_rate() -> None:
    shape = msgspec.structs.replace(FORMAT, rate=None)
    assert "nominal" not in text(draw(StatusPanel, (120, 2), feed(format=shape)))


def outlet(**more):
    return msgspec.structs.replace(snapshot(), outlet=OutletStatus(**({"outlet": "speakers", "reason": ""} | more)))


@pytest.mark.parametrize(
    ("status", "words"),
    [
        ({}, "sound: speakers"),
        ({"outlet": "bell"}, "sound: bell"),
        ({"outlet": "off"}, "no sound"),
        ({"muted_seconds": 571.3}, "muted 9:32"),
    ],
)
@pytest.mark.parametrize("width", [60, 80, 120])
def test_where_alarms_are_heard_is_always_on_the_last_line(status: dict, words: str, width: int) -> None:
    assert draw(KeysPanel, (width, 1), outlet(**status)).lines()[0].rstrip().endswith(words)


def test_key_hints_fit_and_the_weightiest_stay() -> None:
    wide = draw(KeysPanel, (120, 1), snapshot()).lines()[0]
    words = ("acknowledge", "decide", "mute", "alarms", "trace", "view", "beside", "help", "quit")
    assert all(word in wide for word in words)
    narrow = draw(KeysPanel, (60, 1), snapshot()).lines()[0]
    assert all(word in narrow for word in ("acknowledge", "quit"))


NEW = (alarm("highlights", "active-unacknowledged", 985.0), alarm("shadows", "active-acknowledged"))


@pytest.mark.parametrize("size", [(40, 12), (20, 5)])
def test_mini_view_has_level_clip_alarm_and_feed(size: tuple[int, int]) -> None:
    shown = text(draw(MiniPanel, size, snapshot(alarms=NEW)))
    for words in ("LIVE", "NEW", "middle", "clip"):
        assert words in shown


def test_mini_view_of_one_line() -> None:
    line = draw(MiniPanel, (50, 1), snapshot(alarms=NEW)).lines()[0]
    for words in ("LIVE", "NEW", "middle"):
        assert words in line


def test_mini_view_of_a_lost_feed_has_no_figures() -> None:
    shown = text(draw(MiniPanel, (40, 12), snapshot("lost")))
    assert "LOST" in shown
    assert "NO PICTURE" in shown
    assert "middle –" in shown


def test_mini_view_is_ascii_where_it_must_be() -> None:
    assert text(draw(MiniPanel, (40, 12), snapshot(alarms=NEW), PLAIN)).isascii()


@pytest.mark.parametrize("width", [1, 2, 3, 9])
@pytest.mark.parametrize("height", [1, 2, 30])
def test_mini_view_of_any_size(width: int, height: int) -> None:
    assert len(draw(MiniPanel, (width, height), snapshot(alarms=NEW)).lines()) == height


pieces = st.lists(st.builds(Piece, st.text("abc", max_size=8), st.just(0), st.integers(0, 9)), max_size=8)


@given(pieces, st.integers(0, 60))
def test_chosen_pieces_fit_or_are_alone(given_pieces: list[Piece], width: int) -> None:
    kept = choose(given_pieces, width)
    assert len(kept) <= 1 or sum(len(piece.text) + 2 for piece in kept) - 2 <= width
    assert kept == [piece for piece in given_pieces if piece in kept and piece.text][: len(kept)] or kept


def test_a_piece_that_may_be_cut_is_cut_before_it_goes() -> None:
    long = Piece("no picture for 2.4 seconds", weight=1, cut=True)
    assert [piece.text for piece in choose([Piece("LOST", weight=2), long], 20)] == ["LOST", "no picture fo…"]
    assert [piece.text for piece in choose([Piece("LOST", weight=2), long], 12)] == ["LOST"]


def test_losses_stay_when_the_line_is_short() -> None:
    line = draw(StatusPanel, (80, 2), feed(skipped=3, missing=7)).lines()[1]
    assert "skipped 3" in line
    assert "missing 7" in line
    assert "ASSUMED" in line


def test_mini_view_has_a_trace_where_rows_are_left() -> None:
    assert any("⠀" < character <= "⣿" for character in text(draw(MiniPanel, (40, 12), snapshot())))
    lost = text(draw(MiniPanel, (40, 12), snapshot("lost")))
    assert not any("⠀" < character <= "⣿" for character in lost)


@given(pieces, st.integers(0, 60))
def test_the_weightiest_piece_is_never_dropped(given_pieces: list[Piece], width: int) -> None:
    shown = [piece for piece in given_pieces if piece.text]
    if shown:
        assert max(piece.weight for piece in choose(given_pieces, width)) == max(piece.weight for piece in shown)
