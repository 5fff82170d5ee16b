"""Where alarms should come out, from what was asked and where the operator sits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

import msgspec

from analysis.model.errors import UsageError
from analysis.model.snapshot import Outlet as OutletName

SoundMode = Literal["auto", "speakers", "bell", "off"]


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """The outlet to use as long as it works, and why that one."""

    outlet: OutletName
    reason: str


def choose(mode: str, environment: Mapping[str, str]) -> Choice:
    """Choose an outlet: what was asked for, else the bell over SSH, else this machine's speakers.

    ``UsageError`` for a mode that does not exist.

    >>> choose("auto", {"SSH_CONNECTION": "192.0.2.7 50000 192.0.2.1 22"}).reason
    'terminal bell: you are connected over SSH, so you hear the terminal, not this machine'
    >>> choose("auto", {}).outlet
    'speakers'
    """
    if mode not in get_args(SoundMode):
        raise UsageError(f"no sound mode called {mode}", "--sound", f"choose one of {', '.join(get_args(SoundMode))}")
    if mode == "off":
        return Choice(outlet="off", reason="sound is turned off")
    if mode == "bell":
        return Choice(outlet="bell", reason="terminal bell, as asked")
    if mode == "speakers":
        return Choice(outlet="speakers", reason="speakers of this machine, as asked")
    if environment.get("SSH_CONNECTION") or environment.get("SSH_TTY"):
        where = "you are connected over SSH, so you hear the terminal, not this machine"
        return Choice(outlet="bell", reason=f"terminal bell: {where}")
    return Choice(outlet="speakers", reason="speakers of this machine")
