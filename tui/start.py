"""Opening the screen on a watch: the only door the command line needs."""

from __future__ import annotations

import os
import sys

from analysis.model.errors import StopkeeperError
from analysis.output.notify import NotifyWish, choose_notification
from analysis.signal.tables import LookUpTable
from tui.bridge import WatchLike
from tui.journal_pages import JournalPages
from tui.look import Look, resolve
from tui.notifier import Notifier


def run_screen(
    watch: WatchLike,
    look: Look,
    note: str | None = None,
    table: LookUpTable | None = None,
    pages: JournalPages | None = None,
    notify: NotifyWish = "auto",
) -> None:
    """Draw the watch until the operator leaves. The caller closes the watch.

    ``note`` is a sentence about the choice of the feed, shown for the first seconds; ``table`` the operator's own
    viewing transform, in place of the one of the feed's curve; ``pages`` those of the journal, None where there is
    none; ``notify`` the form of terminal notifications. The screen is drawn on standard error, keys are read from
    standard input. Raises UsageError before anything is drawn where the terminal cannot show a screen, and
    StopkeeperError when the screen itself broke.
    """
    screen = sys.__stderr__
    on_terminal = screen is not None and screen.isatty() and sys.__stdin__ is not None and sys.__stdin__.isatty()
    decided = resolve(look, os.environ, getattr(screen, "encoding", None), on_terminal)
    from tui.app import StopkeeperApp  # imported late: other commands start without the terminal library

    notifier = Notifier(choose_notification(notify, os.environ, is_terminal=on_terminal))
    app = StopkeeperApp(watch, decided, note, table=table, pages=pages, notifier=notifier)
    app.run(mouse=decided.mouse)
    if app.fault is not None:
        raise StopkeeperError(f"stopped on an unexpected fault ({app.fault})", "screen", "start again, or use --plain")
