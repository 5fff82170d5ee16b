"""Printing for a person or a program that may stop reading at any time."""

from __future__ import annotations

import contextlib
import os

import click

from analysis.model.errors import OutputError


def say(line: str | bytes) -> None:
    """Print one line. When the reader of our output has gone the command ends quietly: that is how pipes end.

    OutputError where the line cannot be written, on a full disk for one.
    """
    try:
        click.echo(line)
    except BrokenPipeError:
        silence()
        raise click.exceptions.Exit(0) from None
    except OSError as error:
        raise unwritten(error) from None


def unwritten(error: OSError) -> OutputError:
    """What to raise for output that could not be written; nothing more is tried."""
    silence()
    return OutputError(error.strerror or "cannot be written", "standard output", "make room, or send it elsewhere")


def fill_standard() -> None:
    """Open what was handed over closed of standard input, output and error, on nothing.

    Else the next file opened, the journal for one, would get such a number, and lines meant for the reader go into it.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            with contextlib.suppress(OSError):
                os.open(os.devnull, os.O_RDWR)


def silence() -> None:
    """Send standard output nowhere, so that the flush at exit cannot fail again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
