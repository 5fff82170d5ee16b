"""The speaker against sound processes that misbehave in every way seen in the field; none may hurt the watch."""

from __future__ import annotations

import os
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.output.choice import choose
from analysis.output.outlet import Outlet
from analysis.output.speaker import Speaker, SpeakerTiming, child_command

PATIENT = 20.0  # seconds a loaded machine may take; nothing here measures speed
# Short pauses, but a deadline for flow that a loaded machine keeps.
TIMING = SpeakerTiming(ready=1.5, flow=0.6, heartbeat=1.2, first_pause=0.05, longest_pause=0.2, idle_pause=0.2)

GOOD = """
    threading.Thread(target=beat, daemon=True).start()
    for line in sys.stdin:
        order = json.loads(line)
        if order["do"] == "quit":
            break
        if order["do"] == "open":
            say({"said": "ready", "device": order.get("device") or "paper", "rate": 48000})
        if order["do"] == "play":
            say({"said": "taken", "ticket": order["ticket"], "starts_in": 0.0})
            say({"said": "started", "ticket": order["ticket"]})
            say({"said": "played", "ticket": order["ticket"]})
"""
HEAD = """
    import json, os, sys, threading, time
    def say(report):
        os.write(1, json.dumps(report).encode() + b"\\n")
    def beat():
        calls = 0
        while True:
            calls += 1
            say({"said": "heartbeat", "calls": calls})
            time.sleep(0.05)
    say({"said": "warm"})
"""
ALARM = Announcement(
    alarm="highlights", occurrence=1, kind="highlights", direction="up", priority=2, words="", at=Instant(0.0, 0.0)
)

Start = Callable[..., Speaker]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Starts a speaker on a sound process whose program is given as text."""
    speakers = []

    def starts(body: str, timing: SpeakerTiming = TIMING) -> Speaker:
        program = tmp_path / f"child{len(speakers)}.py"
        program.write_text(textwrap.dedent(HEAD) + textwrap.dedent(body))
        speaker = Speaker(command=[sys.executable, "-S", str(program)], timing=timing)
        speakers.append(speaker)
        return speaker

    yield starts
    for speaker in speakers:
        speaker.close()


def until(true: Callable[[], object], what: str = "") -> None:
    deadline = time.monotonic() + PATIENT
    while not true():
        assert time.monotonic() < deadline, f"never happened: {what}"
        time.sleep(0.01)


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_good_process_plays_and_ends(start: Start) -> None:
    speaker = start(GOOD)
    assert speaker.wait_ready(PATIENT)
    ticket = speaker.play(ALARM)
    assert ticket is not None
    assert speaker.wait(ticket, PATIENT) == "played"
    assert speaker.lost() == ()
    status = speaker.status()
    assert (status.state, status.device, status.restarts) == ("ready", "paper", 0)
    pid = status.pid
    assert pid is not None
    speaker.close()
    assert speaker.status().state == "closed"
    assert not alive(pid)
    assert speaker.play(ALARM) is None


def test_a_killed_process_is_told_its_order_lost_and_another_is_started(start: Start) -> None:
    speaker = start("\n".join(line for line in GOOD.splitlines() if "played" not in line))
    assert speaker.wait_ready(PATIENT)
    ticket = speaker.play(ALARM)
    pid = speaker.status().pid
    assert ticket is not None
    assert pid is not None
    until(lambda: speaker.fate(ticket) == "playing")
    os.kill(pid, 9)
    assert speaker.wait(ticket, PATIENT) == "failed"
    assert speaker.lost() == (ticket,)
    until(lambda: speaker.status().state == "ready" and speaker.status().restarts == 1, "sound is back")
    assert speaker.status().pid != pid


def test_a_heartbeat_that_stops_is_noticed_then_killed_then_replaced(start: Start) -> None:
    speaker = start("""
        say({"said": "ready", "device": "paper", "rate": 48000})
        for _ in range(5):
            say({"said": "heartbeat", "calls": 7})
            time.sleep(0.1)
        time.sleep(600)
    """)
    assert speaker.wait_ready(PATIENT)
    pid = speaker.status().pid
    assert pid is not None
    # The same count again and again is no sign of life: the device asks for nothing.
    until(lambda: speaker.status().state == "stalled", "stalled")
    assert speaker.play(ALARM) is None
    until(lambda: "given up" in speaker.status().reason or speaker.status().restarts, "given up")
    until(lambda: not alive(pid), "killed")
    until(lambda: speaker.status().restarts >= 1, "replaced")


def test_a_device_that_never_opens_is_given_up(start: Start) -> None:
    speaker = start("time.sleep(600)")
    until(lambda: speaker.status().reason == "the sound device did not open within 1.5 s")
    assert speaker.status().state == "waiting"
    assert not speaker.wait_ready(0.0)


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ("sys.exit(3)", "the sound process ended"),
        ("os.abort()", "the sound process ended"),
        ("say({'said': 'something'}); time.sleep(600)", "the sound process said what cannot be understood"),
        ("os.write(1, b'\\xff\\xfe\\n'); time.sleep(600)", "the sound process said what cannot be understood"),
        ("say({'said': 'failed', 'reason': 'no sound device'}); time.sleep(600)", "no sound device"),
    ],
)
def test_a_process_that_fails_is_tried_again_and_says_why(start: Start, body: str, reason: str) -> None:
    speaker = start(body)
    until(lambda: speaker.status().restarts >= 2, "tried again")
    assert speaker.status().reason == reason
    assert speaker.status().state == "waiting"
    assert speaker.play(ALARM) is None


def test_what_cannot_get_better_is_not_tried_again(start: Start) -> None:
    speaker = start("say({'said': 'failed', 'reason': 'PortAudio is missing', 'permanent': True})")
    until(lambda: speaker.status().state == "broken")
    time.sleep(0.5)
    assert (speaker.status().restarts, speaker.status().reason) == (0, "PortAudio is missing")


def test_a_flood_on_standard_error_reaches_nobody(start: Start, capfd: pytest.CaptureFixture[str]) -> None:
    flood = (
        "threading.Thread(target=lambda: [os.write(2, b'Expression failed\\n' * 4000) for _ in range(3000)]).start()"
    )
    speaker = start(flood + "\n" + textwrap.dedent(GOOD))
    assert speaker.wait_ready(PATIENT)
    ticket = speaker.play(ALARM)
    assert ticket is not None
    assert speaker.wait(ticket, PATIENT) == "played"
    speaker.close()
    assert capfd.readouterr() == ("", "")


def test_a_flood_on_standard_output_is_cut_off(start: Start) -> None:
    speaker = start("while True: os.write(1, b'x' * 65536)")
    until(lambda: speaker.status().reason == "the sound process said what cannot be understood")


def test_a_process_that_does_not_read_never_blocks_the_watch(start: Start) -> None:
    speaker = start("""
        say({"said": "ready", "device": "paper", "rate": 48000})
        beat()
    """)
    assert speaker.wait_ready(PATIENT)
    # Far more than a pipe holds (64 KiB on Linux): the rest is refused, not waited for.
    tickets = [ticket for _ in range(2000) if (ticket := speaker.play(ALARM)) is not None]
    assert len(tickets) == 2000
    until(lambda: speaker.fate(tickets[-1]) == "failed" or speaker.lost(), "lost")
    assert speaker.fate(tickets[-1]) == "failed"


def test_a_command_that_does_not_exist_is_told() -> None:
    speaker = Speaker(command=["/nonexistent/sound"], timing=TIMING)
    until(lambda: "does not start" in speaker.status().reason)
    assert speaker.status().reason == "the sound process does not start: No such file or directory"
    speaker.close()


def test_close_does_not_wait_for_a_process_that_ignores_everything(start: Start) -> None:
    speaker = start("""
        import signal
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        say({"said": "ready", "device": "paper", "rate": 48000})
        while True:
            try:
                beat()
            except OSError:
                time.sleep(0.05)
    """)
    assert speaker.wait_ready(PATIENT)
    pid = speaker.status().pid
    assert pid is not None
    speaker.close()
    until(lambda: not alive(pid), "killed")


def test_pauses_between_tries_grow_stay_bounded_and_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    paused: list[tuple[float, float]] = []
    real = Speaker._pause

    def pause(speaker: Speaker, seconds: float) -> bool:
        began = time.monotonic()
        early = real(speaker, seconds)
        paused.append((seconds, time.monotonic() - began))
        return early

    monkeypatch.setattr(Speaker, "_pause", pause)
    timing = SpeakerTiming(first_pause=0.1, longest_pause=0.4, idle_pause=0.4)
    speaker = Speaker(command=["/nonexistent"], timing=timing, look=lambda: ())
    until(lambda: len(paused) >= 4, "four pauses")
    speaker.close()
    assert [asked for asked, _ in paused[:4]] == [0.1, 0.2, 0.4, 0.4]
    # At least the pause; how much longer it takes is the machine's affair.
    assert all(took >= 0.9 * asked for asked, took in paused[:4])


def test_a_device_that_is_slow_to_fail_is_not_tried_the_more_often(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "child.py"
    program.write_text("import time; time.sleep(0.2)")
    pauses: list[float] = []
    monkeypatch.setattr(Speaker, "_pause", lambda _, seconds: bool(pauses.append(seconds)))
    timing = SpeakerTiming(first_pause=0.01, longest_pause=0.04, idle_pause=0.04)
    speaker = Speaker(command=[sys.executable, "-S", str(program)], timing=timing)
    until(lambda: len(pauses) >= 4, "four tries")
    speaker.close()
    assert pauses[:4] == [0.01, 0.02, 0.04, 0.04]


def test_a_device_that_comes_back_is_tried_at_once_however_long_the_pause_is(tmp_path: Path) -> None:
    born = tmp_path / "born"
    program = tmp_path / "child.py"
    program.write_text(f"open({str(born)!r}, 'a').write('x')")
    there: list[tuple[str, int, int]] = []
    timing = SpeakerTiming(first_pause=600.0, longest_pause=600.0, idle_pause=600.0, look=0.02)
    speaker = Speaker(command=[sys.executable, "-S", str(program)], timing=timing, look=lambda: tuple(there))
    # The second is there before the pause, and has not been asked for anything yet.
    until(lambda: born.exists() and born.read_text() == "xx" and speaker.status().restarts == 1, "two starts")
    time.sleep(0.2)
    assert speaker.status().restarts == 1
    there.append(("/dev/snd/pcmC1D0p", 7, 7))
    until(lambda: speaker.status().restarts == 2, "a new try because a device came")
    speaker.close()


def test_a_device_long_lost_is_looked_for_seldom_where_its_return_would_show(tmp_path: Path) -> None:
    fake, signs = [1000.0], [("/dev/snd/pcmC0D0p", 1, 1)]
    speaker = Speaker(command=["/nonexistent"], monotonic=lambda: fake[0], look=lambda: tuple(signs))
    timing = SpeakerTiming()
    assert speaker._longest() == timing.idle_pause, "it never worked"
    speaker._was_ready, speaker._flowed = True, fake[0]
    assert speaker._longest() == timing.longest_pause
    fake[0] += timing.patience + 1.0
    assert speaker._longest() == timing.idle_pause
    signs.clear()
    assert speaker._longest() == timing.longest_pause, "nothing would show its return"
    speaker.close()


def test_the_bell_takes_over_when_the_process_is_killed(start: Start) -> None:
    speaker = start(GOOD)
    assert speaker.wait_ready(PATIENT)
    outlet = Outlet(choose("auto", {}), speaker)

    def tick() -> Instant:
        now = Instant(time.monotonic(), time.time())
        outlet.tick(now)
        return now

    assert outlet.status(tick()).outlet == "speakers"
    pid = speaker.status().pid
    assert pid is not None
    os.kill(pid, 9)
    until(lambda: (tick(), outlet.bells)[1] == 1, "bell")
    until(lambda: outlet.status(tick()).outlet == "speakers", "sound is back")
    assert outlet.bells == 1


def test_the_device_that_was_asked_for_is_named_to_the_process(tmp_path: Path) -> None:
    program = tmp_path / "child.py"
    program.write_text(textwrap.dedent(HEAD) + textwrap.dedent(GOOD))
    speaker = Speaker(command=[sys.executable, "-S", str(program)], device="the desk", timing=TIMING)
    assert speaker.wait_ready(PATIENT)
    assert speaker.status().device == "the desk"
    speaker.close()
    assert "the desk" not in child_command()


def test_folders_that_happen_to_be_called_like_ours_are_not_taken_for_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "analysis").mkdir()
    (tmp_path / "analysis" / "__init__.py").write_text("raise SystemExit('the wrong analysis')")
    (tmp_path / "sounddevice.py").write_text("raise SystemExit('the wrong sounddevice')")
    monkeypatch.chdir(tmp_path)
    # A device that surely is not there: the real process answers, whatever this machine has.
    speaker = Speaker(device="no such desk", timing=SpeakerTiming(ready=PATIENT))
    until(lambda: speaker.status().state in ("waiting", "broken"), "answered")
    reason = speaker.status().reason
    speaker.close()
    assert "the sound process ended" not in reason
    assert "no sound device" in reason or "missing" in reason
