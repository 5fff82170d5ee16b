"""Entries of the journal as one line each, and times that people can read."""

from __future__ import annotations

import time
from typing import get_args

import pytest

from analysis.journal.entry import EntryKind, Gap, JournalEntry, Note
from analysis.model.alarm import AlarmState
from analysis.model.turn import DriftRate, Turn
from tests.journal.story import UTC, at, change, event
from tui.journal_words import WORDS, ago, alarm_words, entry_words, feed_words, gap_words, short_time, time_of_day


def entry(kind: str, what: object, sequence: int = 1, seconds: float = 0.0) -> JournalEntry:
    return JournalEntry(sequence=sequence, session=1, at=at(seconds), kind=kind, what=what)  # type: ignore[arg-type]


def test_every_kind_the_journal_knows_has_words() -> None:
    assert set(get_args(EntryKind)) <= set(WORDS)


def test_a_kind_nobody_taught_is_told_as_being_there(monkeypatch: pytest.MonkeyPatch) -> None:
    assert entry_words(entry("comet", object())).about == "comet"
    monkeypatch.setitem(WORDS, "comet", lambda what: entry_words(entry("note", Note(words=f"saw {what}"))))
    assert entry_words(entry("comet", "one")).text == "saw one"


@pytest.mark.parametrize("state", get_args(AlarmState))
def test_every_state_an_alarm_becomes_is_told_with_reason_and_times(state: AlarmState) -> None:
    before: AlarmState = "active-acknowledged" if state == "normal" else "normal"
    words = alarm_words(change(4, before=before, after=state))
    assert words.about == "highlights"
    assert "clipped 4.0 % of the picture" in words.text
    assert "rise no. 4" in words.text and "priority 2" in words.text


def test_a_drift_that_is_over_says_when_it_began_and_how_long_it_took() -> None:
    rate = DriftRate(of="background", stage="ended", stops_a_minute=0.0)
    over = Turn(kind="drift", at=at(5.0), stops=-0.9, seconds=130.0, share=1.0, drift=rate)
    told = entry_words(entry("turn", over, seconds=135.0)).text
    assert told == f"drift of the background over: -0.9 stops in 2 min 10 s, since {time_of_day(UTC + 5.0, UTC)}"
    step = Turn(kind="whole", at=at(5.0), stops=-0.9, seconds=0.2, share=1.0)
    assert "since" not in entry_words(entry("turn", step)).text


def test_states_are_told_apart_in_words() -> None:
    states = get_args(AlarmState)[1:]
    told = [alarm_words(change(1, before="normal", after=state)).text.split(":")[0] for state in states]
    assert len(set(told)) == len(told)


def test_a_rise_that_nobody_heard_says_so() -> None:
    silent = alarm_words(change(1, quiet=("shelved",)))
    assert "NEW, without sound (shelved)" in silent.text
    assert silent.glyph == "‖"


def test_going_quiet_is_told_by_its_own_reason_only() -> None:
    words = alarm_words(
        change(1, before="normal", after="normal", reason="shelved for 15 min", quiet=("shelved",), quiet_before=())
    )
    assert words.text == "shelved for 15 min"


def test_worse_than_before_is_a_rise_though_the_state_is_the_same() -> None:
    worse = alarm_words(change(2, before="active-unacknowledged", reason="clipped 20 %, at or over twice the limit"))
    assert worse.text.startswith("NEW: clipped 20 %")
    assert worse.glyph == "◆"


def test_the_feed_is_told_with_its_evidence() -> None:
    assert feed_words(event()).text == "LIVE → LOST: unplugged"
    assert feed_words(event("waiting")).glyph != feed_words(event("live")).glyph


def test_a_gap_tells_what_is_lost() -> None:
    gap = Gap(began=at(0), ended=at(90), why="no space left", kept=0, lost=4, lost_readings=88)
    assert gap_words(gap).text == (
        "nothing could be written for 1 min 30 s: no space left; 4 entries are LOST; 88 seconds of readings are lost"
    )


def test_times_are_local(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "XXX-05:30")
    time.tzset()
    try:
        # 1 700 000 000 is 2023-11-14 22:13:20 UTC: five and a half hours on it is the next day.
        assert time_of_day(UTC, UTC + 60) == "03:43:20"
        assert time_of_day(UTC, UTC + 86_400) == "2023-11-15 03:43:20"
        assert short_time(UTC, UTC + 86_400) == "11-15 03:43"
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_clock_that_was_set_back_is_not_told_as_minus_something() -> None:
    assert ago(UTC + 3600, UTC) == "ahead"
    assert ago(UTC, UTC + 3600) == "1 h ago"
