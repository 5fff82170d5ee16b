"""What is heard is chosen by itself, can be changed, and says so."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from analysis.model.errors import UsageError
from analysis.model.instant import Instant
from analysis.output.choice import Choice
from analysis.output.heard import Heard, SpeechWish, open_heard, spoken
from analysis.output.outlet import Outlet
from analysis.output.speech import ENGINE, Speech
from analysis.output.spoken import SpokenOutlet
from tests.output.test_hook import until
from tests.output.test_outlet import PaperSpeaker
from tests.output.test_speech import CALM, alarm, change

NOW = Instant(1.0, 1e9)
SSH = {"SSH_CONNECTION": "192.0.2.7 50000 192.0.2.1 22"}


@pytest.fixture
def engine(tmp_path: Path) -> dict[str, str]:
    """An environment whose PATH holds a speech engine that writes down what it says."""
    path = tmp_path / ENGINE
    path.write_text(f'#!/bin/sh\nfor last; do :; done\necho "$last" >> {tmp_path}/said\n')
    path.chmod(0o755)
    return {"PATH": f"{tmp_path}:/bin:/usr/bin"}


@pytest.fixture
def opened() -> Iterator[list[Heard]]:
    made: list[Heard] = []
    yield made
    for heard in made:
        heard.outlet.close()


def said(environment: dict[str, str]) -> list[str]:
    path = Path(environment["PATH"].split(":")[0]) / "said"
    return path.read_text().splitlines() if path.exists() else []


@pytest.mark.parametrize(
    ("wish", "mode", "ssh", "expected"),
    [
        ("auto", "auto", False, "alarms"),
        ("auto", "speakers", False, "alarms"),
        ("auto", "speakers", True, "alarms"),  # the operator said that the speakers here are heard
        ("auto", "auto", True, "off"),
        ("auto", "bell", False, "off"),
        ("auto", "off", False, "off"),
        ("off", "speakers", False, "off"),
        ("asked", "auto", True, "asked"),
        ("alarms", "bell", True, "alarms"),
    ],
)
def test_where_words_are_spoken(wish: SpeechWish, mode: str, ssh: bool, expected: str, engine: dict[str, str]) -> None:
    assert spoken(wish, mode, engine | (SSH if ssh else {})) == expected


def test_auto_without_an_engine_is_silent_and_complains_of_nothing(tmp_path: Path, opened: list[Heard]) -> None:
    complaints: list[str] = []
    opened.append(open_heard("bell", {"PATH": str(tmp_path)}, speech="auto", complain=complaints.append))
    assert isinstance(opened[0].outlet, Outlet)
    assert not opened[0].outlet.say("all well")
    assert complaints == [] and opened[0].recorders == ()


def test_what_was_asked_for_and_cannot_be_spoken_is_said_once(tmp_path: Path, opened: list[Heard]) -> None:
    complaints: list[str] = []
    opened.append(open_heard("bell", {"PATH": str(tmp_path)}, speech="alarms", complain=complaints.append))
    assert len(complaints) == 1 and "espeak-ng is not installed" in complaints[0]
    assert "espeak-ng is not installed" in opened[0].outlet.status(NOW).reason
    assert not opened[0].outlet.say("all well")


def test_alarms_and_what_is_asked_for_are_spoken(engine: dict[str, str], opened: list[Heard]) -> None:
    opened.append(open_heard("bell", engine, speech="alarms"))
    heard = opened[0]
    assert "words are spoken" in heard.outlet.status(NOW).reason
    heard.outlet.announce(alarm(), NOW)
    until(lambda: said(engine) == ["highlights clipping"], "words were spoken")
    assert heard.outlet.say("all well, skin on its aim")
    until(lambda: said(engine)[-1] == "all well, skin on its aim", "words were spoken")


def test_asked_speaks_only_when_asked(engine: dict[str, str], opened: list[Heard]) -> None:
    opened.append(open_heard("bell", engine, speech="asked"))
    outlet = opened[0].outlet
    outlet.announce(alarm(), NOW)
    assert outlet.bells == 1, "it sounds all the same"
    assert outlet.say("all well")
    until(lambda: said(engine) != [], "words were spoken")
    assert said(engine) == ["all well"]
    assert "when asked for" in outlet.status(NOW).reason


def test_words_that_failed_the_last_time_are_not_called_spoken(engine: dict[str, str], opened: list[Heard]) -> None:
    """Without a sound device the engine says "error:" and ends with code 0 (measured with 1.51)."""
    path = Path(engine["PATH"].split(":")[0]) / ENGINE
    path.write_text("#!/bin/sh\necho 'error: No such file or directory' >&2\n")
    opened.append(open_heard("bell", engine, speech="asked"))
    outlet = opened[0].outlet
    outlet.say("all well")
    until(lambda: "espeak-ng says error" in outlet.status(NOW).reason, "the engine failed")
    assert not outlet.say("all well")


def test_the_recorders_take_back_words_of_what_is_over(engine: dict[str, str]) -> None:
    speech = Speech(lambda _: None, engine, timing=CALM)
    outlet = SpokenOutlet(Outlet(Choice(outlet="speakers", reason=""), PaperSpeaker()), speech)
    try:
        outlet.announce(alarm(), NOW)  # its sound comes first, so the words still wait
        speech.alarm_changed(change("highlights", "normal"))
        assert speech.wait(5.0)
        assert speech.dropped == 1 and said(engine) == []
    finally:
        outlet.close()


def test_the_engine_sees_only_the_environment_it_is_given(tmp_path: Path, opened: list[Heard]) -> None:
    path = tmp_path / ENGINE
    path.write_text(f'#!/bin/sh\necho "token $TOKEN." >> {tmp_path}/said\n')
    path.chmod(0o755)
    lean = {"PATH": f"{tmp_path}:/bin:/usr/bin"}
    opened.append(open_heard("bell", lean | {"TOKEN": "secret"}, speech="asked", speech_environment=lean))
    assert opened[0].outlet.say("all well")
    until(lambda: said(lean) == ["token ."], "words were spoken")


def test_a_sound_mode_that_does_not_exist_is_refused(engine: dict[str, str]) -> None:
    with pytest.raises(UsageError, match="no sound mode called horn"):
        open_heard("horn", engine, speech="auto")
