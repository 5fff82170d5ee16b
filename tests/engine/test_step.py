"""The whole watch without I/O, as stories."""

from __future__ import annotations

import msgspec
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.values import beyond_hold
from analysis.engine.step import Acknowledge, Measured, Outcome, Tick, WatchState, begin, step
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.frame import Encoding, FrameFormat
from analysis.model.instant import Instant
from analysis.model.reading import NO_FLICKER, Flicker, Reading
from tests.engine.test_timeline import reading

FORMAT = FrameFormat(
    layout="yuyv422", width=4, height=2, encoding=Encoding(bits=8, range="narrow", matrix="bt709"), rate=25.0
)


def at(seconds: float) -> Instant:
    return Instant(seconds, 5_000.0 + seconds)


def feed(state: FeedState = "live", trouble: str | None = None, rate: float = 25.0) -> FeedStatus:
    return FeedStatus(
        address="cam",
        kind="camera",
        state=state,
        evidence=trouble or "pictures arrive",
        since=at(0),
        generation=1,
        format=msgspec.structs.replace(FORMAT, rate=rate),
        trouble=trouble,
        trouble_since=at(0) if trouble else None,
    )


class Story:
    """Plays frames at a rate and notes what was announced, and when."""

    def __init__(self) -> None:
        self.state: WatchState = begin(DEFAULT_RULES, at(0.0))[0]
        self.now = 0.0
        self.heard: list[tuple[float, str, int]] = []
        self.changes: list[tuple[float, str, str, str]] = []

    def _do(self, item: Measured | Tick | Acknowledge) -> Outcome:
        self.state, outcome = step(self.state, item, at(self.now))
        self.heard += [(round(self.now, 2), a.alarm, a.occurrence) for a in outcome.announcements]
        self.changes += [(round(self.now, 2), c.alarm, c.before, c.after) for c in outcome.changes]
        return outcome

    def play(self, seconds: float, measured: Reading, rate: float = 25.0) -> None:
        for _ in range(round(seconds * rate)):
            self._do(Measured(reading=measured, feed=feed(rate=rate)))
            self.now += 1.0 / rate

    def lose(self, seconds: float, words: str = "unplugged") -> None:
        for _ in range(round(seconds * 20)):
            self._do(Tick(feed=feed("lost", words)))
            self.now += 0.05

    def acknowledge(self, alarm: str | None = None, occurrence: int | None = None) -> str | None:
        return self._do(Acknowledge(alarm=alarm, occurrence=occurrence)).refusal


def test_a_quiet_picture_is_quiet() -> None:
    story = Story()
    story.play(60, reading(clipped=0.5))
    assert story.heard == [] and story.changes == []
    assert story.state.reading is not None


def test_clipping_is_heard_once_after_its_delay_and_again_when_it_comes_again() -> None:
    story = Story()
    story.play(2, reading())
    story.play(10, reading(clipped=3.0))
    story.play(5, reading())
    story.play(3, reading(clipped=3.0))
    assert [(a, n) for _, a, n in story.heard] == [("highlights", 1), ("highlights", 2)]
    assert 3.0 <= story.heard[0][0] <= 3.08, "two frame intervals after the on-delay at most"


def test_a_lost_feed_speaks_and_freezes_the_rest() -> None:
    story = Story()
    story.play(5, reading(clipped=3.0))
    story.lose(10)
    assert story.state.reading is None, "no old picture passes for a new one"
    now = at(story.now)
    by_name = {a.alarm: a for a in story.state.alarms(now)}
    assert by_name["feed"].state == "active-unacknowledged"
    assert by_name["highlights"].state == "active-unacknowledged", "missing data is not recovery"
    assert by_name["highlights"].frozen and not by_name["feed"].frozen
    assert [a for _, a, _ in story.heard] == ["highlights", "feed"]


def test_after_the_return_only_what_is_true_stays() -> None:
    story = Story()
    story.play(5, reading(clipped=3.0))
    story.lose(4)
    story.play(6, reading())
    states = {a.alarm: a.state for a in story.state.alarms(at(story.now))}
    assert {alarm for alarm, state in states.items() if state != "normal"} == {"feed"}
    assert states["feed"] == "returned-unacknowledged"
    assert story.acknowledge("feed") is None
    assert {a.alarm: a.state for a in story.state.alarms(at(story.now))}["feed"] == "normal"


def test_an_old_acknowledgement_does_not_silence_a_new_rise() -> None:
    story = Story()
    story.play(3, reading(clipped=3.0))
    story.play(5, reading())
    story.play(3, reading(clipped=3.0))
    refusal = story.acknowledge("highlights", occurrence=1)
    assert refusal is not None and "present one, which is 2" in refusal


def test_readings_that_cannot_be_vouched_for_raise_nothing() -> None:
    story = Story()
    for validity in ("suspect", "priming", "late"):
        story.play(10, msgspec.structs.replace(reading(clipped=50.0), validity=validity))
    assert story.heard == []


def test_readings_that_cannot_be_vouched_for_clear_nothing() -> None:
    """A beat was told; damaged frames say nothing of it, and nothing is not its end."""
    story = Story()
    story.play(6, msgspec.structs.replace(reading(), flicker=Flicker(hz=4.0, stops=0.3)))
    story.play(20, msgspec.structs.replace(reading(), validity="suspect", luma=None))
    states = {alarm.alarm: alarm.state for alarm in story.state.alarms(at(story.now))}
    assert states["flicker"] == "active-unacknowledged"


def test_only_a_flicker_that_was_looked_for_and_not_seen_is_over() -> None:
    """After a cut nobody knows for some seconds whether the lamps still beat: that is not the end of it."""
    story = Story()
    story.play(6, msgspec.structs.replace(reading(), flicker=Flicker(hz=4.0, stops=0.3)))
    story.play(60, msgspec.structs.replace(reading(), flicker=None))
    states = {alarm.alarm: alarm.state for alarm in story.state.alarms(at(story.now))}
    assert states["flicker"] == "active-unacknowledged"
    story.play(6, msgspec.structs.replace(reading(), flicker=NO_FLICKER))
    assert {alarm.alarm: alarm.state for alarm in story.state.alarms(at(story.now))}["flicker"] == "normal"


def test_a_forecast_of_the_headroom_lasts_only_while_headroom_is_measured() -> None:
    story = Story()
    for second in range(150):
        left = 2.0 - 0.5 * second / 60.0
        story.play(1, msgspec.structs.replace(reading(), headroom_stops=left), rate=4.0)
    story.play(10, msgspec.structs.replace(reading(), headroom_stops=None))
    shown = {alarm.alarm: alarm for alarm in story.state.alarms(at(story.now))}["headroom"]
    assert (shown.state, shown.frozen, shown.measured) == ("active-unacknowledged", True, "")


def test_drift_from_the_hold_says_which_way() -> None:
    """A third of a stop for more than ten seconds, up or down; less, or shorter, is not told."""
    for stops, name in ((0.35, "drift-up"), (-0.35, "drift-down")):
        story = Story()
        for number in range(12 * 25):
            drift = stops if number > 20 else stops * 0.8
            story._do(Measured(reading=reading(), feed=feed(), more=beyond_hold(drift)))
            story.now += 0.04
        ((when, alarm, _),) = story.heard
        assert alarm == name and 10.8 <= when <= 10.9
        change = {a.alarm: a for a in story.state.alarms(at(story.now))}[name]
        side = "above" if stops > 0 else "below"
        assert change.reason == f"0.35 stops {side} the hold, at or over the limit 0.3 stops for 10.0 s"
        assert change.direction == ("up" if stops > 0 else "down")


def test_a_slow_feed_still_alarms() -> None:
    """One picture in two seconds: the gap between them is the feed's pace, not missing data."""
    story = Story()
    story.play(10, reading(clipped=3.0), rate=0.5)
    assert [a for _, a, _ in story.heard] == ["highlights"]


def test_the_timeline_tells_of_the_outage() -> None:
    story = Story()
    story.play(3, reading())
    story.lose(3)
    story.play(3, reading())
    told = [(p.feed, p.middle is not None) for p in story.state.timeline.points]
    assert ("lost", False) in told and told[0] == ("live", True) and told[-1] == ("live", True)


def test_a_frozen_or_dark_picture_has_an_alarm_of_its_own() -> None:
    for state in ("frozen", "dark"):
        story = Story()
        story.play(3, reading())
        for _ in range(40):
            story._do(Tick(feed=feed(state, f"picture {state}")))
            story.now += 0.05
        active = {a.alarm for a in story.state.alarms(at(story.now)) if a.state != "normal"}
        assert active == {state}, "one cause, one alarm"
        assert [alarm for _, alarm, _ in story.heard] == [state]


def test_a_feed_that_changes_its_form_is_told_once() -> None:
    story = Story()
    story.play(2, reading())
    other = msgspec.structs.replace(feed(), format=msgspec.structs.replace(FORMAT, width=8))
    for _ in range(100):
        story._do(Measured(reading=reading(), feed=other))
        story.now += 0.04
    assert [(alarm, occurrence) for _, alarm, occurrence in story.heard] == [("reshaped", 1)]
    why = next(a.reason for a in story.state.alarms(at(2.1)) if a.alarm == "reshaped")
    assert f"picture changed: {FORMAT.width}x{FORMAT.height} -> 8x{FORMAT.height}" in why, "not how the feed is now"


def test_headroom_that_runs_out_is_told_minutes_before_it_is_gone() -> None:
    """Headroom falls by half a stop a minute from two stops: at three minutes to clip there are 1.5 stops left."""
    story = Story()
    for second in range(150):
        left = 2.0 - 0.5 * second / 60.0
        story.play(1, msgspec.structs.replace(reading(), headroom_stops=left), rate=4.0)
    ((when, alarm, _),) = story.heard
    assert alarm == "headroom" and 60.0 <= when <= 120.0


def test_values_that_no_reading_holds_raise_their_alarms() -> None:
    """Skin half a stop over its aim for more than three seconds, and a disk with little room."""
    story = Story()
    for _ in range(12 * 25):
        more = {"skin-high": 0.7, "skin-low": -0.7, "disk": 1.0}
        story._do(Measured(reading=reading(), feed=feed(), more=more))
        story.now += 0.04
    assert sorted(alarm for _, alarm, _ in story.heard) == ["disk", "skin-high"]


@pytest.mark.parametrize(
    ("alarm", "off", "words"),
    [
        ("skin-low", 0.52, "skin too dark, half a stop"),
        ("skin-high", 1.3, "skin too bright, one and a third stops"),
        ("spot-low", 0.7, "spot too dark, two thirds of a stop"),
        ("drift-down", 1.0, "darker than the hold, one stop"),
    ],
)
def test_what_is_off_is_heard_with_how_far_and_the_reason_has_the_figure_once(
    alarm: str, off: float, words: str
) -> None:
    story, heard, why = Story(), [], []
    for _ in range(25 * 12):
        outcome = story._do(Measured(reading=reading(), feed=feed(), more={alarm: off, "skin-clipped": float("nan")}))
        heard += [a.words for a in outcome.announcements]
        why += [c.reason for c in outcome.changes if c.alarm == alarm]
        story.now += 0.04
    assert heard == [words]
    (reason,) = why
    assert reason.endswith(" s") and ";" not in reason and f"{off:.1f} stops" in reason


def test_what_cannot_be_measured_is_not_said() -> None:
    story = Story()
    for value in (float("nan"), float("inf"), None):
        assert not story._do(Measured(reading=reading(), feed=feed(), more={"skin-low": value})).announcements
