"""The desks of a watch, with what is kept for them in files: controls, camera, policies, holds."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from analysis.model.errors import SettingsError
from analysis.settings.schema import Settings

if TYPE_CHECKING:
    from analysis.journal.archive import FileArchive
    from analysis.model.sitter import Spot
    from analysis.settings.aim_settings import Aims
    from analysis.watch import Desks


class OpenedDesks(NamedTuple):
    """The desks, where their files are kept, and what is worth a word about what was taken up."""

    desks: Desks
    archive: FileArchive
    note: str | None


class GuardedDesks(NamedTuple):
    """The desks of a watch with nobody at it, its spots, and what is worth a word about what was taken up."""

    desks: Desks
    spots: tuple[Spot, ...]
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


def guard_desks(settings: Settings, feed: str, hold: str | None = None, set_up: str | None = None) -> GuardedDesks:
    """What a watch of this feed needs with nobody to plan, to keep holds or to change anything at it.

    That is one hold at most, spots and aims of one set-up, and the camera that the controls name, since clipped is
    counted to its end as on the screen. Nothing is ever written. Raises StopkeeperError in one line for what was
    named and cannot be used.
    """
    from analysis.engine.aiming import AimDesk
    from analysis.engine.matching import MatchDesk
    from analysis.engine.planning import PlanDesk
    from analysis.feed.address import parse_address
    from analysis.settings.hold_files import load_named
    from analysis.settings.kept_controls import take_controls
    from analysis.watch import Desks

    spots, aims = _set_up(set_up)
    taken = take_controls(parse_address(feed).masked, controls_named(None, settings), settings.meter.camera, os.environ)
    holds = MatchDesk(() if hold is None else (load_named(hold),))
    if hold is not None:
        holds.choose(holds.holds[0].name)
    desks = Desks(
        aims=AimDesk({**settings.aims, **aims}), plans=PlanDesk(policies={}, camera=taken.camera), holds=holds
    )
    return GuardedDesks(desks, spots, taken.note)


def _set_up(name: str | None) -> tuple[tuple[Spot, ...], Aims]:
    """Spots and aims of the set-up of that name, none without one; raises SettingsError where there is none."""
    from analysis.settings.nearest import nearest
    from analysis.settings.setup_files import load_set_up, set_up_path, set_ups

    if name is None:
        return (), {}
    path = set_up_path(name)
    if not path.is_file():
        known = set_ups()
        todo = nearest(path.stem, known) if known else "there are none yet: the watch keeps one with --set-up"
        raise SettingsError(f"no set-up {name}", "--set-up", todo)
    found = load_set_up(path)
    return found.spots, found.aims


def controls_named(asked: Path | None, settings: Settings) -> Path | None:
    """The controls file that was asked for, else the one of the settings."""
    kept = settings.plan.controls
    return asked if asked is not None or kept is None else Path(kept).expanduser()
