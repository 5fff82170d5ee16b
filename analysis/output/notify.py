"""Terminal notifications as escape sequences; built here, written by whoever owns the terminal.

Three forms are in use and no published standard covers them, so which one a terminal knows is for its operator to
say; all are OSC strings of ECMA-48 (section 8.3.89), which a terminal that does not know their number must pass over.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

import msgspec

NotifyStyle = Literal["off", "osc9", "osc777", "osc99"]
NotifyWish = Literal["auto", "off", "osc9", "osc777", "osc99"]
STYLES: tuple[NotifyStyle, ...] = get_args(NotifyStyle)

_BY_TERM: tuple[tuple[str, NotifyStyle], ...] = (("xterm-kitty", "osc99"), ("foot", "osc777"), ("rxvt", "osc777"))
"""Which form a terminal shows, by the beginning of its terminfo name; from memory, no published standard. Any other
gets OSC 9, the oldest and most widely shown of the three: who does not know it passes over it."""

LONGEST_TITLE = 80
LONGEST_BODY = 240

_ESC = "\x1b"
_OSC, _ST = f"{_ESC}]", f"{_ESC}\\"


class NotifyChoice(msgspec.Struct, frozen=True, kw_only=True):
    """Which form to send, whether through tmux, and why, in words.

    ``with_bell`` means only while alarms are heard by the terminal's bell: over SSH, and where speakers were lost.
    """

    style: NotifyStyle
    in_tmux: bool
    reason: str
    with_bell: bool = False


def choose_notification(style: NotifyWish, environment: Mapping[str, str], *, is_terminal: bool) -> NotifyChoice:
    """What can be sent where the program runs now, of what the operator asked for.

    ``auto`` sends them where the terminal is what the operator hears, in the form its type is known for.
    Nothing is sent where it could only do harm or be lost: no terminal, a terminal of a kind that has no OSC
    strings, or GNU screen, which takes them for itself.

    >>> choose_notification("osc9", {"TERM": "xterm-256color"}, is_terminal=True).style
    'osc9'
    >>> choose_notification("osc9", {"TERM": "linux"}, is_terminal=True).reason
    'no notifications: a terminal of type linux shows none'
    >>> choose_notification("auto", {"TERM": "xterm-kitty"}, is_terminal=True).reason
    'terminal notifications by OSC 99 while the bell is what is heard'
    """
    term = environment.get("TERM", "")
    in_tmux = bool(environment.get("TMUX"))
    if style == "off":
        return _none("not asked for")
    if not is_terminal:
        return _none("there is no terminal")
    if term in ("", "dumb", "linux", "vt52", "cons25"):
        return _none(f"a terminal of type {term or 'unknown'} shows none")
    if environment.get("STY") and not in_tmux:
        return _none("screen, which this runs in, does not pass them on")
    where = ", through tmux (which needs: set -g allow-passthrough on)" if in_tmux else ""
    with_bell = style == "auto"
    form: NotifyStyle = _form_of(term) if style == "auto" else style
    when = " while the bell is what is heard" if with_bell else ""
    reason = f"terminal notifications by OSC {form.removeprefix('osc')}{when}{where}"
    return NotifyChoice(style=form, in_tmux=in_tmux, reason=reason, with_bell=with_bell)


def _form_of(term: str) -> NotifyStyle:
    return next((form for name, form in _BY_TERM if term.startswith(name)), "osc9")


def notification(
    style: NotifyStyle, title: str, body: str, in_tmux: bool, *, urgent: bool = False, identity: str = "stopkeeper"
) -> str:
    r"""The characters that make a terminal show a notification; empty for ``off``, or when there is nothing to show.

    Text is cleaned first: one line, no control or formatting characters, bounded length. OSC 99 knows urgency and an
    ``identity``: a newer one of the same identity takes the older one's place. Inside tmux the whole is wrapped in
    its pass-through string, with every ESC doubled; it goes out only where tmux has ``allow-passthrough on``.

    >>> notification("osc9", "stopkeeper", "feed lost", in_tmux=False)
    '\x1b]9;stopkeeper: feed lost\x1b\\'
    >>> notification("osc777", "stopkeeper", "feed lost", in_tmux=True)
    '\x1bPtmux;\x1b\x1b]777;notify;stopkeeper;feed lost\x1b\x1b\\\x1b\\'
    """
    title, body = clean(title, LONGEST_TITLE), clean(body, LONGEST_BODY)
    if style == "off" or not (title or body):
        return ""
    match style:
        case "osc9":
            # A text that begins with a number and a semicolon means something else to some terminals, such as a
            # progress bar; clean() leaves no semicolon.
            text = f"{_OSC}9;{': '.join(part for part in (title, body) if part)}{_ST}"
        case "osc777":
            text = f"{_OSC}777;notify;{title};{body}{_ST}"
        case "osc99":
            text = _osc99(title, body, urgent, identity)
    return passed_through_tmux(text) if in_tmux else text


def passed_through_tmux(text: str) -> str:
    """An escape sequence for the terminal outside, wrapped so that tmux hands it on."""
    return f"{_ESC}Ptmux;{text.replace(_ESC, _ESC + _ESC)}{_ST}"


def clean(text: str, longest: int) -> str:
    """One line without anything that a terminal would obey or that would end or split the sequence.

    >>> clean("highlights; 2.3 %\\x1b]0;owned\\x07\\n at 12:00", 80)
    'highlights, 2.3 % ]0,owned at 12:00'
    """
    # isprintable leaves out C0, DEL, C1 (U+009C would end the string), line separators and directional overrides.
    kept = "".join(char if char.isprintable() else " " for char in text.replace(";", ","))
    kept = " ".join(kept.split())
    return kept if len(kept) <= longest else kept[: longest - 1].rstrip() + "…"


def _osc99(title: str, body: str, urgent: bool, identity: str) -> str:
    kept = "".join(char for char in identity if char.isascii() and (char.isalnum() or char in "-_+."))[:40]
    name = kept or "stopkeeper"
    urgency = ":u=2" if urgent else ""
    if not (title and body):
        return f"{_OSC}99;i={name}{urgency};{title or body}{_ST}"
    return f"{_OSC}99;i={name}:d=0{urgency};{title}{_ST}{_OSC}99;i={name}:p=body;{body}{_ST}"


def _none(why: str) -> NotifyChoice:
    return NotifyChoice(style="off", in_tmux=False, reason=f"no notifications: {why}")
