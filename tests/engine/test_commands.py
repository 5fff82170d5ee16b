"""What an operator does to alarms, as inputs of the step. States: ISA-18.2 / IEC 62682, in our words."""

from __future__ import annotations

import msgspec
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.engine.step import (
    Acknowledge,
    Command,
    Measured,
    Outcome,
    Reset,
    Retire,
    ReturnToService,
    Shelve,
    Unshelve,
    WatchState,
    begin,
    step,
)
from analysis.model.alarm import AlarmStatus
from tests.engine.test_step import at, feed
from tests.engine.test_timeline import reading


class Desk:
    """A watch with highlights that clip or not, and an operator."""

    def __init__(self, latching: bool = False) -> None:
        rules = [
            msgspec.structs.replace(rule, latching=True, self_clearing=False)
            if latching and rule.name == "highlights"
            else rule
            for rule in DEFAULT_RULES
        ]
        self.state: WatchState = begin(rules, at(0.0))[0]
        self.now = 0.0
        self.heard: list[float] = []

    def play(self, seconds: float, clipped: float) -> None:
        for _ in range(round(seconds * 5)):
            item = Measured(reading=reading(clipped=clipped), feed=feed())
            self.state, outcome = step(self.state, item, at(self.now))
            self.heard += [self.now for a in outcome.announcements if a.alarm == "highlights"]
            self.now += 0.2

    def tell(self, command: Command) -> Outcome:
        self.state, outcome = step(self.state, command, at(self.now))
        return outcome

    @property
    def highlights(self) -> AlarmStatus:
        return next(a for a in self.state.alarms(at(self.now)) if a.alarm == "highlights")


def test_a_shelf_is_silent_and_ends_by_itself() -> None:
    desk = Desk()
    outcome = desk.tell(Shelve(alarm="highlights", seconds=60.0))
    assert outcome.refusal is None
    assert [(c.alarm, c.quiet) for c in outcome.changes] == [("highlights", ("shelved",))]
    desk.play(50, clipped=5.0)
    assert desk.heard == [] and desk.highlights.state == "active-unacknowledged"
    desk.play(20, clipped=5.0)
    assert len(desk.heard) == 1 and 60.0 <= desk.heard[0] <= 61.0, "back within a second of its time"


def test_a_shelf_can_be_ended_early_and_what_holds_is_heard() -> None:
    desk = Desk()
    desk.tell(Shelve(alarm="highlights", seconds=600.0))
    desk.play(10, clipped=5.0)
    assert desk.tell(Unshelve(alarm="highlights")).refusal is None
    desk.play(1, clipped=5.0)
    assert len(desk.heard) == 1


@pytest.mark.parametrize(
    ("command", "refusal"),
    [
        (Shelve(alarm="highlights", seconds=3600.5), "highlights: an alarm can be shelved for 60 min at most"),
        (Shelve(alarm="highlights", seconds=0.0), "highlights: the time on the shelf must be above zero"),
        (Shelve(alarm="highlights", seconds=float("nan")), "highlights: the time on the shelf must be above zero"),
        (Shelve(alarm="anchor", seconds=60.0), "anchor: no alarm of that name"),
        (Unshelve(alarm="highlights"), "highlights: it is not shelved"),
        (Reset(alarm="highlights"), "highlights: nothing to reset"),
        (Retire(alarm="highlights", why="  "), "highlights: say why it is taken out of service"),
        (ReturnToService(alarm="highlights"), "highlights: it is in service"),
        (Acknowledge(alarm="highlights"), "highlights: nothing to acknowledge"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words_and_changes_nothing(command: Command, refusal: str) -> None:
    desk = Desk()
    before = desk.state
    outcome = desk.tell(command)
    assert outcome == Outcome(refusal=refusal)
    assert desk.state == before


def test_a_latched_alarm_goes_only_after_it_was_seen_and_reset() -> None:
    desk = Desk(latching=True)
    desk.play(10, clipped=5.0)
    assert desk.tell(Reset(alarm="highlights")).refusal == "highlights: it cannot be reset while it is active"
    desk.play(10, clipped=0.0)
    assert desk.highlights.state == "latched-unacknowledged"
    assert desk.tell(Reset(alarm="highlights")).refusal == "highlights: acknowledge it before the reset"
    desk.tell(Acknowledge(alarm="highlights", occurrence=1))
    outcome = desk.tell(Reset(alarm="highlights"))
    assert [(c.before, c.after, c.reason) for c in outcome.changes] == [("latched-acknowledged", "normal", "reset")]


def test_out_of_service_is_quiet_with_its_reason_until_put_back() -> None:
    desk = Desk()
    desk.tell(Retire(alarm="highlights", why="the window is meant to burn"))
    desk.play(30, clipped=5.0)
    assert desk.heard == []
    assert desk.highlights.quiet_words == "out of service: the window is meant to burn"
    assert desk.tell(ReturnToService(alarm="highlights")).refusal is None
    desk.play(1, clipped=5.0)
    assert len(desk.heard) == 1


def test_a_late_acknowledgement_does_not_silence_the_next_rise() -> None:
    desk = Desk()
    desk.play(10, clipped=5.0)
    desk.play(10, clipped=0.0)
    desk.play(10, clipped=5.0)
    assert desk.highlights.occurrence == 2
    assert desk.tell(Acknowledge(alarm="highlights", occurrence=1)).refusal is not None
    assert desk.highlights.state == "active-unacknowledged"


def test_commands_leave_the_picture_alone() -> None:
    desk = Desk()
    desk.play(2, clipped=0.0)
    shown = desk.state.reading
    desk.tell(Shelve(alarm="highlights", seconds=60.0))
    assert desk.state.reading is shown and shown is not None
