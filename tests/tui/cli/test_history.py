"""``stopkeeper history``: lines for people, objects for programs, one clear line where there is nothing to read."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from analysis.feed.clock import SystemClock
from analysis.journal.journal import Journal
from analysis.journal.rate import AlarmRate
from analysis.model.instant import Instant
from analysis.model.turn import DriftRate, Turn
from tests.journal.story import change, event
from tests.tui.cli.here import program
from tests.tui.cli.program import Said
from tui.cli.history import rate_words

KEYS = ["sequence", "session", "kind", "at", "alarm", "occurrence", "from", "to", "priority", "reason", "seconds"]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return program(tmp_path, monkeypatch, capsys)


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """The operator's own journal with something in it that has just happened."""
    clock, path = SystemClock(), tmp_path / "state" / "stopkeeper" / "journal.db"
    journal = Journal(path, clock, address="cam")
    now = clock.now()

    def ago(seconds: float) -> Instant:
        return Instant(now.monotonic - seconds, now.utc - seconds)

    journal.feed_changed(msgspec.structs.replace(event(), at=ago(4.0)))
    journal.alarm_changed(change(1, alarm="shadows", at=ago(3.0), reason="crushed 8.0 % of the picture"))
    journal.alarm_changed(change(2, at=ago(2.0)))
    journal.alarm_changed(change(2, before="active-unacknowledged", after="active-acknowledged", at=ago(1.0)))
    journal.noted("the door was opened")
    assert journal.close()
    return path


def test_lines_are_oldest_first_with_times_and_words(run: Callable[..., Said], kept: Path) -> None:
    said = run("history")
    lines = said.out.splitlines()
    assert said.code == 0
    assert "LIVE → LOST: unplugged" in lines[0]
    assert "s ago)  shadows: NEW: crushed 8.0 % of the picture" in lines[1]
    assert "highlights: seen: clipped 2.0 %" in lines[3]
    assert "the door was opened" in said.out
    assert lines[-1].startswith("last 24 h: 2 alarms in ") and "too short for a rate" in lines[-1]


def test_one_alarm_and_the_last_few(run: Callable[..., Said], kept: Path) -> None:
    assert run("history", "--alarm", "highlights").out.count("highlights: ") == 2
    only = run("history", "--alarm", "highlights", "--last", "1").out.splitlines()
    assert len(only) == 2 and "seen" in only[0]


def test_json_has_one_object_a_line_with_the_keys_of_the_guard(run: Callable[..., Said], kept: Path) -> None:
    said = run("history", "--json")
    objects = [json.loads(line) for line in said.out.splitlines()]
    alarms = [each for each in objects if each["kind"] == "alarm"]
    assert [list(each) for each in alarms] == [KEYS] * 3
    assert [each["sequence"] for each in objects[:-1]] == sorted(each["sequence"] for each in objects[:-1])
    assert next(each for each in objects if each["kind"] == "note")["words"] == "the door was opened"
    assert next(each for each in objects if each["kind"] == "feed")["after"] == "lost"
    assert objects[-1]["kind"] == "rate"
    assert {"hours", "alarms", "per_hour", "busiest", "by_alarm", "quiet"} <= set(objects[-1])


def test_json_tells_of_what_kind_a_turn_is(run: Callable[..., Said], tmp_path: Path) -> None:
    clock, path = SystemClock(), tmp_path / "state" / "stopkeeper" / "journal.db"
    journal = Journal(path, clock, address="cam")
    journal.turned(Turn(kind="sitter", at=clock.now(), stops=1.1, seconds=0.2, share=0.9, sitter_stops=1.1))
    assert journal.close()
    (told,) = [one for one in map(json.loads, run("history", "--json").out.splitlines()) if one["kind"] == "turn"]
    assert (told["turn"], told["stops"], told["sitter_stops"]) == ("sitter", 1.1, 1.1)
    assert isinstance(told["at"], str) and told["began"] == told["at"]


def test_a_drift_stands_where_it_ended_and_says_when_it_began(run: Callable[..., Said], tmp_path: Path) -> None:
    clock, path = SystemClock(), tmp_path / "state" / "stopkeeper" / "journal.db"
    journal, now = Journal(path, clock, address="cam"), clock.now()
    rate = DriftRate(of="whole", stage="ended", stops_a_minute=0.0)
    began = Instant(now.monotonic - 130.0, now.utc - 130.0)
    over = Turn(kind="drift", at=began, stops=-0.9, seconds=120.0, share=1.0, drift=rate)
    journal.turned(over)
    assert journal.close()
    (told,) = [one for one in map(json.loads, run("history", "--json").out.splitlines()) if one["kind"] == "turn"]
    assert (told["at"], told["began"]) == (over.stands_at.text(), began.text())
    assert "since" in run("history").out


def test_another_journal_can_be_named(run: Callable[..., Said], kept: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.db"
    journal = Journal(elsewhere, SystemClock())
    journal.alarm_changed(change(7))
    assert journal.close()
    assert "rise no. 7" in run("history", "--journal", str(elsewhere)).out


def test_an_unknown_alarm_is_refused_with_the_nearest(run: Callable[..., Said], kept: Path) -> None:
    said = run("history", "--alarm", "highligts")
    assert said.code == 2
    assert 'no alarm "highligts"' in said.err and "highlights" in said.err
    assert said.err.count("\n") == 1


def test_without_a_journal_one_line_says_so(run: Callable[..., Said]) -> None:
    said = run("history")
    assert said.code == 1
    assert "no journal there" in said.err and said.err.count("\n") == 1


def test_an_alarm_to_which_nothing_happened(run: Callable[..., Said], kept: Path) -> None:
    assert run("history", "--alarm", "noise").out.startswith("nothing has happened to noise")


@pytest.mark.parametrize("words", [("--last", "0"), ("--last", "x"), ("--hours", "0"), ("--hours", "-3")])
def test_numbers_that_make_no_sense_are_refused(run: Callable[..., Said], kept: Path, words: tuple[str, str]) -> None:
    said = run("history", *words)
    assert said.code == 2 and said.err.count("\n") == 1


def test_the_rate_is_told_once_there_is_enough_to_tell_it_by() -> None:
    rate = AlarmRate(hours=1 / 3, alarms=2, per_hour=6.0, busiest=2, by_alarm={"feed": 2}, quiet=0)
    said = rate_words(rate, 24.0)
    assert said == "last 24 h: 2 alarms in 20 min 00 s watched, 6.0 an hour, 2 at most in ten minutes; feed 2"
    none = AlarmRate(hours=0.0, alarms=0, per_hour=None, busiest=0, by_alarm={}, quiet=0)
    assert rate_words(none, 8.0) == "last 8 h: nobody watched"
