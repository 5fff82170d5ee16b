"""What the watch and its sound process say to each other: one JSON object a line."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from analysis.model.alarm import AlarmKind, Direction

LONGEST_LINE = 4096
"""Bytes; no line of the protocol comes near it, so a longer one is not the protocol."""


class Open(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="open"):
    """Begin with the devices that are there now, and open the one of that name, or the default one.

    The answer is ``Ready`` or ``Failed``; sounds are worked out for ``loudness`` beforehand.
    """

    device: str | None = None
    loudness: float = 1.0


class LetGo(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="let-go"):
    """Let go of the device, whatever state it is in; answered by ``Free`` once it is."""


class Play(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="play"):
    """Sound an alarm; ``ticket`` names this order in every answer to it."""

    ticket: int
    alarm: str
    kind: AlarmKind
    direction: Direction
    priority: int
    loudness: float = 1.0


class Stop(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="stop"):
    """Be silent at once and forget what waits."""


class Quit(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="quit"):
    """End the process."""


class Warm(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="warm"):
    """The process is there and has loaded what it needs; it has touched no device."""


class Free(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="free"):
    """No device is held."""


class Ready(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="ready"):
    """The device is open and takes sound."""

    device: str
    rate: int


class Heartbeat(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="heartbeat"):
    """``calls`` counts how often the device asked for samples; it grows as long as sound flows."""

    calls: int


class Taken(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="taken"):
    """An order was accepted; it starts in ``starts_in`` seconds."""

    ticket: int
    starts_in: float


class Started(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="started"):
    """The device has taken the first samples."""

    ticket: int


class Played(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="played"):
    """The device has taken the last samples."""

    ticket: int


class Stopped(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="stopped"):
    """The order was silenced, or a newer one of the same alarm took its place."""

    ticket: int


class Failed(msgspec.Struct, frozen=True, kw_only=True, tag_field="said", tag="failed"):
    """An order, or without ``ticket`` the device, failed; ``permanent`` means do not try again."""

    reason: str
    ticket: int | None = None
    permanent: bool = False


Command: TypeAlias = Open | LetGo | Play | Stop | Quit
Report: TypeAlias = Warm | Ready | Free | Heartbeat | Taken | Started | Played | Stopped | Failed

_encoder = msgspec.json.Encoder()
_commands: msgspec.json.Decoder[Command] = msgspec.json.Decoder(Command)
_reports: msgspec.json.Decoder[Report] = msgspec.json.Decoder(Report)


def line(message: Command | Report) -> bytes:
    r"""A message as one line.

    >>> line(Heartbeat(calls=3))
    b'{"said":"heartbeat","calls":3}\n'
    """
    return _encoder.encode(message) + b"\n"


def command(text: bytes) -> Command:
    """The command in a line; ``msgspec.MsgspecError`` when it holds none."""
    return _commands.decode(text)


def report(text: bytes) -> Report:
    """The report in a line; ``msgspec.MsgspecError`` when it holds none."""
    return _reports.decode(text)
