"""Every state by every input has an expected cell; none is missing.

States as in ISA-18.2 / IEC 62682 (the texts are sold and were not read; the states as OPC 10000-9
"Alarms and Conditions", section 4.8 and Annex B, describes them).
"""

from __future__ import annotations

from typing import get_args

import pytest

from analysis.model.alarm import AlarmState
from tests.alarm.timeline import Story, level_rule

NORMAL, ACTIVE, SEEN, RETURNED = get_args(AlarmState)
INPUTS = (
    "over the limit, long", "over the limit, short", "in the deadband", "under the clear level, long",
    "under the clear level, short", "no value", "feed lost", "acknowledged by its occurrence",
    "acknowledged by an old occurrence", "acknowledged with all", "acknowledged by a coming occurrence",
    "over the limit with a gap", "under the clear level with a gap",
)  # fmt: skip

SAME = None
# state -> input -> state after; "SAME" where nothing may change.
LATCHING: dict[str, tuple[str | None, ...]] = {
    #          over    short  band  under     short none  lost  ack      old   all      coming gap-up  gap-down
    NORMAL:   (ACTIVE, SAME,  SAME, SAME,     SAME, SAME, SAME, SAME,    SAME, SAME,    SAME,  SAME,   SAME),
    ACTIVE:   (SAME,   SAME,  SAME, RETURNED, SAME, SAME, SAME, SEEN,    SAME, SEEN,    SAME,  SAME,   SAME),
    SEEN:     (SAME,   SAME,  SAME, NORMAL,   SAME, SAME, SAME, SAME,    SAME, SAME,    SAME,  SAME,   SAME),
    RETURNED: (ACTIVE, SAME,  SAME, SAME,     SAME, SAME, SAME, NORMAL,  SAME, NORMAL,  SAME,  SAME,   SAME),
}  # fmt: skip
SELF_CLEARING = {state: LATCHING[state] for state in (NORMAL, ACTIVE, SEEN)}
SELF_CLEARING[ACTIVE] = tuple(NORMAL if cell == RETURNED else cell for cell in LATCHING[ACTIVE])


def story_in(state: str, self_clearing: bool) -> Story:
    """A story whose alarm is in ``state``; it has risen twice, so an old occurrence exists."""
    story = Story(level_rule(self_clearing=self_clearing))
    for _ in range(2):
        story.hold(1.2, 20.0)
        story.acknowledge()
        story.hold(2.2, 0.0)
    if state != NORMAL:
        story.hold(1.2, 20.0)
    if state == SEEN:
        story.acknowledge()
    if state == RETURNED:
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
    return None


CELLS = [
    (self_clearing, state, given, cell)
    for self_clearing, table in ((False, LATCHING), (True, SELF_CLEARING))
    for state, row in table.items()
    for given, cell in zip(INPUTS, row, strict=True)
]


def test_no_cell_is_missing() -> None:
    assert set(LATCHING) == set(get_args(AlarmState))
    # With self-clearing the fourth state cannot be reached.
    assert set(SELF_CLEARING) == set(get_args(AlarmState)) - {RETURNED}
    assert len(CELLS) == (4 + 3) * len(INPUTS)


@pytest.mark.parametrize(("self_clearing", "state", "given", "cell"), CELLS)
def test_cell(self_clearing: bool, state: str, given: str, cell: str | None) -> None:
    story = story_in(state, self_clearing)
    before, sounded = len(story.changes), len(story.announcements)
    occurrence = story.book.entry("level").occurrence
    give(story, given)
    assert story.state() == (state if cell is SAME else cell)
    made = story.changes[before:]
    assert len(made) == (0 if cell is SAME else 1)
    for change in made:
        assert (change.before, change.after) == (state, cell)
        assert change.reason
    rises = cell == ACTIVE
    assert len(story.announcements) - sounded == (1 if rises else 0)
    assert story.book.entry("level").occurrence == occurrence + (1 if rises else 0)


@pytest.mark.parametrize("state", [NORMAL, ACTIVE, SEEN, RETURNED])
def test_a_wrong_occurrence_is_refused_in_words(state: str) -> None:
    story = story_in(state, False)
    old = give(story, "acknowledged by an old occurrence")
    assert old is not None
    assert "not the present one" in old


@pytest.mark.parametrize("state", [NORMAL, SEEN])
def test_nothing_to_acknowledge_is_said(state: str) -> None:
    story = story_in(state, False)
    assert story.acknowledge("level") == "level: nothing to acknowledge"
    assert story.acknowledge() == "no alarm: nothing to acknowledge"


def test_names_that_do_not_exist_are_refused() -> None:
    story = story_in(ACTIVE, False)
    assert story.acknowledge("levle") == "levle: no alarm of that name"
    assert story.acknowledge(None, 3) == "an occurrence needs the name of its alarm"
    assert story.state() == ACTIVE
