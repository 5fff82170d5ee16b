"""What waits to be written keeps its order, its number and its honesty, whatever fails when."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.journal.backlog import BATCH, MOST_SECONDS, Backlog
from analysis.journal.entry import EntryRow, Gap, ReadingRow, read_back
from tests.journal.story import at

MOVES = st.lists(st.sampled_from(["add", "add", "add", "take", "done", "failed"]), max_size=80)


def entry(number: int) -> EntryRow:
    return EntryRow(0.0, float(number), "note", "", f'{{"words":"{number}"}}')


def second(number: int) -> ReadingRow:
    return ReadingRow(number, "good", *[None] * 8)


@settings(max_examples=400, deadline=None)
@given(moves=MOVES, most=st.integers(1, 12))
def test_in_any_order_of_events_nothing_is_doubled_and_what_is_lost_is_counted(moves: list[str], most: int) -> None:
    backlog, written, flying, number = Backlog(most), [], None, 0
    for move in [*moves, "failed", "take", "done"]:
        if move == "add":
            number += 1
            backlog.add(entry(number))
        elif move == "take" and flying is None:
            flying = backlog.take(at(number))
        elif move == "done" and flying is not None:
            written += flying.all_entries
            backlog.done(flying)
            flying = None
        elif move == "failed" and flying is not None:
            backlog.failed(flying, "no space", at(number))
            flying = None
        assert backlog.waiting <= most
        assert backlog.taken == number == backlog.written + backlog.lost + backlog.waiting
    told = [row.monotonic for row in written if row.kind == "note"]
    assert told == sorted(set(told)), "in order, none twice"
    assert backlog.written == len(told) and backlog.empty and backlog.fault is None
    gaps = [read_back(1, 1, row).what for row in written if row.kind == "gap"]
    assert all(isinstance(gap, Gap) for gap in gaps)


def test_a_gap_tells_what_waited_and_what_was_lost_since_it_began() -> None:
    backlog = Backlog(3)
    for number in range(1, 6):
        backlog.add(entry(number))
    assert backlog.lost == 2, "lost before the gap began: not its doing"
    backlog.failed(backlog.take(at(5.0)), "no space", at(5.0))
    assert backlog.fault == "no space"
    for number in range(6, 8):
        backlog.add(entry(number))
    batch = backlog.take(at(9.0))
    assert batch.gap is not None
    gap = read_back(1, 1, batch.gap).what
    assert gap == Gap(began=at(5.0), ended=at(9.0), why="no space", kept=3, lost=2, lost_readings=0)
    assert [row.monotonic for row in batch.entries] == [5.0, 6.0, 7.0]
    backlog.done(batch)
    assert backlog.fault is None and backlog.take(at(10.0)).gap is None


def test_seconds_are_bounded_too_and_what_is_too_much_for_one_batch_waits() -> None:
    backlog = Backlog()
    for number in range(MOST_SECONDS + 5):
        backlog.add_second(second(number))
    for number in range(BATCH + 7):
        backlog.add(entry(number))
    batch = backlog.take(at(0.0))
    assert (len(batch.rows), batch.rows[0].second, backlog.lost_rows) == (MOST_SECONDS, 5, 5)
    assert len(batch.entries) == BATCH
    assert not backlog.empty
    backlog.done(batch)
    assert backlog.waiting == 7
    backlog.done(backlog.take(at(1.0)))
    assert backlog.empty


def test_more_of_a_second_replaces_what_is_known_of_it_and_counts_once() -> None:
    backlog = Backlog()
    backlog.add_second(second(1))
    backlog.add_second(second(2)._replace(high=50.0))
    batch = backlog.take(at(0.0))
    backlog.add_second(second(2)._replace(high=60.0))
    backlog.failed(batch, "no space", at(1.0))
    backlog.add_second(second(2)._replace(high=70.0))
    backlog.add_second(second(3))
    again = backlog.take(at(2.0))
    assert [(row.second, row.high) for row in again.rows] == [(1, None), (2, 70.0), (3, None)]
    assert backlog.lost_rows == 0
