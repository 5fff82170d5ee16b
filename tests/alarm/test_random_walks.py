"""Random walks: the machine against a slow second opinion that keeps the whole past, and what must always hold."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.alarm.defaults import FEED
from analysis.alarm.flood import FloodLimits
from analysis.model.alarm import Announcement
from tests.alarm.timeline import NO_FLOOD, Story, level_rule

TICK = st.sampled_from([1, 1, 1, 2, 5, 12, 30])
VALUE = st.sampled_from([0.0, 7.9, 8.0, 9.0, 9.99, 10.0, 30.0, None])
MOVE = st.one_of(
    st.tuples(st.just("value"), VALUE, TICK, st.integers(1, 40)),
    st.tuples(st.just("lost"), VALUE, TICK, st.integers(1, 40)),
    st.tuples(st.just("ack"), st.sampled_from([None, -1, 0, 1]), st.just(0), st.just(1)),
)
WALKS_AT_ONCE = 40


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


@settings(max_examples=500, deadline=None)
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
    check_changes(story)
    check_sounds(story)


@settings(max_examples=10_000 // WALKS_AT_ONCE, deadline=None)
@given(seed=st.integers(0, 2**63))
def test_ten_thousand_walks_through_every_command_keep_the_promises(seed: int) -> None:
    for number in range(WALKS_AT_ONCE):
        walk(random.Random(seed + number))


def walk(dice: random.Random) -> None:
    delays = (0.0, 0.04, 0.5, 3.0)
    kind = dice.randrange(3)
    rule = level_rule(
        on_delay=dice.choice(delays), off_delay=dice.choice(delays), self_clearing=kind == 0, latching=kind == 1,
        priority=dice.choice((1, 2, 3)), repeat=dice.choice((None, 0.0, 5.0)), hushed_by=("other",),
        often=dice.choice((0, 0, 2, 3)), calm=dice.choice((3.0, 6.0, 60.0)),
    )  # fmt: skip
    story = Story(rule, level_rule("other", on_delay=0.0, off_delay=0.0, self_clearing=True), FEED)
    values = (0.0, 7.9, 8.0, 9.0, 9.99, 10.0, 30.0, None)
    for _ in range(8):
        occurrence = story.book.entry("level").occurrence
        match dice.randrange(12):
            case 0:
                story.acknowledge(*dice.choice([(), ("level",), ("level", occurrence), ("level", occurrence - 1)]))
            case 1:
                story.shelve(dice.choice((0.5, 2.0, 3600.0, 7200.0)))
            case 2:
                story.unshelve()
            case 3:
                story.reset()
            case 4:
                story.retire() if dice.random() < 0.5 else story.put_back()
            case 5:
                step(story, {"other": dice.choice(values)}, dice)
            case 6:
                step(story, {"level": dice.choice(values)}, dice, lost=True)
            case _:
                value = dice.choice(values)
                for _ in range(dice.choice((1, 3, 8))):
                    step(story, {"level": value, "other": 0.0}, dice)
    check_changes(story)


def step(story: Story, values: dict[str, float | None], dice: random.Random, *, lost: bool = False) -> None:
    story.silence(dice.choice((0, 0, 5, 12, 30)) / 25)
    before = story.book
    count = len(story.announcements)
    story.show(values, lost=lost, words="gone")
    for announcement in story.announcements[count:]:
        check_one_sound(story, announcement, before.entry(announcement.alarm).sounded)
    for rule in story.book.rules:
        entry = story.book.entry(rule.name)
        judged = rule.kind == "feed" or (not lost and values.get(rule.name) is not None)
        if entry.state == "active-unacknowledged" and not entry.quiet.ways and judged and entry.recovering is None:
            assert entry.heard == entry.occurrence, "never silent while it holds, is unseen and not quiet"


def check_one_sound(story: Story, told: Announcement, last: object) -> None:
    entry = story.book.entry(told.alarm)
    assert entry.state == "active-unacknowledged"
    assert not entry.quiet.ways, "what is quiet makes no sound"
    assert told.occurrence == entry.occurrence
    assert told.since == entry.since
    earlier = [a for a in story.announcements[:-1] if (a.alarm, a.occurrence) == (told.alarm, told.occurrence)]
    if told.again:
        rule = next(rule for rule in story.book.rules if rule.name == told.alarm)
        assert earlier and last is not None and rule.repeat_seconds
        assert told.at.monotonic - last.monotonic >= rule.repeat_seconds - 1e-6  # type: ignore[attr-defined]
    elif any(a is not told for a in earlier):
        # The same rise sounds twice without being a reminder only when it came off the shelf or back in service.
        back = [c for c in story.changes if c.alarm == told.alarm and set(c.quiet_before) - set(c.quiet)]
        assert back


@settings(max_examples=150, deadline=None)
@given(
    rises=st.lists(st.tuples(st.integers(0, 19), st.sampled_from([0.0, 0.04, 0.5, 1.9, 30.0])), max_size=60),
    burst=st.integers(2, 6),
    most=st.integers(1, 12),
)
def test_in_any_flood_every_rise_is_heard_or_counted_and_the_gravest_alone(
    rises: list[tuple[int, float]], burst: int, most: int
) -> None:
    """Twenty alarms, the first two of priority 1, rising and ending in any order."""
    rules = [level_rule(str(n), priority=1 if n < 2 else 3, repeat=0.0, on_delay=0.0, off_delay=0.0, self_clearing=True)
             for n in range(20)]  # fmt: skip
    story = Story(*rules, flood=FloodLimits(most=most, burst=burst))
    over: set[int] = set()
    for number, pause in rises:
        story.silence(pause)
        over ^= {number}
        story.show({str(n): 20.0 if n in over else 0.0 for n in range(20)})
    for _ in range(70):
        story.silence(1.0)
        story.show({str(n): 20.0 if n in over else 0.0 for n in range(20)})
    for rule in rules:
        entry = story.book.entry(rule.name)
        if entry.active:
            assert entry.heard == entry.occurrence, "the summary came within a minute"
    grave = [(c.alarm, c.occurrence) for c in story.changes
             if c.priority == 1 and c.after == "active-unacknowledged"]  # fmt: skip
    assert [(a.alarm, a.occurrence) for a in story.announcements if a.priority == 1] == grave
    for told in story.announcements:
        # Within any two seconds: fewer than a burst by themselves, and at most one summary.
        near = [a for a in story.announcements if 0 <= a.at.since(told.at) < 2.0 and a.priority != 1]
        assert len([a for a in near if a.counts > 1]) <= 1
        assert len(near) <= burst


def check_changes(story: Story) -> None:
    """What must hold of any history, whatever led to it."""
    for alarm in {rule.name for rule in story.book.rules}:
        changes = [c for c in story.changes if c.alarm == alarm]
        before = [0, *(c.occurrence for c in changes)]
        rises = [c for c, last in zip(changes, before, strict=False) if c.occurrence != last]
        assert [c.occurrence for c in rises] == list(range(1, len(rises) + 1))
        assert all(c.after == "active-unacknowledged" for c in rises)
        state, left_at = "normal", 0.0
        for change in changes:
            assert change.before == state
            assert change.reason
            assert abs(change.seconds - (change.at.monotonic - left_at)) < 1e-6
            worse = state.startswith("active") and change in rises
            assert not worse or "much worse" in change.reason, (
                "between two rises the alarm had returned, or it is worse"
            )
            hushed = change.quiet_before != change.quiet or change.until is not None
            assert change.before != change.after or hushed or worse
            if change.after != state or worse:
                state, left_at = change.after, change.at.monotonic
        assert story.state(alarm) == state


def check_sounds(story: Story) -> None:
    """One sound for each rise, no more and no less; the gravest are heard again each minute."""
    for rule in story.book.rules:
        rises = [c for c in story.changes if c.alarm == rule.name and c.after == "active-unacknowledged"]
        told = [a for a in story.announcements if a.alarm == rule.name]
        assert [a.occurrence for a in told if not a.again] == [c.occurrence for c in rises]
        if rule.priority != 1:
            assert not any(a.again for a in told)
    assert story.book.flood.limits == NO_FLOOD
