"""A watch on a feed address, put together from settings."""

from __future__ import annotations

from collections.abc import Callable

from analysis.engine.listeners import Diary, OutletLike, Recorder
from analysis.feed.address import parse_address
from analysis.feed.clock import Clock
from analysis.feed.factory import kind_of, make_source
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.supervisor import Supervisor
from analysis.lookout.desk import SitterDesk, open_desk
from analysis.measure.examiner import Examiner
from analysis.measure.meter import one_thread
from analysis.model.alarm import SavedAlarms
from analysis.model.errors import SettingsError
from analysis.settings.face_model import face_model
from analysis.settings.measuring import examiner_settings
from analysis.settings.rules import alarm_rules
from analysis.settings.schema import Settings, SitterSettings
from analysis.watch.desks import Desks
from analysis.watch.room import RoomLeft
from analysis.watch.running import Watch


def open_watch(
    address: str,
    options: FeedOptions,
    settings: Settings,
    outlet: OutletLike,
    clock: Clock,
    recorders: tuple[Recorder, ...] = (),
    diary: Diary | None = None,
    saved: SavedAlarms | None = None,
    room: Callable[[], RoomLeft | None] | None = None,
    desks: Desks | None = None,
) -> Watch:
    """A watch on a feed address, wired but not started.

    ``desks`` brings what the caller has read from files (controls, holds); its sitters are opened here.

    Raises UsageError for an address or scene parameter that makes no sense, and SettingsError for limits that
    contradict each other; whatever else is wrong with the feed shows when it runs.
    """
    one_thread()
    parsed = parse_address(address)
    pool = FramePool()
    make_source(parsed, options, pool, clock).close()  # a parameter that makes no sense is told before anything runs
    supervisor = Supervisor(
        lambda: make_source(parsed, options, pool, clock),
        pool,
        clock,
        address=parsed.masked,
        kind=kind_of(parsed),
        options=options,
    )
    desks = desks or Desks()
    meter = Examiner(examiner_settings(settings.meter, known=desks.plans.planning.profile))
    rules = alarm_rules(settings.alarms)
    desks.sitters, note = open_sitters(settings.sitter)
    return Watch(supervisor, meter, rules, outlet, clock, recorders, desks, note, diary, saved, room)


def open_sitters(choices: SitterSettings, patience: float = 0.0) -> tuple[SitterDesk | None, str | None]:
    """A desk that reads sitters, or why there is none: not asked for (None) or in one line."""
    if not choices.find:
        return None, None
    try:
        return open_desk(face_model(choices.model), patience), None
    except SettingsError as error:
        if choices.model is not None:
            raise
        return None, error.line()
