"""Holds and controls of a watch, kept as files beyond the session, off the watch's thread."""

from __future__ import annotations

from pathlib import Path

from analysis.journal.keeper import Keeper
from analysis.model.hold import Hold
from analysis.settings.control_files import ControlFile
from analysis.settings.hold_files import to_json
from analysis.settings.kept_controls import to_toml


class FileArchive:
    """Keeps each hold as a file of its own in ``holds``, and the controls in the one file ``controls``."""

    def __init__(self, holds: Path, controls: Path, keeper: Keeper | None = None) -> None:
        self._holds, self._controls = holds, controls
        self._keeper = keeper or Keeper()

    def hold_kept(self, hold: Hold) -> None:
        """Write the hold's file."""
        self._keeper.keep(self._file(hold), to_json(hold))

    def hold_dropped(self, hold: Hold) -> None:
        """Delete the hold's file."""
        self._keeper.keep(self._file(hold), None)

    def controls_changed(self, file: ControlFile) -> None:
        """Write what is set now."""
        self._keeper.keep(self._controls, to_toml(file))

    def trouble(self) -> str | None:
        """What is not on the disk that should be, in one line."""
        return self._keeper.trouble

    def close(self, seconds: float) -> bool:
        """Write what is left, within a time; whether all of it was."""
        return self._keeper.close(seconds)

    def _file(self, hold: Hold) -> Path:
        # The name was checked when the hold was made: it is one a file can have.
        return self._holds / f"{hold.name}.json"
