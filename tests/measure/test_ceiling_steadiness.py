"""An end over time, told by scripted sights: when it is believed, kept, given up and moved."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.measure.ceiling_evidence import Sight
from analysis.measure.steadiness import KEEP_SECONDS, Standing, Steadiness

RATE = 12.5


def sight(
    code: int = 222, share: float = 0.02, channel: str = "luma", proven: bool = True, clear: bool = False
) -> Sight:
    return Sight(channel=channel, code=code, share=share, proven=proven, clear=clear)


class Story:
    """Shows sights to an end, ``RATE`` a second."""

    def __init__(self) -> None:
        self.end, self.now = Steadiness(1.0), 0.0

    def show(
        self,
        seconds: float,
        *sights: Sight,
        above: float | Callable[[str, float], float] = 0.0,
        light: float = 90.0,
    ) -> Standing | None:
        of = above if callable(above) else lambda channel, code: above
        for _ in range(round(seconds * RATE)):
            self.end.see(sights, of, light, self.now)
            self.now += 1.0 / RATE
        return self.end.held


def test_it_is_believed_within_a_second_and_not_at_once() -> None:
    story = Story()
    assert story.show(0.4, sight()) is None
    found = story.show(0.6, sight())
    assert found is not None
    assert (found.code, found.share, found.channels, found.since) == (222.0, 0.02, ("luma",), 0.0)


def test_a_single_picture_however_late_proves_nothing() -> None:
    end = Steadiness(1.0)
    for now in (0.0, 100.0, 200.0):
        assert end.see([sight()], lambda channel, code: 0.0, 90.0, now) is None


def test_what_is_never_proven_is_never_believed() -> None:
    assert Story().show(60.0, sight(proven=False), sight(channel="r", proven=False)) is None


def test_a_level_that_wanders_is_not_believed() -> None:
    story = Story()
    for step in range(60):
        assert story.show(0.25, sight(code=150 + 3 * (step % 20))) is None


def test_proof_that_comes_and_goes_takes_longer_but_arrives() -> None:
    story = Story()
    held = None
    for _ in range(20):
        story.show(0.16, sight())
        held = story.show(0.08, sight(proven=False))
    assert held is not None


def test_kept_when_the_highlights_go_and_known_when_they_come_back() -> None:
    story = Story()
    story.show(1.0, sight())
    held = story.show(KEEP_SECONDS - 5.0)
    assert held is not None
    assert held.share == 0.0
    back = story.show(0.08, sight(code=223, share=0.01, proven=False))
    assert back is not None
    assert back.share == 0.01
    assert back.since == 0.0


def test_forgotten_in_the_end() -> None:
    story = Story()
    story.show(1.0, sight())
    assert story.show(KEEP_SECONDS + 1.0) is None


def test_given_up_when_pixels_lie_beyond_it_but_not_for_one_picture() -> None:
    story = Story()
    story.show(1.0, sight())
    assert story.show(0.08, sight(share=0.001), above=0.02) is not None
    assert story.show(1.0, sight()) is not None
    assert story.show(0.8, sight(share=0.001), above=0.02) is None


def test_ringing_beyond_it_does_not_speak_against_it() -> None:
    story = Story()
    story.show(1.0, sight())
    assert story.show(5.0, sight(share=0.02), above=0.0015) is not None


@pytest.mark.parametrize("to", [182, 245])
def test_it_moves_within_two_seconds_when_the_iso_changes(to: int) -> None:
    story = Story()
    story.show(3.0, sight(code=210))
    # Everything that was held at 210 now stands at the other level.
    held = story.show(2.0, sight(code=to), above=lambda channel, code: 0.02 if code < to else 0.0)
    assert held is not None
    assert held.code == to
    assert held.since >= 3.0


def test_a_lower_pileup_does_not_displace_a_higher_one_that_is_still_reached() -> None:
    story = Story()
    story.show(2.0, sight(code=235))
    held = story.show(5.0, sight(code=235), sight(code=200, share=0.1, channel="r"))
    assert held is not None
    assert held.code == 235


def test_the_level_follows_slowly_and_does_not_tremble() -> None:
    story = Story()
    story.show(2.0, sight(code=222))
    codes = []
    for turn in range(50):
        held = story.show(0.08, sight(code=222 + turn % 2))
        assert held is not None
        codes.append(held.code)
    assert max(codes) - min(codes) < 1.0
    assert float(np.abs(np.diff(codes)).max()) < 0.1


def test_luma_gives_the_level_where_several_channels_stand() -> None:
    story = Story()
    held = story.show(1.0, sight(code=221, share=0.05, channel="r"), sight(code=222), sight(code=223, channel="b"))
    assert held is not None
    assert held.code == pytest.approx(222.0)
    assert set(held.channels) == {"luma", "r", "b"}
    assert held.share == 0.02


class TestLight:
    """A level that looks even, in a picture that shows no noise there, is told by a change of light alone."""

    clear = staticmethod(lambda share=0.02, code=182: sight(code=code, share=share, proven=False, clear=True))

    def test_not_without_a_change(self) -> None:
        assert Story().show(30.0, self.clear()) is None

    @pytest.mark.parametrize(("light", "share"), [(100.0, 0.04), (82.0, 0.008)])
    def test_it_stands_while_everything_else_moves(self, light: float, share: float) -> None:
        story = Story()
        assert story.show(3.0, self.clear()) is None
        held = story.show(2.0, self.clear(share), light=light)
        assert held is not None
        assert held.code == 182

    def test_a_lit_surface_moves_with_the_light(self) -> None:
        story = Story()
        story.show(3.0, self.clear(0.02, 178))
        for step in range(8):
            assert story.show(0.5, self.clear(0.02 + 0.002 * step, 179 + step), light=91.0 + 2 * step) is None

    def test_a_pan_changes_the_share_and_not_the_light(self) -> None:
        story = Story()
        story.show(3.0, self.clear(0.02))
        assert story.show(5.0, self.clear(0.06)) is None

    def test_more_light_and_less_of_it_is_no_limit(self) -> None:
        story = Story()
        story.show(3.0, self.clear(0.02))
        assert story.show(5.0, self.clear(0.01), light=110.0) is None


def test_time_that_stands_still_or_runs_backwards_is_survived() -> None:
    end = Steadiness(4.0)
    for now in (5.0, 5.0, 4.0, 6.0, 5.5, float(2**40)):
        end.see([sight(), sight(channel="g")], lambda channel, code: 0.0, 90.0, now)
    assert end.held is None or end.held.code == 222
