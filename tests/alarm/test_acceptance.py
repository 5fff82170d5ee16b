"""A timeline played to the whole watch, feed to bell, and the exact list of what it must tell; within 150 ms."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from analysis.alarm.flood import FloodLimits
from analysis.alarm.restore import STALE_SECONDS
from analysis.journal.journal import Journal
from analysis.journal.read import last_states
from analysis.model.alarm import SavedAlarms
from analysis.model.errors import FeedGone
from analysis.model.frame import FrameFormat, Picture
from tests.alarm.timeline import Story, level_rule
from tests.support.fake_clock import FakeClock
from tests.support.pictures import TinySource, form, picture
from tests.watch.rig import WatchRig

TOLERANCE = 0.15
PLAIN = [picture(form(), seed=seed, level=110) for seed in range(8)]


def clipped(plain: Picture) -> Picture:
    luma = plain.planes[0].copy()
    luma[:5] = 250
    return msgspec.structs.replace(plain, planes=(luma, *plain.planes[1:]))


BRIGHT = [clipped(plain) for plain in PLAIN]


class Scripted(TinySource):
    """A camera that shows clipped pictures and is gone at given times of the clock."""

    def __init__(
        self, clock: FakeClock, begin: float, bright: list[tuple[float, float]], gone: list[tuple[float, float]]
    ):
        super().__init__(clock, paint=self._picture)
        self._times, self._bright, self._gone = clock, bright, gone
        self._begin = begin

    def _within(self, spans: list[tuple[float, float]]) -> bool:
        past = self._times.now().monotonic - self._begin
        return any(first - 1e-6 <= past < last - 1e-6 for first, last in spans)

    def _picture(self, number: int, _shape: FrameFormat) -> Picture:
        return (BRIGHT if self._within(self._bright) else PLAIN)[number % 8]

    def open(self) -> None:
        if self._within(self._gone):
            raise FeedGone("the device is gone", self.address, "plug it in again")
        super().open()

    def read(self) -> Picture:
        if self._within(self._gone):
            raise FeedGone("the device is gone", self.address, "plug it in again")
        return super().read()


SETTLED = 1.0
"""A camera's automatic controls settle first; the story begins then."""


def played(
    seconds: float,
    bright: list[tuple[float, float]],
    gone: list[tuple[float, float]],
    saved: SavedAlarms | None = None,
) -> WatchRig:
    begin = FakeClock().now().monotonic + SETTLED
    rig = WatchRig(make=lambda clock: Scripted(clock, begin, bright, gone), saved=saved)
    rig.play(SETTLED + seconds)
    return rig


def told(rig: WatchRig) -> list[tuple[str, str, str, float]]:
    begin = rig.began + SETTLED
    return [(c.alarm, c.before, c.after, c.at.monotonic - begin) for c in rig.notes.alarms]


def event(rig: WatchRig, state: str, *, after: float) -> float:
    """When the feed came into that state for the first time after a moment of the story."""
    begin = rig.began + SETTLED
    return next(e.at.monotonic - begin for e in rig.notes.feed if e.after == state and e.at.monotonic > begin + after)


def test_clip_then_loss_then_return() -> None:
    """At 1 s the picture clips, at 2.2 s the camera is gone, at 3.6 s it is back, still clipped until 8 s."""
    rig = played(12.0, bright=[(1.0, 8.0)], gone=[(2.2, 3.6)])
    begin = rig.began + SETTLED
    back = event(rig, "priming", after=3.6)
    assert 3.6 <= back <= 3.6 + 0.5 + 2 / 25, "an attempt each half second"
    wanted = [
        ("highlights", "normal", "active-unacknowledged", 2.0),
        ("feed", "normal", "active-unacknowledged", 2.2),
        ("feed", "active-unacknowledged", "returned-unacknowledged", back + 2.0),
        ("highlights", "active-unacknowledged", "normal", 10.0),
    ]
    found = told(rig)
    assert [each[:3] for each in found] == [each[:3] for each in wanted]
    assert [each[3] for each in found] == pytest.approx([each[3] for each in wanted], abs=TOLERANCE)
    assert [alarm for _, alarm, _ in rig.heard.told] == ["highlights", "feed"]
    assert [time - begin for time, _, _ in rig.heard.told] == pytest.approx([2.0, 2.2], abs=TOLERANCE)
    assert rig.watch.snapshot().bells == 2


def test_a_clip_that_ends_while_the_camera_is_gone_is_over_only_when_a_picture_says_so() -> None:
    rig = played(9.0, bright=[(0.0, 3.0)], gone=[(2.2, 4.6)])
    ends = [each for each in told(rig) if each[:3] == ("highlights", "active-unacknowledged", "normal")]
    back = event(rig, "live", after=4.6)
    assert [each[3] for each in ends] == pytest.approx([back + 2.0], abs=TOLERANCE)


def test_a_clip_pending_when_the_camera_goes_begins_anew() -> None:
    """0.8 s of clip, a second and a half of nothing, 0.8 s of clip: never a whole second that anybody saw."""
    rig = played(8.0, bright=[(1.4, 6.0)], gone=[(2.2, 3.6)])
    back = event(rig, "live", after=3.6)
    rise = next(each[3] for each in told(rig) if each[0] == "highlights")
    assert rise == pytest.approx(back + 1.0, abs=TOLERANCE)


@pytest.mark.parametrize("flood", [FloodLimits(), FloodLimits(most=10**6, burst=10**6)])
def test_a_lost_feed_hushes_twenty_alarms_and_afterwards_only_what_is_true_speaks(flood: FloodLimits) -> None:
    from analysis.alarm.defaults import FEED

    rules = [level_rule(f"level {n}", self_clearing=True) for n in range(20)]
    story = Story(FEED, *rules, flood=flood)
    high = {rule.name: 20.0 for rule in rules}
    for _ in range(25):
        story.show(high)  # all but one frame of the second that each must last
    for _ in range(250):
        story.show(high, lost=True, words="unplugged")
    assert story.sounds() == [("feed", 1)]
    assert [change.alarm for change in story.changes] == ["feed"]
    for _ in range(250):
        story.show({rule.name: 20.0 if n in (3, 11) else 0.0 for n, rule in enumerate(rules)})
    assert story.sounds() == [("feed", 1), ("level 3", 1), ("level 11", 1)]


def after_restart(tmp_path: Path, away: float) -> WatchRig:
    """A watch that saw a clip, which was acknowledged; the same feed ``away`` seconds later, through the file."""
    begin = FakeClock().now().monotonic + SETTLED
    first = WatchRig(make=lambda clock: Scripted(clock, begin, [(0.0, 1e9)], []))
    first.clock.step_utc(-6.0 - away)
    journal = Journal(tmp_path / "journal.db", first.clock, address="tiny:noise")
    first.play(5.0)
    first.watch.acknowledge("highlights")
    first.play(1.0)
    assert [a for _, a, _ in first.heard.told] == ["highlights"]
    for change in first.notes.alarms:
        journal.alarm_changed(change)
    assert journal.close()
    saved = last_states(tmp_path / "journal.db", "tiny:noise")
    assert saved is not None
    return played(5.0, bright=[(0.0, 1e9)], gone=[], saved=saved)


def test_a_restart_within_a_minute_keeps_what_was_acknowledged_and_is_silent(tmp_path: Path) -> None:
    again = after_restart(tmp_path, 20.0)
    assert again.heard.told == [] and again.notes.alarms == []
    shown = {alarm.alarm: alarm for alarm in again.watch.snapshot().alarms}["highlights"]
    assert (shown.state, shown.occurrence) == ("active-acknowledged", 1)


def test_a_restart_after_a_minute_tells_it_again_once_a_picture_shows_it(tmp_path: Path) -> None:
    again = after_restart(tmp_path, STALE_SECONDS + 1.0)
    assert [(alarm, occurrence) for _, alarm, occurrence in again.heard.told] == [("highlights", 2)]
    again.watch.acknowledge("highlights", 1)
    again.play(0.2)
    shown = {alarm.alarm: alarm for alarm in again.watch.snapshot().alarms}["highlights"]
    assert shown.state == "active-unacknowledged", "what was seen before the restart is not this one"
    again.watch.acknowledge("highlights", 2)
    again.play(0.2)
    shown = {alarm.alarm: alarm for alarm in again.watch.snapshot().alarms}["highlights"]
    assert shown.state == "active-acknowledged"
