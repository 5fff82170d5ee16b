"""Where alarms are heard, changed while a watch runs: speakers of paper, the test's clock."""

from __future__ import annotations

from typing import get_args

import pytest

from analysis.model.errors import UsageError
from analysis.output.bell import Bell
from analysis.output.choice import SoundMode, choose, following
from analysis.output.outlet import STEADY_SECONDS, Outlet, open_outlet
from analysis.output.spoken import SpokenOutlet
from tests.output.test_outlet import PaperSpeaker, alarm, at

HERE: dict[str, str] = {}
SSH = {"SSH_CONNECTION": "192.0.2.7 50000 192.0.2.1 22"}


class Turning:
    """An outlet that makes its own speakers, all of which are kept here."""

    def __init__(self, mode: str, environment: dict[str, str]) -> None:
        self.speakers: list[PaperSpeaker] = []
        choice = choose(mode, environment)
        player = self.new() if choice.outlet == "speakers" else None
        self.outlet = Outlet(choice, player, Bell(), environment=environment, new_player=self.new)
        self.seconds = 0.0
        self.run(0.1)

    def new(self) -> PaperSpeaker:
        self.speakers.append(PaperSpeaker())
        return self.speakers[-1]

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 10)):
            self.seconds += 0.1
            for speaker in self.speakers:
                speaker.seconds = at(self.seconds).monotonic
            self.outlet.tick(at(self.seconds))

    def turn(self, mode: str | None = None) -> str:
        return self.outlet.turn_to(mode, at(self.seconds))

    def announce(self, occurrence: int, priority: int = 2) -> None:
        self.outlet.announce(alarm(occurrence=occurrence, priority=priority), at(self.seconds))
        self.run(3.0)

    @property
    def where(self) -> str:
        return self.outlet.status(at(self.seconds)).outlet


@pytest.mark.parametrize("environment", [HERE, SSH])
@pytest.mark.parametrize("mode", get_args(SoundMode))
def test_one_by_one_every_audible_place_comes_and_silence_never(mode: SoundMode, environment: dict[str, str]) -> None:
    seen = [mode]
    for _ in range(6):
        seen.append(following(seen[-1], environment))
    assert "off" not in seen[1:]
    assert set(seen[1:]) == {"auto", "speakers", "bell"}
    assert following("off", environment) == "auto"


@pytest.mark.parametrize("environment", [HERE, SSH])
def test_the_first_step_from_what_is_chosen_by_itself_leads_elsewhere(environment: dict[str, str]) -> None:
    first = following("auto", environment)
    assert choose(first, environment).outlet != choose("auto", environment).outlet


def test_from_speakers_to_the_bell_and_back() -> None:
    room = Turning("auto", HERE)
    room.announce(1)
    assert room.turn() == "terminal bell, as asked"
    assert (room.where, room.speakers[0].ends) == ("bell", 1)
    assert room.outlet.bells == 1, "for the ear, and for what sounded just then"
    room.announce(2)
    assert (room.outlet.bells, room.speakers[0].played) == (2, [("highlights", 1)])
    assert room.turn() == "speakers of this machine, as asked"
    room.announce(3)
    assert (room.where, room.outlet.bells) == ("speakers", 2)
    assert room.speakers[1].played == [("highlights", 3)]
    assert room.turn() == "by itself, speakers of this machine"
    assert len(room.speakers) == 2, "they stay as they are"


def test_over_ssh_speakers_are_for_who_asks_and_it_is_said_where_that_is() -> None:
    room = Turning("auto", SSH)
    assert room.speakers == []
    assert room.turn() == "speakers of this machine, as asked, though over SSH"
    room.announce(1)
    assert room.speakers[0].played == [("highlights", 1)]
    assert room.turn() == "terminal bell, as asked"
    assert room.turn().startswith("by itself, terminal bell: you are connected over SSH")
    assert (room.where, room.speakers[0].ends, room.outlet.bells) == ("bell", 1, 1)


def test_until_new_speakers_work_the_bell_rings() -> None:
    room = Turning("bell", HERE)
    starting = PaperSpeaker()
    starting.state = "starting"
    room.outlet._new_player = lambda: starting
    assert room.turn("speakers") == "speakers of this machine, as asked; bell until they work"
    room.announce(1, priority=1)
    assert (room.where, room.outlet.bells, starting.played) == ("bell", 1, [])
    starting.state = "ready"
    room.announce(2, priority=1)
    assert (room.where, room.outlet.bells, starting.played) == ("speakers", 1, [("highlights", 2)])


def test_speakers_left_ring_no_bell_for_what_happens_to_them_then() -> None:
    room = Turning("speakers", HERE)
    room.run(STEADY_SECONDS + 1.0)
    room.turn("bell")
    room.speakers[0].state = "closed"
    room.run(5.0)
    assert room.outlet.bells == 1
    room.turn("speakers")
    room.run(5.0)
    assert (room.where, room.outlet.bells) == ("speakers", 1)
    room.speakers[1].state = "waiting"
    room.run(1.0)
    assert room.outlet.bells == 2, "but those that are heard now do when they are lost"


def test_silence_is_reached_only_by_its_name_and_left_by_one_step() -> None:
    room = Turning("auto", HERE)
    assert room.turn("off") == "sound is turned off"
    room.announce(1)
    assert (room.where, room.outlet.bells, room.speakers[0].played) == ("off", 0, [])
    room.turn()
    room.announce(2)
    assert (room.where, room.speakers[1].played) == ("speakers", [("highlights", 2)])


def test_a_mute_holds_wherever_it_is_heard() -> None:
    room = Turning("auto", HERE)
    room.outlet.mute(60.0, now=at(room.seconds))
    room.turn("bell")
    room.announce(1)
    assert room.outlet.bells == 0
    room.run(60.0)
    room.announce(2)
    assert room.outlet.bells == 1


def test_a_place_that_does_not_exist_changes_nothing() -> None:
    room = Turning("auto", HERE)
    with pytest.raises(UsageError, match="no sound mode called trumpet"):
        room.turn("trumpet")
    room.announce(1)
    assert (room.where, room.speakers[0].played) == ("speakers", [("highlights", 1)])


def test_closing_ends_the_speakers_of_now_and_no_new_ones_are_made() -> None:
    room = Turning("bell", HERE)
    room.turn("speakers")
    room.outlet.close()
    assert [speaker.closes for speaker in room.speakers] == [1]
    room.turn("bell")
    room.turn("speakers")
    assert len(room.speakers) == 1
    assert room.where == "bell"


def test_the_real_one_starts_a_sound_process_only_once_it_is_asked_for() -> None:
    outlet = open_outlet("bell", {"PATH": "/usr/bin"})
    assert outlet._player is None
    outlet.turn_to("speakers", at(0.0))
    assert outlet._player is not None
    outlet.turn_to("bell", at(1.0))
    assert outlet._player is None
    outlet.close()


class PaperVoice:
    """Notes what is spoken."""

    fault: str | None = None

    def __init__(self) -> None:
        self.announced: list[int] = []
        self.hushes = 0

    def announce(self, announcement: object, _: float) -> None:
        self.announced.append(announcement.occurrence)  # type: ignore[attr-defined]

    def hush(self) -> None:
        self.hushes += 1


@pytest.mark.parametrize(("follows", "spoken"), [(True, [1, 3]), (False, [1, 2, 3])])
def test_words_that_were_not_asked_for_by_name_follow_the_speakers(follows: bool, spoken: list[int]) -> None:
    room, voice = Turning("auto", HERE), PaperVoice()
    outlet = SpokenOutlet(room.outlet, voice, follows=follows)  # type: ignore[arg-type]
    outlet.announce(alarm(occurrence=1), at(1.0))
    outlet.turn_to("bell", at(2.0))
    assert voice.hushes == (1 if follows else 0)
    outlet.announce(alarm(occurrence=2), at(5.0))
    told = outlet.status(at(5.0)).reason
    assert told.endswith("words are spoken when asked for" if follows else "words are spoken")
    outlet.turn_to("speakers", at(6.0))
    outlet.announce(alarm(occurrence=3), at(9.0))
    assert voice.announced == spoken
