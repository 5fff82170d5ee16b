"""The journal of a watch, opened where it may be; a watch without one goes on and says why."""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.model.errors import JournalError, StopkeeperError
from analysis.settings.schema import Settings

if TYPE_CHECKING:
    from analysis.feed.clock import Clock
    from analysis.journal.journal import Journal
    from analysis.model.alarm import SavedAlarms
    from analysis.watch import RoomLeft


@dataclass(frozen=True)
class Recording:
    """What a watch needs of its journal: the journal, how the alarms stood before, and why there is none."""

    journal: Journal | None = None
    saved: SavedAlarms | None = None
    note: str | None = None

    def room(self) -> RoomLeft | None:
        """What is left on the disk the journal lies on; None where there is none or nobody can say."""
        from analysis.watch import RoomLeft

        # The journal's own thread asks the disk, which may take its time to answer.
        known = self.journal.room() if self.journal is not None else None
        return None if known is None else RoomLeft(known.gibibytes, known.hours)

    def close(self) -> None:
        """Write what is left; waits three seconds at most."""
        if self.journal is not None:
            self.journal.close()


def open_recording(settings: Settings, feed: str, clock: Clock) -> Recording:
    """The journal for a feed address, as the settings have it.

    A journal that cannot be opened (a second watch writes it, a network share, a full or
    read-only disk) is a note, not a failure: the alarms must sound all the same.
    """
    if not settings.journal.keep:
        return Recording()
    from analysis.feed.address import parse_address
    from analysis.journal.journal import Journal
    from analysis.journal.place import default_path
    from analysis.journal.read import last_states

    address = parse_address(feed).masked
    path = Path(settings.journal.path).expanduser() if settings.journal.path else default_path(os.environ)
    saved = None
    # Before the journal is opened: from then on this run counts as the last time somebody watched. What cannot be
    # read is refused with its reason, or set aside, by the opening itself.
    with contextlib.suppress(JournalError):
        saved = last_states(path, address)
    try:
        return Recording(journal=Journal(path, clock, address=address), saved=saved)
    except StopkeeperError as error:
        return Recording(note=f"nothing is kept: {error.line()}")
