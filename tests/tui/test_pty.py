"""The real application in a pseudo-terminal: fast and slow links, terminals that answer and that do not."""

from __future__ import annotations

import os
import signal
import statistics
import time

import pytest

from tests.tui.pty_run import Session
from tests.tui.screen_age import command, watch_ages


def up(session: Session) -> bool:
    return "CLIPPED" in session.text() and "quit" in session.text()


def start(session: Session) -> None:
    assert session.run(30, up), session.received[-2000:].decode(errors="replace")


def leave(session: Session) -> None:
    session.press("q")
    session.run(15)
    assert session.status == 0
    after = session.received.decode("utf-8", "replace")
    for mode in ("1049", "1000", "1003", "2004", "25"):
        # Alternate screen, mouse and paste modes off, cursor visible again.
        assert after.rfind(f"\x1b[?{mode}{'h' if mode == '25' else 'l'}") > after.rfind(
            f"\x1b[?{mode}{'l' if mode == '25' else 'h'}"
        ), mode


def test_a_fast_link_in_full_colour() -> None:
    with Session(command("moving"), (100, 30), env={"COLOURS": "full"}) as session:
        start(session)
        assert session.run(10, lambda s: len(s.screen.marks) > 8), "the screen is not acknowledged"
        begin = time.monotonic()
        session.run(3)
        assert session.rate_between(begin, time.monotonic()) < 30_000
        assert all(len(line) == 100 for line in session.screen.lines())
        session.press("t")
        assert session.run(10, lambda s: "R red" in s.text())
        session.resize(80, 24)
        os.kill(session.pid, signal.SIGWINCH)
        assert session.run(10, lambda s: up(s) and "CRUSHED" in s.text())
        leave(session)


def test_a_slow_link_shows_fresh_figures_and_says_that_it_is_slow() -> None:
    with Session(command("pan"), (120, 40), rate=12_500) as session:
        start(session)
        session.run(2)
        ages = watch_ages(session, 4)
        assert len(ages) > 10
        # Unpaced, the backlog would grow by more than a second every second. Nothing tight: others use this machine.
        assert statistics.median(ages) < 1.5
        assert max(ages[len(ages) // 2 :]) < 4
        assert session.run(10, lambda s: "link" in s.screen.lines()[0])
        leave(session)


def test_sixteen_colours_and_no_colour_and_no_unicode() -> None:
    env: dict[str, str | None] = {"TERM": "xterm", "COLORTERM": None, "LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0"}
    env |= {"PYTHONCOERCECLOCALE": "0", "NO_COLOR": "1"}
    with Session(command("moving"), (80, 24), env=env, answers=False) as session:
        assert session.run(30, up), session.received[-2000:]
        session.run(3.5)  # longer than the deadline for answers: this terminal gives none
        session.press("\x10")  # the command palette
        assert session.run(10, lambda s: "Acknowledge all" in s.text())
        assert session.received.isascii()
        for pen in session.screen.pens():
            assert (pen.front, pen.back) == ("39", "49")
        session.press("\x1b")
        session.run(1)
        leave(session)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_signals_leave_the_terminal_clean(number: signal.Signals) -> None:
    with Session(command("still"), (80, 24)) as session:
        start(session)
        os.kill(session.pid, number)
        session.run(15)
        assert session.status == 0
        assert session.received.decode("utf-8", "replace").rfind("\x1b[?1049l") > 0


def test_still_picture_sends_next_to_nothing() -> None:
    with Session(command("still"), (120, 40)) as session:
        start(session)
        session.run(1)
        begin = time.monotonic()
        session.run(2)
        assert session.rate_between(begin, time.monotonic()) < 3000
        leave(session)


@pytest.mark.parametrize(
    ("notify", "sent"),
    [
        ("auto", b"\x1b]9;stopkeeper: scene:boathouse: highlights clipping. close by 1/3 stop"),
        ("osc777", b"\x1b]777;notify;stopkeeper: scene:boathouse;highlights clipping. close by 1/3 stop"),
        ("off", None),
    ],
)
def test_an_alarm_rings_and_notifies_the_terminal_once(notify: str, sent: bytes | None) -> None:
    with Session(command("alarm"), (80, 24), env={"NOTIFY": notify, "TERM": "xterm"}) as session:
        start(session)
        assert session.run(20, lambda s: b"\a" in s.received)
        session.run(1.5)
        for form in (b"\x1b]9;", b"\x1b]777;", b"\x1b]99;"):
            assert session.received.count(form) == (1 if sent is not None and sent.startswith(form) else 0)
        if sent is not None:
            assert sent in session.received
            assert "+ notices" in session.text()
        leave(session)


def test_a_dumb_terminal_is_refused_in_words() -> None:
    with Session(command("still"), (80, 24), env={"TERM": "dumb"}) as session:
        session.run(20)
        assert session.status != 0
        assert "--plain" in session.received.decode()
        assert b"\x1b[?1049h" not in session.received
