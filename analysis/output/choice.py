"""Where alarms should come out, from what was asked and where the operator sits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

import msgspec

from analysis.model.errors import UsageError
from analysis.model.snapshot import Outlet as OutletName

SoundMode = Literal["auto", "speakers", "bell", "off"]


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """The outlet to use as long as it works, why that one, and what was asked for."""

    outlet: OutletName
    reason: str
    mode: SoundMode = "auto"


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
        return Choice(outlet="off", reason="sound is turned off", mode="off")
    if mode == "bell":
        return Choice(outlet="bell", reason="terminal bell, as asked", mode="bell")
    if mode == "speakers":
        where = ", though over SSH" if _over_ssh(environment) else ""
        return Choice(outlet="speakers", reason=f"speakers of this machine, as asked{where}", mode="speakers")
    if _over_ssh(environment):
        where = "you are connected over SSH, so you hear the terminal, not this machine"
        return Choice(outlet="bell", reason=f"terminal bell: {where}")
    return Choice(outlet="speakers", reason="speakers of this machine")


def following(mode: SoundMode, environment: Mapping[str, str]) -> SoundMode:
    """The next mode when an operator goes through them one by one; never one that is silent.

    First comes the place that is not chosen by itself, so that the first step from there is always heard elsewhere.

    >>> following("auto", {}), following("bell", {}), following("speakers", {}), following("off", {})
    ('bell', 'speakers', 'auto', 'auto')
    >>> following("auto", {"SSH_TTY": "/dev/pts/0"}), following("speakers", {"SSH_TTY": "/dev/pts/0"})
    ('speakers', 'bell')
    """
    modes: tuple[SoundMode, ...] = (
        ("auto", "speakers", "bell") if _over_ssh(environment) else ("auto", "bell", "speakers")
    )
    return modes[(modes.index(mode) + 1) % len(modes)] if mode in modes else modes[0]


def _over_ssh(environment: Mapping[str, str]) -> bool:
    return bool(environment.get("SSH_CONNECTION") or environment.get("SSH_TTY"))
