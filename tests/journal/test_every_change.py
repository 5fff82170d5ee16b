"""Every change the engine tells is in the journal, in order, and a restart goes on from there."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.alarm.defaults import FEED
from analysis.alarm.restore import STALE_SECONDS
from analysis.engine.step import (
    Acknowledge,
    Input,
    Outcome,
    Reset,
    Retire,
    ReturnToService,
    Shelve,
    Tick,
    Unshelve,
    begin,
    step,
)
from analysis.journal.journal import Journal
from analysis.journal.read import history, last_states
from analysis.model.alarm import AlarmChange
from analysis.model.feed import FeedStatus
from tests.alarm.timeline import level_rule
from tests.journal.story import at
from tests.support.fake_clock import FakeClock

RULES = (
    FEED,
    level_rule("level", of_picture=False),
    level_rule("latch", of_picture=False, latching=True),
    level_rule("short", of_picture=False, self_clearing=True),
)
ALARMS = [rule.name for rule in RULES]
ADDRESS = "cam"
MEMORY = Path("/dev/shm")
VALUES = st.fixed_dictionaries({name: st.sampled_from([0.0, 9.0, 20.0]) for name in ALARMS[1:]})
NAMED = st.sampled_from(ALARMS)
MOVES = st.lists(
    st.one_of(
        st.tuples(st.just("show"), VALUES, st.booleans(), st.sampled_from([1, 30, 90])),
        st.tuples(st.just("show"), VALUES, st.just(False), st.just(60)),
        st.builds(lambda alarm: ("obey", Acknowledge(alarm=alarm)), NAMED),
        st.builds(lambda alarm, seconds: ("obey", Shelve(alarm=alarm, seconds=seconds)), NAMED, st.integers(1, 300)),
        st.builds(lambda alarm: ("obey", Unshelve(alarm=alarm)), NAMED),
        st.builds(lambda alarm: ("obey", Retire(alarm=alarm, why="lamp taken down")), NAMED),
        st.builds(lambda alarm: ("obey", ReturnToService(alarm=alarm)), NAMED),
        st.builds(lambda alarm: ("obey", Reset(alarm=alarm)), NAMED),
        st.tuples(st.just("restart"), st.sampled_from([1.0, 50.0, 70.0, 4000.0]), st.booleans()),
    ),
    min_size=4,
    max_size=24,
)


class Run:
    """A watch without a camera: the engine, a journal that is told what the engine tells, and restarts of both."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.clock, self.starts = folder, FakeClock(), 0
        self.told: list[AlarmChange] = []
        self.path = folder / "0" / "journal.db"
        self.journal = Journal(self.path, self.clock, address=ADDRESS)
        self.state, outcome = begin(RULES, self.clock.now())
        self.keep(outcome)

    def keep(self, outcome: Outcome) -> None:
        for change in outcome.changes:
            self.told.append(change)
            self.journal.alarm_changed(change)

    def give(self, item: Input) -> None:
        self.state, outcome = step(self.state, item, self.clock.now())
        self.keep(outcome)

    def show(self, values: dict[str, float], lost: bool, ticks: int) -> None:
        status = FeedStatus(
            address=ADDRESS, kind="camera", state="lost" if lost else "live", evidence="unplugged" if lost else "",
            since=at(0.0), generation=1, trouble="unplugged" if lost else None,
        )  # fmt: skip
        for _ in range(ticks):
            self.clock.advance(0.1)
            self.give(Tick(feed=status, more=values))

    def restart(self, away: float, crash: bool) -> None:
        """End, well or in the middle of it, and go on in a new process with what the file says."""
        assert self.journal.settled(30.0)
        self.starts += 1
        if crash:
            # The files as they lie there while the first still writes: its end is not in them.
            there = self.folder / str(self.starts)
            there.mkdir()
            for ending in ("", "-wal"):
                shutil.copy(f"{self.path}{ending}", there / f"journal.db{ending}")
            assert self.journal.close()
            self.path = there / "journal.db"
        else:
            assert self.journal.close()
        before, alive = self.state, self.clock.now()
        self.clock.advance(away)
        saved = last_states(self.path, ADDRESS)
        assert saved is not None
        self.journal = Journal(self.path, self.clock, address=ADDRESS)
        self.state, outcome = begin(RULES, self.clock.now(), saved)
        self.keep(outcome)
        # A crash forgets since when nobody watched by as much as the last sign of life is old.
        unheard = alive.utc - saved.alive.utc
        assert unheard >= 0.0 and (crash or unheard == 0.0)
        for name in ALARMS:
            then, now = before.book.entry(name), self.state.book.entry(name)
            stale = then.state == "active-acknowledged" and away + unheard >= STALE_SECONDS
            assert now.state == ("active-unacknowledged" if stale else then.state)
            assert now.occurrence == then.occurrence + stale
            assert now.quiet.out_of_service == then.quiet.out_of_service
            shelf, kept = then.quiet.shelved_until, now.quiet.shelved_until
            assert (shelf is None) == (kept is None) and (shelf is None or kept is None or shelf.utc == kept.utc)
            assert stale or then.occurrence == 0 or then.state == "normal" or now.reason == then.reason


@settings(max_examples=150, deadline=None)
@given(moves=MOVES)
def test_every_change_is_kept_in_order_and_every_restart_goes_on_from_there(moves: list[tuple]) -> None:
    folder = Path(tempfile.mkdtemp(dir=MEMORY if MEMORY.is_dir() else None))
    try:
        run = Run(folder)
        for kind, *given in moves:
            match kind:
                case "show":
                    run.show(*given)
                case "obey":
                    run.give(given[0])
                case "restart":
                    run.restart(*given)
        assert run.journal.close()
        entries = history(run.path, 100_000)
        assert [entry.what for entry in entries if entry.kind == "alarm"] == run.told
        assert [entry.sequence for entry in entries] == list(range(1, len(entries) + 1))
    finally:
        shutil.rmtree(folder)
