"""The desks of a watch, with what is kept for them in files: controls, camera, policies, holds."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from analysis.settings.schema import Settings

if TYPE_CHECKING:
    from analysis.journal.archive import FileArchive
    from analysis.watch import Desks


class OpenedDesks(NamedTuple):
    """The desks, where their files are kept, and what is worth a word about what was taken up."""

    desks: Desks
    archive: FileArchive
    note: str | None


def open_desks(settings: Settings, feed: str, controls: Path | None, chosen: str | None = None) -> OpenedDesks:
    """Read what a watch of this feed begins with; ``chosen`` is the hold to match from the start.

    Raises StopkeeperError in one line for what the operator named and cannot be used. What was kept by
    itself and cannot be is a note.
    """
    from analysis.engine.aiming import AimDesk
    from analysis.engine.matching import MatchDesk
    from analysis.engine.planning import PlanDesk
    from analysis.feed.address import parse_address
    from analysis.journal.archive import FileArchive
    from analysis.settings.hold_files import hold_folder, load_holds, load_named
    from analysis.settings.kept_controls import take_controls
    from analysis.watch import Desks

    taken = take_controls(parse_address(feed).masked, controls, settings.meter.camera, os.environ)
    found = load_holds(hold_folder())
    archive = FileArchive(hold_folder(), taken.kept)
    holds = MatchDesk(found.holds, utc_offset=float(time.localtime().tm_gmtoff))
    if chosen is not None:
        holds.choose(load_named(chosen).name)  # whoever names one that is not there is told the nearest
    desks = Desks(
        aims=AimDesk(settings.aims),
        plans=PlanDesk(taken.file, policies=taken.policies, camera=taken.camera),
        holds=holds,
        archive=archive,
    )
    return OpenedDesks(desks, archive, "; ".join(filter(None, (taken.note, *found.troubles))) or None)


def controls_named(asked: Path | None, settings: Settings) -> Path | None:
    """The controls file that was asked for, else the one of the settings."""
    kept = settings.plan.controls
    return asked if asked is not None or kept is None else Path(kept).expanduser()
