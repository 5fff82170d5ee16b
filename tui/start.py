"""Opening the screen on a watch: the only door the command line needs."""

from __future__ import annotations

import os
import sys

from analysis.model.errors import StopkeeperError
from tui.bridge import WatchLike
from tui.look import Look, resolve


def run_screen(watch: WatchLike, look: Look) -> int:
    """Draw the watch until the operator leaves; returns an exit code. The caller closes the watch.

    Raises UsageError before anything is drawn where the terminal cannot show a screen.
    The screen is drawn on standard error, keys are read from standard input.
    """
    screen = sys.__stderr__
    on_terminal = screen is not None and screen.isatty() and sys.__stdin__ is not None and sys.__stdin__.isatty()
    decided = resolve(look, os.environ, getattr(screen, "encoding", None), on_terminal)
    from tui.app import StopkeeperApp  # imported late: other commands start without the terminal library

    app = StopkeeperApp(watch, decided)
    app.run(mouse=decided.mouse)
    if app.return_code:
        raise StopkeeperError("it stopped on an unexpected fault", "screen", "the watch itself was not affected")
    return 0
