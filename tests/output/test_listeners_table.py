"""The table of what is heard in the README says of every alarm what is rendered."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.output.sounds import RHYTHMS, VOICES

ROOT = Path(__file__).parents[2]
MOVEMENT = {"up": "rising", "down": "falling", "none": "level"}


def rows() -> list[tuple[str, str]]:
    """What is heard and what it means, row by row."""
    text = (ROOT / "README.md").read_text(encoding="utf-8").partition("| you hear | it means |")[2]
    lines = text.split("\n\n")[0].splitlines()[2:]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [(heard, meaning) for heard, meaning in cells]


def told(rule: AlarmRule) -> list[str]:
    """The meanings of every row that says this rhythm, this voice and this movement."""
    wanted = (RHYTHMS[rule.priority].told.split()[0], VOICES[rule.kind].told, MOVEMENT[rule.direction])
    return [meaning for heard, meaning in rows() if all(word in heard for word in wanted)]


@pytest.mark.parametrize("rule", DEFAULT_RULES, ids=lambda rule: rule.name)
def test_each_alarm_has_the_row_of_its_sound(rule: AlarmRule) -> None:
    meanings = told(rule)
    assert len(meanings) == 1, "one row, for what sounds alike is told in one"
    wanted = [word for word in rule.words.split() if word not in {"watched", "the", "too", "than"}]
    assert any(word in meanings[0] for word in wanted), meanings


def test_no_row_is_of_a_sound_that_no_alarm_makes() -> None:
    used = {meaning for rule in DEFAULT_RULES for meaning in told(rule)}
    assert used == {meaning for _, meaning in rows()}
