"""Random walks: the machine against a slow second opinion that keeps the whole past."""

from __future__ import annotations

from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.alarm.defaults import FEED
from tests.alarm.timeline import Story, level_rule

TICK = st.sampled_from([1, 1, 1, 2, 5, 12, 30])
VALUE = st.sampled_from([0.0, 7.9, 8.0, 9.0, 9.99, 10.0, 30.0, None])
MOVE = st.one_of(
    st.tuples(st.just("value"), VALUE, TICK, st.integers(1, 40)),
    st.tuples(st.just("lost"), VALUE, TICK, st.integers(1, 40)),
    st.tuples(st.just("ack"), st.sampled_from([None, -1, 0, 1]), st.just(0), st.just(1)),
)


@dataclass
class SecondOpinion:
    """The same rules told again from the whole list of past values, without any clock kept."""

    self_clearing: bool
    past: list[tuple[float, float]] = field(default_factory=list)
    state: str = "normal"
    occurrence: int = 0

    def held(self, now: float, over: bool) -> float:
        """For how long, unbroken, the last values were over the limit (or under the clear level)."""
        held, later = -1.0, now
        for when, value in reversed(self.past):
            right = value >= 10.0 if over else value < 8.0
            if not right or later - when > 1.0 + 1e-9:
                break
            held, later = now - when, when
        return held

    def show(self, now: float, value: float | None) -> None:
        if value is None:
            return
        self.past.append((now, value))
        if self.state.startswith("active"):
            if self.held(now, over=False) >= 2.0 - 1e-6:
                seen = self.self_clearing or self.state == "active-acknowledged"
                self.state = "normal" if seen else "returned-unacknowledged"
        elif self.held(now, over=True) >= 1.0 - 1e-6:
            self.state, self.occurrence = "active-unacknowledged", self.occurrence + 1

    def acknowledge(self) -> None:
        after = {"active-unacknowledged": "active-acknowledged", "returned-unacknowledged": "normal"}
        self.state = after.get(self.state, self.state)


@settings(max_examples=1500, deadline=None)
@given(moves=st.lists(MOVE, min_size=1, max_size=14), self_clearing=st.booleans())
def test_walk_agrees_with_the_second_opinion(moves: list[tuple], self_clearing: bool) -> None:
    story = Story(level_rule(self_clearing=self_clearing), FEED, rate=25.0)
    opinion = SecondOpinion(self_clearing)
    for kind, value, tick, repeats in moves:
        if kind == "ack":
            wanted = None if value is None else story.book.entry("level").occurrence + value
            story.acknowledge("level", wanted)
            if value in (None, 0):
                opinion.acknowledge()
        for _ in range(repeats if kind != "ack" else 0):
            story.silence((tick - 1) / 25)
            story.show({"level": value}, lost=kind == "lost", words="gone")
            opinion.show(story.now.monotonic, None if kind == "lost" else value)
            assert (story.state(), story.book.entry("level").occurrence) == (opinion.state, opinion.occurrence)
    check_history(story)


@settings(max_examples=1500, deadline=None)
@given(
    moves=st.lists(MOVE, min_size=1, max_size=14),
    on_delay=st.sampled_from([0.0, 0.04, 0.5, 3.0]),
    off_delay=st.sampled_from([0.0, 0.04, 0.5, 3.0]),
    self_clearing=st.booleans(),
)
def test_walk_with_any_delays_keeps_the_promises(
    moves: list[tuple], on_delay: float, off_delay: float, self_clearing: bool
) -> None:
    story = Story(level_rule(on_delay=on_delay, off_delay=off_delay, self_clearing=self_clearing), FEED)
    for kind, value, tick, repeats in moves:
        if kind == "ack":
            story.acknowledge("level" if value else None)
            continue
        for _ in range(repeats):
            story.silence((tick - 1) / 25)
            story.show({"level": value}, lost=kind == "lost", words="gone")
    check_history(story)


def check_history(story: Story) -> None:
    """What must hold of any history, whatever led to it."""
    for alarm in ("level", "feed"):
        changes = [c for c in story.changes if c.alarm == alarm]
        rises = [c for c in changes if c.after == "active-unacknowledged"]
        # One sound for each rise, no more and no less: never quiet while unacknowledged.
        assert story.sounds(alarm) == [(alarm, c.occurrence) for c in rises]
        assert [c.occurrence for c in rises] == list(range(1, len(rises) + 1))
        # Between two sounds the alarm had returned.
        state, left_at = "normal", 0.0
        active = False
        for change in changes:
            assert change.before == state
            assert change.reason
            assert abs(change.seconds - (change.at.monotonic - left_at)) < 1e-6
            if change.after == "active-unacknowledged":
                assert not active
            active = change.after.startswith("active")
            state, left_at = change.after, change.at.monotonic
        assert story.state(alarm) == state
