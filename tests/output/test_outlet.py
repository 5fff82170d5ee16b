"""The outlet with a speaker made of paper and a clock of our own: heard once, in the right place, in time."""

from __future__ import annotations

import pytest

from analysis.model.alarm import Announcement
from analysis.model.errors import UsageError
from analysis.model.instant import Instant
from analysis.output.bell import Bell
from analysis.output.choice import choose
from analysis.output.outlet import REPEAT_SECONDS, STEADY_SECONDS, Outlet, open_outlet
from analysis.output.protocol import Failed, Started, Taken
from analysis.output.speaker import SpeakerState, SpeakerStatus, SpeakerTiming
from analysis.output.tickets import Tickets


def at(seconds: float) -> Instant:
    return Instant(100.0 + seconds, 1e9 + seconds)


def alarm(name: str = "highlights", occurrence: int = 1, when: float = 0.0, priority: int = 2) -> Announcement:
    return Announcement(
        alarm=name, occurrence=occurrence, kind="highlights", direction="up", priority=priority,
        words="highlights clipping", at=at(when),
    )  # fmt: skip


class PaperSpeaker:
    """Follows real tickets by the test's clock; answers only when the test says so."""

    def __init__(self) -> None:
        self.state: SpeakerState = "ready"
        self.seconds = 0.0
        self.tickets = Tickets()
        self.played: list[tuple[str, int]] = []
        self.stops = self.closes = self.ends = 0
        self.answers = True

    def play(self, announcement: Announcement) -> int | None:
        if self.state != "ready":
            return None
        ticket = self.tickets.sent(self.seconds)
        self.played.append((announcement.alarm, announcement.occurrence))
        if self.answers:
            self.tickets.heard(Taken(ticket=ticket, starts_in=0.0), self.seconds)
            self.tickets.heard(Started(ticket=ticket), self.seconds)
        return ticket

    def lost(self) -> tuple[int, ...]:
        return self.tickets.lost(self.seconds, flowing=self.state == "ready")

    def stop(self) -> None:
        self.stops += 1

    def status(self) -> SpeakerStatus:
        return SpeakerStatus(state=self.state, reason=f"sound is {self.state}", device="paper")

    def end(self) -> None:
        self.ends += 1

    def close(self) -> None:
        self.closes += 1


class Room:
    """An outlet, its speaker and a clock that ticks ten times a second."""

    def __init__(self, mode: str = "auto", environment: dict[str, str] | None = None) -> None:
        self.speaker = PaperSpeaker()
        self.outlet = Outlet(choose(mode, environment or {}), self.speaker, Bell())
        self.ticks = 0
        self.run(0.1)

    @property
    def now(self) -> Instant:
        return at(self.ticks / 10)

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 10)):
            self.ticks += 1
            self.speaker.seconds = self.now.monotonic
            self.outlet.tick(self.now)

    def announce(self, *announcements: Announcement) -> None:
        for announcement in announcements:
            self.outlet.announce(announcement, self.now)


def test_speakers_where_they_work_and_no_bell() -> None:
    room = Room()
    room.announce(alarm())
    room.run(10)
    assert room.speaker.played == [("highlights", 1)]
    assert room.outlet.bells == 0
    status = room.outlet.status(room.now)
    assert (status.outlet, status.device) == ("speakers", "paper")


def test_over_ssh_the_bell_and_never_the_speakers() -> None:
    room = Room(environment={"SSH_TTY": "/dev/pts/0"})
    room.announce(alarm())
    room.run(10)
    assert (room.speaker.played, room.outlet.bells) == ([], 1)
    assert room.outlet.status(room.now).outlet == "bell"
    assert "SSH" in room.outlet.status(room.now).reason


@pytest.mark.parametrize("state", ["starting", "stalled", "waiting", "broken", "closed"])
def test_when_the_speaker_cannot_the_bell_rings_at_once_and_says_why(state: SpeakerState) -> None:
    room = Room()
    room.speaker.state = state
    before = room.outlet.bells
    room.announce(alarm())
    assert room.outlet.bells == before + 1
    status = room.outlet.status(room.now)
    assert (status.outlet, status.reason) == ("bell", f"terminal bell: sound is {state}")


def test_off_is_silent_and_says_so() -> None:
    room = Room("off")
    room.announce(alarm())
    room.run(5)
    assert (room.speaker.played, room.outlet.bells) == ([], 0)
    assert room.outlet.status(room.now).reason == "sound is turned off"


def test_the_same_occurrence_is_heard_once_however_often_it_is_announced() -> None:
    for mode in ("auto", "bell"):
        room = Room(mode)
        for _ in range(50):
            room.announce(alarm())
            room.run(0.2)
        assert len(room.speaker.played) + room.outlet.bells == 1


def test_the_next_occurrence_is_heard_and_after_a_new_start_of_counting_too() -> None:
    room = Room()
    room.announce(alarm(occurrence=1, when=0))
    room.run(3)
    room.announce(alarm(occurrence=2, when=3))
    room.run(3)
    room.announce(alarm(occurrence=1, when=6))
    assert room.speaker.played == [("highlights", 1), ("highlights", 2), ("highlights", 1)]


def test_an_alarm_is_not_heard_more_often_than_its_repeat_time_and_the_newest_is_not_forgotten() -> None:
    room = Room()
    heard_at = []
    for n in range(1, 31):
        room.announce(alarm(occurrence=n, when=n / 10))
        before = len(room.speaker.played)
        room.run(0.1)
        if len(room.speaker.played) > before:
            heard_at.append(room.ticks)
    room.run(5)
    # 3 s of ten rises a second: the first at once, one more after two seconds, the last one at the end.
    assert [n for _, n in room.speaker.played] == [1, 20, 30] or [n for _, n in room.speaker.played] == [1, 21, 30]
    assert REPEAT_SECONDS == 2.0


def test_two_alarms_do_not_hold_each_other_up() -> None:
    room = Room()
    room.announce(alarm("feed", priority=1), alarm("highlights"))
    assert room.speaker.played == [("feed", 1), ("highlights", 1)]


def test_a_sound_that_gets_no_answer_becomes_a_bell_within_half_a_second() -> None:
    room = Room()
    room.speaker.answers = False
    room.announce(alarm())
    room.run(0.2)
    assert room.outlet.bells == 0
    room.run(0.2)
    assert room.outlet.bells == 1
    room.run(10)
    assert room.outlet.bells == 1


def test_a_refused_sound_becomes_a_bell_at_the_next_tick() -> None:
    room = Room()
    room.speaker.answers = False
    room.announce(alarm())
    room.speaker.tickets.heard(Failed(ticket=1, reason="stalled"), room.now.monotonic)
    room.run(0.1)
    assert room.outlet.bells == 1


def test_losing_working_speakers_rings_once_and_shows_why() -> None:
    room = Room()
    room.speaker.state = "waiting"
    room.run(0.1)
    assert room.outlet.bells == 1
    assert room.outlet.status(room.now).outlet == "bell"
    room.run(60)
    assert room.outlet.bells == 1
    room.speaker.state = "ready"
    room.run(0.1)
    assert room.outlet.status(room.now).outlet == "speakers"
    room.speaker.state = "waiting"
    room.run(1)
    assert room.outlet.bells == 2


def test_speakers_that_stall_ring_at_once_and_are_not_rung_again_when_given_up() -> None:
    """Half a second from the loss: the speaker takes 0.3 s to call it a stall, the next tick rings."""
    assert SpeakerTiming().flow + 0.1 + 0.05 < 0.5
    room = Room()
    room.speaker.state = "stalled"
    room.run(0.1)
    assert room.outlet.bells == 1
    assert room.outlet.status(room.now).outlet == "bell"
    room.run(1)
    room.speaker.state = "waiting"
    room.run(60)
    assert room.outlet.bells == 1
    room.announce(alarm())
    assert room.outlet.bells == 2


def test_a_machine_that_stutters_is_not_rung_for_every_time_but_a_loss_is() -> None:
    room = Room()
    for _ in range(20):
        room.speaker.state = "stalled"
        room.run(0.3)
        room.speaker.state = "ready"
        room.run(STEADY_SECONDS - 1)
    assert room.outlet.bells == 1
    room.speaker.state = "stalled"
    room.run(1)
    room.speaker.state = "waiting"
    room.run(1)
    assert room.outlet.bells == 2
    room.speaker.state = "ready"
    room.run(STEADY_SECONDS + 1)
    room.speaker.state = "stalled"
    room.run(1)
    assert room.outlet.bells == 3


def test_lost_speakers_do_not_ring_while_muted() -> None:
    room = Room()
    room.outlet.mute(60.0, now=room.now)
    room.speaker.state = "stalled"
    room.run(5)
    assert room.outlet.bells == 0


def test_closing_is_no_loss() -> None:
    room = Room()
    room.speaker.state = "closed"
    room.run(1)
    assert room.outlet.bells == 0


def test_losing_the_speakers_in_the_middle_of_a_sound_rings_once_not_twice() -> None:
    room = Room()
    room.announce(alarm())
    room.speaker.state = "waiting"
    room.speaker.tickets.fail_all()
    room.run(5)
    assert room.outlet.bells == 1


def test_speakers_that_never_worked_do_not_ring_for_it() -> None:
    room = Room()
    quiet = Outlet(choose("auto", {}), room.speaker, Bell())
    room.speaker.state = "starting"
    quiet.tick(at(0))
    room.speaker.state = "waiting"
    quiet.tick(at(1))
    assert quiet.bells == 0


def test_mute_silences_now_shows_what_is_left_and_ends_by_itself() -> None:
    room = Room()
    room.announce(alarm())
    room.outlet.mute(60.0, now=room.now)
    assert room.speaker.stops == 1
    room.run(30)
    assert room.outlet.status(room.now).muted_seconds == pytest.approx(30.0)
    room.announce(alarm(occurrence=2, when=30))
    room.run(31)
    assert room.outlet.status(room.now).muted_seconds == 0.0
    assert room.speaker.played == [("highlights", 1)], "what was announced while muted is not heard later"
    room.announce(alarm(occurrence=3, when=61))
    assert room.speaker.played == [("highlights", 1), ("highlights", 3)]


def test_default_mute_is_ten_minutes_and_an_hour_is_the_most() -> None:
    room = Room()
    room.outlet.mute(now=room.now)
    assert room.outlet.status(room.now).muted_seconds == 600.0
    room.outlet.mute(86_400.0, now=room.now)
    assert room.outlet.status(room.now).muted_seconds == 3600.0
    room.outlet.unmute()
    assert room.outlet.status(room.now).muted_seconds == 0.0
    with pytest.raises(UsageError):
        room.outlet.mute(-5.0, now=room.now)


def test_mute_silences_the_bell_and_every_fallback_too() -> None:
    room = Room()
    room.speaker.answers = False
    room.announce(alarm())
    room.outlet.mute(60.0, now=room.now)
    room.speaker.state = "waiting"
    room.announce(alarm("feed", priority=1))
    room.run(5)
    assert room.outlet.bells == 0


def test_mute_forgets_what_waits_for_its_repeat_time() -> None:
    room = Room()
    room.announce(alarm())
    room.run(1)
    room.announce(alarm(occurrence=2, when=1))
    room.outlet.mute(60.0, now=room.now)
    room.run(10)
    assert room.speaker.played == [("highlights", 1)]


def test_hush_silences_what_sounds_and_leaves_the_next_alarm_alone() -> None:
    room = Room()
    room.announce(alarm())
    room.outlet.hush()
    assert room.speaker.stops == 1
    room.run(3)
    room.announce(alarm(occurrence=2, when=3))
    assert room.speaker.played == [("highlights", 1), ("highlights", 2)]


def test_hush_does_not_forget_a_rise_that_waits_for_its_repeat_time() -> None:
    room = Room()
    room.announce(alarm())
    room.run(1)
    room.announce(alarm(occurrence=2, when=1))
    room.outlet.hush()
    room.run(2)
    assert room.speaker.played == [("highlights", 1), ("highlights", 2)]


def test_without_a_screen_the_bell_is_written_and_a_dead_terminal_is_told() -> None:
    written = []
    outlet = open_outlet("bell", {}, bell_writer=lambda: written.append(1))
    outlet.announce(alarm(), at(0))
    assert (len(written), outlet.bells) == (1, 1)

    def broken() -> None:
        raise BrokenPipeError(32, "Broken pipe")

    outlet = open_outlet("bell", {}, bell_writer=broken)
    outlet.announce(alarm(), at(0))
    assert "cannot be rung" in outlet.status(at(0)).reason
    outlet.close()


def test_close_closes_the_speaker_and_off_never_had_one() -> None:
    room = Room()
    room.outlet.close()
    assert room.speaker.closes == 1
    open_outlet("off", {}).close()
    with pytest.raises(UsageError):
        open_outlet("louder", {})
