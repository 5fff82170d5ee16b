"""Terminal notifications: what they are made of, and that no text can break out of them."""

from __future__ import annotations

import os
import pty
import re
import select
import shutil
import subprocess
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.output.notify import (
    LONGEST_BODY,
    LONGEST_TITLE,
    STYLES,
    NotifyStyle,
    choose_notification,
    clean,
    notification,
    passed_through_tmux,
)

SENT: list[NotifyStyle] = [style for style in STYLES if style != "off"]
XTERM = {"TERM": "xterm-256color"}
ESC = "\x1b"


def strings(text: str) -> list[str]:
    """The contents of the OSC strings in a text that holds nothing else (ECMA-48 8.3.89 and 8.3.143)."""
    assert re.fullmatch(r"(?:\x1b\][^\x1b]*\x1b\\)+", text), repr(text)
    return re.findall(r"\x1b\]([^\x1b]*)\x1b\\", text)


def unwrapped(text: str) -> str:
    """What tmux hands on: the content of its DCS string, with doubled ESC made single."""
    assert text.startswith(f"{ESC}Ptmux;") and text.endswith(f"{ESC}\\"), repr(text)
    inner = text[len(f"{ESC}Ptmux;") : -2]
    assert inner.count(ESC) == 2 * inner.count(ESC * 2), "an ESC that is not doubled would end the wrapping"
    return inner.replace(ESC * 2, ESC)


def test_the_three_forms() -> None:
    assert strings(notification("osc9", "stopkeeper", "feed lost", False)) == ["9;stopkeeper: feed lost"]
    assert strings(notification("osc777", "stopkeeper", "feed lost", False)) == ["777;notify;stopkeeper;feed lost"]
    assert strings(notification("osc99", "stopkeeper", "feed lost", False, urgent=True, identity="feed")) == [
        "99;i=feed:d=0:u=2;stopkeeper", "99;i=feed:p=body;feed lost",
    ]  # fmt: skip


def test_off_and_nothing_to_say_are_empty() -> None:
    assert notification("off", "a", "b", True) == ""
    assert all(notification(style, " \x07", "\n", True) == "" for style in STYLES)


def test_one_part_alone() -> None:
    assert strings(notification("osc9", "", "feed lost", False)) == ["9;feed lost"]
    assert strings(notification("osc777", "feed lost", "", False)) == ["777;notify;feed lost;"]
    assert strings(notification("osc99", "", "feed lost", False)) == ["99;i=stopkeeper;feed lost"]


@pytest.mark.parametrize("style", SENT)
@given(title=st.text(max_size=300), body=st.text(max_size=600), identity=st.text(max_size=60))
def test_no_text_breaks_out(style: NotifyStyle, title: str, body: str, identity: str) -> None:
    plain = notification(style, title, body, False, identity=identity)
    if plain:
        for content in strings(plain):
            assert content.isprintable() and content.count(";") <= 3
            assert len(content) <= LONGEST_TITLE + LONGEST_BODY + 80
    wrapped = notification(style, title, body, True, identity=identity)
    assert (unwrapped(wrapped) if wrapped else "") == plain


@pytest.mark.parametrize(
    "text,left",
    [
        ("4;1;50", "4,1,50"),
        (f"a{ESC}\\b", "a \\b"),
        ("a\x07b\x9cc\x90d\x7fe", "a b c d e"),
        ("left\u202eright\u2028next\u200b!", "left right next !"),
        ("  skin   half a\tstop low ", "skin half a stop low"),
        ("Bootshaus über Wasser 🛶", "Bootshaus über Wasser 🛶"),
    ],
)
def test_cleaning(text: str, left: str) -> None:
    assert clean(text, 80) == left


def test_long_text_is_cut_with_a_sign() -> None:
    assert clean("x" * 81, 80) == "x" * 79 + "…" and clean("x" * 80, 80) == "x" * 80


@pytest.mark.parametrize(
    "style,environment,terminal,chosen,words",
    [
        ("off", XTERM, True, "off", "not asked for"),
        ("osc9", XTERM, False, "off", "there is no terminal"),
        ("osc9", {}, True, "off", "type unknown"),
        ("osc9", {"TERM": "dumb"}, True, "off", "type dumb"),
        ("osc99", {"TERM": "linux"}, True, "off", "type linux"),
        ("osc777", {"TERM": "screen", "STY": "1.pts"}, True, "off", "does not pass them on"),
        ("osc777", XTERM, True, "osc777", "by OSC 777"),
        ("osc99", {"TERM": "tmux-256color", "TMUX": "/tmp/t,1,0"}, True, "osc99", "allow-passthrough on"),
        ("osc9", {"TERM": "screen-256color", "TMUX": "/tmp/t,1,0", "STY": "1.pts"}, True, "osc9", "through tmux"),
    ],
)
def test_what_is_sent_where(
    style: NotifyStyle, environment: dict[str, str], terminal: bool, chosen: str, words: str
) -> None:
    choice = choose_notification(style, environment, is_terminal=terminal)
    assert choice.style == chosen and words in choice.reason
    assert choice.in_tmux == (chosen != "off" and "TMUX" in environment)


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
@pytest.mark.parametrize("allowed", [True, False])
def test_a_real_tmux_hands_the_wrapped_one_on_and_keeps_the_bare_one(tmp_path: Path, allowed: bool) -> None:
    """tmux 3.3 or newer; what its manual says of allow-passthrough, seen from the terminal outside."""
    wrapped = notification("osc777", "through", "feed lost", True)
    bare = notification("osc777", "bare", "feed lost", False)
    (tmp_path / "say").write_bytes((bare + wrapped).encode())
    (tmp_path / "conf").write_text(f"set -g allow-passthrough {'on' if allowed else 'off'}\nset -g status off\n")
    ours, theirs = pty.openpty()
    command = f"sleep 0.5; cat {tmp_path}/say; printf 'the end'; sleep 30"
    tmux = ["tmux", "-S", f"{tmp_path}/socket", "-f", f"{tmp_path}/conf"]
    environment = {"TERM": "xterm-256color", "PATH": os.environ["PATH"], "LANG": "C.UTF-8", "HOME": str(tmp_path)}
    client = subprocess.Popen(
        [*tmux, "new-session", command], stdin=theirs, stdout=theirs, stderr=theirs, env=environment,
        start_new_session=True,
    )  # fmt: skip
    os.close(theirs)
    try:
        seen, deadline = b"", time.monotonic() + 20
        while b"the end" not in seen and time.monotonic() < deadline:
            if select.select([ours], [], [], 0.2)[0]:
                try:
                    seen += os.read(ours, 65536)
                except OSError:
                    break
        assert b"the end" in seen, seen[-500:]
        assert (b"\x1b]777;notify;through;feed lost\x1b\\" in seen) == allowed
        assert b"notify;bare" not in seen
    finally:
        subprocess.run([*tmux, "kill-server"], env=environment, capture_output=True, timeout=10)
        client.kill()
        client.wait()
        os.close(ours)


def test_wrapping_doubles_every_escape() -> None:
    assert unwrapped(passed_through_tmux(f"{ESC}]0;x{ESC}\\")) == f"{ESC}]0;x{ESC}\\"


@pytest.mark.parametrize(
    ("term", "form"),
    [("xterm-256color", "osc9"), ("xterm-kitty", "osc99"), ("foot-extra", "osc777"), ("tmux-256color", "osc9")],
)
def test_auto_takes_the_form_of_the_terminal_and_goes_with_the_bell(term: str, form: str) -> None:
    """Which terminal shows which form: from memory, no published standard."""
    choice = choose_notification("auto", {"TERM": term}, is_terminal=True)
    assert (choice.style, choice.with_bell) == (form, True)


def test_what_was_asked_for_goes_with_anything() -> None:
    asked = choose_notification("osc777", {"TERM": "xterm-kitty"}, is_terminal=True)
    assert (asked.style, asked.with_bell) == ("osc777", False)


def test_auto_sends_nothing_where_nothing_can_be_shown() -> None:
    assert choose_notification("auto", {"TERM": "linux"}, is_terminal=True).style == "off"
    assert choose_notification("auto", XTERM, is_terminal=False).style == "off"
    assert choose_notification("auto", XTERM | {"STY": "1.pts"}, is_terminal=True).style == "off"
