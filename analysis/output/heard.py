"""Everything an operator hears, opened together: sound or bell, and words where they are wanted and can be spoken."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from typing import Literal, NamedTuple

from analysis.engine.listeners import OutletLike, Recorder
from analysis.output.bell import BellWriter
from analysis.output.choice import choose
from analysis.output.outlet import open_outlet
from analysis.output.speech import ENGINE, Speech
from analysis.output.spoken import SpokenOutlet

SpeechWish = Literal["auto", "off", "asked", "alarms"]
Spoken = Literal["off", "asked", "alarms"]


class Heard(NamedTuple):
    """Where announcements go, and what must be told of changes so that words are never spoken of what is over."""

    outlet: OutletLike
    recorders: tuple[Recorder, ...] = ()


def spoken(wish: SpeechWish, mode: str, environment: Mapping[str, str]) -> Spoken:
    """What is spoken, of what was wished.

    Speech comes out of this machine's speakers. ``auto`` therefore speaks alarms where their sound is to come out
    there too and the engine is installed, and nothing over SSH, where nobody may be there to hear it. ``UsageError``
    for a sound mode that does not exist.

    >>> spoken("auto", "auto", {"SSH_TTY": "/dev/pts/0", "PATH": "/usr/bin"}), spoken("alarms", "bell", {})
    ('off', 'alarms')
    """
    if wish != "auto":
        return wish
    here = choose(mode, environment).outlet == "speakers"
    return "alarms" if here and shutil.which(ENGINE, path=environment.get("PATH", "")) else "off"


def open_heard(
    mode: str,
    environment: Mapping[str, str],
    *,
    speech: SpeechWish = "auto",
    complain: Callable[[str], None] | None = None,
    device: str | None = None,
    bell_writer: BellWriter | None = None,
    speech_environment: Mapping[str, str] | None = None,
) -> Heard:
    """The outlet for a watch with a screen or without, and the recorders that belong to it.

    ``mode`` is as in :func:`analysis.output.outlet.open_outlet`. ``complain`` is told once why nothing is spoken that
    should be; the outlet's status says so as well. ``speech_environment`` is what the engine gets to see, by default
    all of ``environment``. ``UsageError`` for a mode that does not exist.
    """
    wanted = spoken(speech, mode, environment)
    outlet = open_outlet(mode, environment, device=device, bell_writer=bell_writer)
    if wanted == "off":
        return Heard(outlet)
    voice = Speech(complain or _status_tells, speech_environment if speech_environment is not None else environment)
    return Heard(SpokenOutlet(outlet, voice, alarms=wanted == "alarms", follows=speech == "auto"), (voice,))


def _status_tells(_: str) -> None:
    """Where there is a screen, the outlet's status says it."""
