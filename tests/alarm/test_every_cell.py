"""Every state by every input has an expected cell; none is missing.

States as in ISA-18.2 / IEC 62682 (the texts are sold and were not read; the states as OPC 10000-9
"Alarms and Conditions", section 4.8 and Annex B, describes them): A normal, B and C active, D returned,
E and F latched. G shelved, H suppressed and I out of service stand beside them and must not change any cell.
"""

from __future__ import annotations

from typing import get_args

import pytest

from analysis.model.alarm import AlarmState, QuietWay
from tests.alarm.timeline import Story, level_rule

NORMAL, ACTIVE, SEEN, RETURNED, LATCHED, LATCHED_SEEN = get_args(AlarmState)
SHELVED, SUPPRESSED, OUT = get_args(QuietWay)
INPUTS = (
    "over the limit, long", "over the limit, short", "in the deadband", "under the clear level, long",
    "under the clear level, short", "no value", "feed lost", "acknowledged by its occurrence",
    "acknowledged by an old occurrence", "acknowledged with all", "acknowledged by a coming occurrence",
    "over the limit with a gap", "under the clear level with a gap", "reset",
)  # fmt: skip
KINDS = ("waiting", "self-clearing", "latching")

SAME = S = None
# state -> input -> state after; S where nothing may change.
WAITING: dict[str, tuple[str | None, ...]] = {
    #              over    short  band  under     short  none  lost  ack     old  all     coming  gap up  down  reset
    NORMAL:       (ACTIVE, S,     S,    S,        S,     S,    S,    S,      S,   S,      S,      S,      S,    S),
    ACTIVE:       (S,      S,     S,    RETURNED, S,     S,    S,    SEEN,   S,   SEEN,   S,      S,      S,    S),
    SEEN:         (S,      S,     S,    NORMAL,   S,     S,    S,    S,      S,   S,      S,      S,      S,    S),
    RETURNED:     (ACTIVE, S,     S,    S,        S,     S,    S,    NORMAL, S,   NORMAL, S,      S,      S,    S),
}  # fmt: skip
SELF_CLEARING = {state: WAITING[state] for state in (NORMAL, ACTIVE, SEEN)}
SELF_CLEARING[ACTIVE] = tuple(NORMAL if cell == RETURNED else cell for cell in WAITING[ACTIVE])
F = LATCHED_SEEN
LATCHING: dict[str, tuple[str | None, ...]] = {
    #              over    short  band  under     short  none  lost  ack     old  all     coming  gap up  down  reset
    NORMAL:       WAITING[NORMAL],
    ACTIVE:       (S,      S,     S,    LATCHED,  S,     S,    S,    SEEN,   S,   SEEN,   S,      S,      S,    S),
    SEEN:         (S,      S,     S,    F,        S,     S,    S,    S,      S,   S,      S,      S,      S,    S),
    LATCHED:      (ACTIVE, S,     S,    S,        S,     S,    S,    F,      S,   F,      S,      S,      S,    S),
    LATCHED_SEEN: (ACTIVE, S,     S,    S,        S,     S,    S,    S,      S,   S,      S,      S,      S,    NORMAL),
}  # fmt: skip
TABLES = {"waiting": WAITING, "self-clearing": SELF_CLEARING, "latching": LATCHING}


def story_in(state: str, kind: str) -> Story:
    """A story whose alarm is in ``state``; it has risen twice, so an old occurrence exists."""
    rule = level_rule(self_clearing=kind == "self-clearing", latching=kind == "latching", hushed_by=("other",))
    story = Story(rule, level_rule("other"))
    for _ in range(2):
        story.hold(1.2, 20.0)
        story.acknowledge()
        story.hold(2.2, 0.0)
        story.reset()
    if state != NORMAL:
        story.hold(1.2, 20.0)
    if state in (SEEN, LATCHED_SEEN):
        story.acknowledge()
    if state in (RETURNED, LATCHED, LATCHED_SEEN):
        story.hold(2.2, 0.0)
    assert story.state() == state
    # Neither clock is running when the input comes: a value in the deadband stops both.
    story.hold(0.04, 9.0)
    return story


def give(story: Story, given: str) -> str | None:
    occurrence = story.book.entry("level").occurrence
    match given:
        case "over the limit, long":
            story.hold(1.2, 10.0)
        case "over the limit, short":
            story.hold(0.9, 10.0)
        case "in the deadband":
            story.play([8.0, 9.999] * 100)
        case "under the clear level, long":
            story.hold(2.2, 7.999)
        case "under the clear level, short":
            story.hold(1.9, 7.999)
        case "no value":
            story.hold(30.0, None)
            story.hold(30.0, float("nan"))
        case "feed lost":
            story.hold(30.0, 0.0 if story.book.entry("level").active else 50.0, lost=True)
        case "acknowledged by its occurrence":
            return story.acknowledge("level", occurrence)
        case "acknowledged by an old occurrence":
            return story.acknowledge("level", occurrence - 1)
        case "acknowledged with all":
            return story.acknowledge()
        case "acknowledged by a coming occurrence":
            return story.acknowledge("level", occurrence + 1)
        case "over the limit with a gap" | "under the clear level with a gap":
            value = 10.0 if given.startswith("over") else 7.0
            for _ in range(20):
                story.show({"level": value})
                story.silence(1.5)
        case "reset":
            return story.reset()
    return None


CELLS = [
    (kind, state, given, cell)
    for kind, table in TABLES.items()
    for state, row in table.items()
    for given, cell in zip(INPUTS, row, strict=True)
]


def test_no_cell_is_missing() -> None:
    everything = set(get_args(AlarmState))
    assert set(WAITING) == everything - {LATCHED, LATCHED_SEEN}
    # With self-clearing the fourth state cannot be reached, with latching it is not used.
    assert set(SELF_CLEARING) == {NORMAL, ACTIVE, SEEN}
    assert set(LATCHING) == everything - {RETURNED}
    assert len(CELLS) == (4 + 3 + 5) * len(INPUTS)


@pytest.mark.parametrize(("kind", "state", "given", "cell"), CELLS)
def test_cell(kind: str, state: str, given: str, cell: str | None) -> None:
    story = story_in(state, kind)
    before, sounded = len(story.changes), len(story.announcements)
    occurrence = story.book.entry("level").occurrence
    give(story, given)
    assert story.state() == (state if cell is SAME else cell)
    made = story.changes[before:]
    assert len(made) == (0 if cell is SAME else 1)
    for change in made:
        assert (change.before, change.after) == (state, cell)
        assert change.reason
        assert change.quiet_before == change.quiet == ()
    rises = cell == ACTIVE
    assert len(story.announcements) - sounded == (1 if rises else 0)
    assert story.book.entry("level").occurrence == occurrence + (1 if rises else 0)


@pytest.mark.parametrize("way", [SHELVED, SUPPRESSED, OUT])
@pytest.mark.parametrize(("kind", "state", "given", "cell"), CELLS)
def test_the_same_cell_holds_while_quiet_and_nothing_sounds(
    way: str, kind: str, state: str, given: str, cell: str | None
) -> None:
    story = story_in(state, kind)
    hush(story, way)
    before, sounded = len(story.changes), len(story.announcements)
    give(story, given)
    assert story.state() == (state if cell is SAME else cell)
    assert story.quiet() == (way,)
    made = [c for c in story.changes[before:] if c.alarm == "level"]
    assert len(made) == (0 if cell is SAME else 1), "quiet alarms are judged and recorded all the same"
    for change in made:
        assert (change.before, change.after) == (state, cell)
        assert change.quiet_before == change.quiet == (way,)
    assert [a for a in story.announcements[sounded:] if a.alarm == "level"] == []


def hush(story: Story, way: str) -> None:
    if way == SHELVED:
        assert story.shelve(3600.0) is None
    elif way == OUT:
        assert story.retire() is None
    else:
        # The other alarm rises on its own values, and its clocks do not disturb those of the first.
        for _ in range(30):
            story.show({"other": 20.0})
        story.hold(0.04, 9.0)
    assert story.quiet() == (way,)


@pytest.mark.parametrize("state", [NORMAL, ACTIVE, SEEN, RETURNED])
def test_a_wrong_occurrence_is_refused_in_words(state: str) -> None:
    story = story_in(state, "waiting")
    old = give(story, "acknowledged by an old occurrence")
    assert old is not None
    assert "not the present one" in old


@pytest.mark.parametrize("state", [NORMAL, SEEN])
def test_nothing_to_acknowledge_is_said(state: str) -> None:
    story = story_in(state, "waiting")
    assert story.acknowledge("level") == "level: nothing to acknowledge"
    assert story.acknowledge() == "no alarm: nothing to acknowledge"


@pytest.mark.parametrize(
    ("state", "said"),
    [
        (NORMAL, "level: nothing to reset"),
        (ACTIVE, "level: it cannot be reset while it is active"),
        (SEEN, "level: it cannot be reset while it is active"),
        (LATCHED, "level: acknowledge it before the reset"),
        (LATCHED_SEEN, None),
    ],
)
def test_a_reset_says_why_not(state: str, said: str | None) -> None:
    assert story_in(state, "latching").reset() == said


def test_names_that_do_not_exist_are_refused() -> None:
    story = story_in(ACTIVE, "waiting")
    assert story.acknowledge("levle") == "levle: no alarm of that name"
    assert story.acknowledge(None, 3) == "an occurrence needs the name of its alarm"
    for refusal in (
        story.shelve(60.0, "levle"), story.unshelve("levle"), story.reset("levle"),
        story.retire("x", "levle"), story.put_back("levle"),
    ):  # fmt: skip
        assert refusal == "levle: no alarm of that name"
    assert story.state() == ACTIVE


STATES = [(kind, state) for kind, table in TABLES.items() for state in table]


@pytest.mark.parametrize(("kind", "state"), STATES)
def test_being_quiet_and_no_longer_quiet_move_no_state(kind: str, state: str) -> None:
    story = story_in(state, kind)
    before, entry = len(story.changes), story.book.entry("level")
    commands = (
        (story.unshelve, "level: it is not shelved", ()),
        (lambda: story.shelve(60.0), None, (SHELVED,)),
        (lambda: story.shelve(3601.0), "level: an alarm can be shelved for 60 min at most", (SHELVED,)),
        (story.put_back, "level: it is in service", (SHELVED,)),
        (story.retire, None, (SHELVED, OUT)),
        (story.retire, "level: it is out of service already: being repaired", (SHELVED, OUT)),
        (story.unshelve, None, (OUT,)),
        (story.put_back, None, ()),
    )
    for command, said, quiet in commands:
        assert command() == said
        assert story.quiet() == quiet
        after = story.book.entry("level")
        assert (after.state, after.since, after.occurrence, after.reason) == (
            entry.state, entry.since, entry.occurrence, entry.reason,
        )  # fmt: skip
    made = story.changes[before:]
    assert [change.quiet for change in made] == [(SHELVED,), (SHELVED, OUT), (OUT,), ()]
    assert all(change.before == change.after == state and change.reason for change in made)
    # Only what holds and was not acknowledged is heard again after it was quiet.
    sounded = len(story.announcements)
    story.hold(0.04, 9.0)
    assert len(story.announcements) - sounded == (1 if state == ACTIVE else 0)
