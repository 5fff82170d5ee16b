"""Where alarms come out, a mute that ends, a bell that never raises, a protocol that survives the trip."""

from __future__ import annotations

from typing import get_args

import msgspec
import pytest

from analysis.model.errors import UsageError
from analysis.model.instant import Instant
from analysis.output import protocol
from analysis.output.bell import Bell
from analysis.output.choice import choose
from analysis.output.mute import DEFAULT_SECONDS, LONGEST_SECONDS, muted

SSH = {"SSH_CONNECTION": "192.0.2.7 50000 192.0.2.1 22", "SSH_TTY": "/dev/pts/3"}


@pytest.mark.parametrize(
    ("mode", "environment", "outlet"),
    [
        ("auto", {}, "speakers"),
        ("auto", SSH, "bell"),
        ("auto", {"SSH_TTY": "/dev/pts/3"}, "bell"),
        ("auto", {"SSH_CONNECTION": SSH["SSH_CONNECTION"]}, "bell"),
        ("auto", {"SSH_CONNECTION": "", "SSH_TTY": ""}, "speakers"),
        # An agent or an old client variable says nothing about where the terminal is.
        ("auto", {"SSH_AUTH_SOCK": "/tmp/agent"}, "speakers"),
        ("speakers", SSH, "speakers"),
        ("bell", {}, "bell"),
        ("off", SSH, "off"),
    ],
)
def test_outlet_follows_the_operator(mode: str, environment: dict[str, str], outlet: str) -> None:
    choice = choose(mode, environment)
    assert choice.outlet == outlet
    assert choice.reason


def test_an_unknown_mode_is_refused_in_one_line() -> None:
    with pytest.raises(UsageError) as refused:
        choose("loud", {})
    assert str(refused.value) == (
        "--sound: no sound mode called loud; choose one of auto, speakers, bell, off"
    )  # fmt: skip
    assert refused.value.exit_code == 2


def test_a_mute_ends_by_itself_and_is_never_longer_than_an_hour() -> None:
    mute = muted(DEFAULT_SECONDS, Instant(50.0, 0.0))
    assert mute.left(Instant(50.0, 0.0)) == 600.0
    assert mute.left(Instant(649.0, 0.0)) == 1.0
    assert mute.left(Instant(651.0, 0.0)) == 0.0
    assert muted(1e9, Instant(0.0, 0.0)).left(Instant(0.0, 0.0)) == LONGEST_SECONDS == 3600.0


def test_a_mute_follows_the_monotonic_clock() -> None:
    mute = muted(60.0, Instant(0.0, 1_700_000_000.0))
    assert mute.left(Instant(30.0, 1_700_086_400.0)) == 30.0


@pytest.mark.parametrize("seconds", [0.0, -1.0, float("nan"), float("inf")])
def test_no_length_of_time_is_refused(seconds: float) -> None:
    with pytest.raises(UsageError, match="cannot mute for"):
        muted(seconds, Instant(0.0, 0.0))


def test_the_bell_counts_and_writes() -> None:
    written: list[str] = []
    bell = Bell(lambda: written.append("bell"))
    bell.ring()
    bell.ring(2)
    assert (bell.rung, len(written)) == (3, 3)


@pytest.mark.parametrize("error", [OSError(5, "Input/output error"), ValueError("write to closed file")])
def test_a_terminal_that_went_away_is_told_and_survived(error: Exception) -> None:
    gone = True

    def write() -> None:
        if gone:
            raise error

    bell = Bell(write)
    bell.ring()
    assert bell.fault is not None
    assert "cannot be rung" in bell.fault
    gone = False
    bell.ring()
    assert bell.fault is None
    assert bell.rung == 2


MESSAGES = [
    protocol.Play(ticket=1, alarm="highlights", kind="highlights", direction="up", priority=2, loudness=0.5),
    protocol.Stop(), protocol.Quit(), protocol.Ready(device="default: \"café\"\n", rate=48000),
    protocol.Heartbeat(calls=2**40), protocol.Taken(ticket=2, starts_in=0.25), protocol.Started(ticket=2),
    protocol.Open(device="the desk \"\u00e9\" (hw:0,0)", loudness=0.5), protocol.LetGo(),
    protocol.Warm(), protocol.Free(),
    protocol.Played(ticket=2), protocol.Stopped(ticket=2), protocol.Failed(reason="a\nb", ticket=3, permanent=True),
]  # fmt: skip


@pytest.mark.parametrize("message", MESSAGES, ids=lambda m: type(m).__name__)
def test_every_message_survives_the_trip_on_one_line(message: protocol.Command | protocol.Report) -> None:
    text = protocol.line(message)
    assert text.count(b"\n") == 1
    assert len(text) < protocol.LONGEST_LINE
    reads = protocol.command if isinstance(message, get_args(protocol.Command)) else protocol.report
    assert reads(text) == message


def test_every_message_was_tried() -> None:
    assert {type(m) for m in MESSAGES} == {*get_args(protocol.Command), *get_args(protocol.Report)}


@pytest.mark.parametrize("text", [b"", b"{}", b'{"do":"explode"}', b'{"do":"play"}', b"\xff\xfe", b"[1,2]"])
def test_what_is_not_the_protocol_is_refused(text: bytes) -> None:
    for reads in (protocol.command, protocol.report):
        with pytest.raises((msgspec.MsgspecError, UnicodeDecodeError)):
            reads(text)
