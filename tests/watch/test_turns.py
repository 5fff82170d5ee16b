"""A change of exposure in a running watch: shown, told to whoever listens, and not told again."""

from __future__ import annotations

import pytest

from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.source import FeedOptions
from analysis.model.frame import FrameFormat, Picture
from analysis.model.turn import Turn
from analysis.watch import Desks
from tests.watch.rig import WatchRig

RATE = 25
CHANGE = 200


class Ears:
    """A listener that remembers."""

    def __init__(self) -> None:
        self.turns: list[Turn] = []

    def turned(self, turn: Turn) -> None:
        self.turns.append(turn)


def with_filter(first: str, then: str):
    """The boathouse with one ND, and from a frame on with another; what moves in it goes on moving."""
    made = {
        nd: Renderer(parse("boathouse", {"size": "320x180", "nd": nd, "curve": "acescct", "sun": "off"}, FeedOptions()))
        for nd in (first, then)
    }

    def paint(number: int, shape: FrameFormat) -> Picture:
        return made[first if number < CHANGE else then].picture(number / RATE, number)

    return paint


@pytest.mark.parametrize("then,stops", [("1", 1.0), ("3", -1.0)])
def test_a_filter_that_goes_in_or_out_is_told_once_with_its_amount(then: str, stops: float) -> None:
    ears = Ears()
    rig = WatchRig(paint=with_filter("2", then), rate=RATE, desks=Desks(listeners=(ears,)))
    assert rig.play(7).turns == ()
    snapshot = rig.play(7)
    assert [turn.kind for turn in ears.turns] == ["whole"]
    assert ears.turns[0].stops == pytest.approx(stops, abs=0.1)
    assert list(snapshot.turns) == ears.turns
    assert snapshot.fault is None
    # What was told before stays told while the feed is away, and coming back is no turn.
    rig.play(4, read=False)
    assert list(rig.play(6).turns) == ears.turns


def test_more_nd_ends_an_alarm_that_came_and_went() -> None:
    """The sun breaks through twice within a minute, then the operator puts two stops of ND in."""
    sunny = {"size": "320x180", "curve": "acescct", "clouds": "off"}
    made = {
        (sun, nd): Renderer(parse("boathouse", {**sunny, "sun": sun, "nd": nd}, FeedOptions()))
        for sun, nd in (("on", "-1"), ("off", "-1"), ("off", "3"))
    }

    def paint(number: int, shape: FrameFormat) -> Picture:
        second = number / RATE
        sun = "on" if 4 <= second < 10 or 18 <= second < 24 else "off"
        return made[(sun, "-1") if second < 40 else ("off", "3")].picture(second, number)

    rig = WatchRig(paint=paint, rate=RATE, desks=Desks())
    snapshot = rig.play(38)
    standing = next(alarm for alarm in snapshot.alarms if alarm.alarm == "highlights")
    assert standing.lull and standing.state.startswith("active"), "it comes and goes"
    snapshot = rig.play(12)
    assert [turn.kind for turn in snapshot.turns][-1] == "whole"
    assert next(alarm for alarm in snapshot.alarms if alarm.alarm == "highlights").state == "normal"
    assert snapshot.refusal is None
