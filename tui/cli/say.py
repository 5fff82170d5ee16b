"""Printing for a person or a program that may stop reading at any time."""

from __future__ import annotations

import os

import click


def say(line: str | bytes) -> None:
    """Print one line. When the reader of our output has gone the command ends quietly: that is how pipes end."""
    try:
        click.echo(line)
    except BrokenPipeError:
        silence()
        raise click.exceptions.Exit(0) from None


def silence() -> None:
    """Send standard output nowhere, so that the flush at exit cannot fail again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
