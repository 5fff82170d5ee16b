"""The guard's log lines: never waited for, counted when lost, clean, and where they go."""

from __future__ import annotations

import os
import time
from pathlib import Path

import msgspec

from analysis.model.alarm import AlarmChange
from analysis.model.feed import FeedEvent
from analysis.model.instant import Instant
from tests.output.test_hook import PATIENT, changed, until
from tui.cli.guard_lines import GuardLines, LineWriter


class Pipe:
    def __init__(self) -> None:
        self.reading, self.writing = os.pipe()

    def close(self) -> None:
        for end in (self.reading, self.writing):
            os.close(end)


def test_a_reader_that_stands_still_is_not_waited_for() -> None:
    pipe = Pipe()
    writer = LineWriter(pipe.writing, most=10)
    began = time.monotonic()
    for _ in range(500):
        writer.put(b"x" * 1023 + b"\n")
    writer.close(0.1)
    # 500 kB into a pipe of 64 kB: whoever waited for the reader would wait for ever.
    assert time.monotonic() - began < 10.0
    assert writer.lost >= 400 - 64
    os.read(pipe.reading, 1 << 20)
    pipe.close()


def test_lines_come_whole_and_in_order() -> None:
    pipe = Pipe()
    writer = LineWriter(pipe.writing)
    os.set_blocking(pipe.writing, False)
    lines = [f"{number} ".encode() + b"y" * 3000 + b"\n" for number in range(100)]
    for line in lines:
        writer.put(line)
    got = b""
    while got.count(b"\n") < 100:
        got += os.read(pipe.reading, 65_536)
    writer.close()
    pipe.close()
    assert got == b"".join(lines) and writer.lost == 0


def test_a_reader_that_is_gone_is_noticed() -> None:
    pipe = Pipe()
    writer = LineWriter(pipe.writing)
    os.close(pipe.reading)
    writer.put(b"a\n")
    assert writer.gone.wait(PATIENT)
    until(lambda: writer.lost == 1, "the count")
    writer.close()
    os.close(pipe.writing)


class Sheet:
    """Lines into two files."""

    def __init__(self, folder: Path, **how: bool) -> None:
        self.files = [(folder / name).open("w+b", buffering=0) for name in ("out", "err")]
        self.writers = [LineWriter(file.fileno()) for file in self.files]
        self.lines = GuardLines(*self.writers, lambda: "NOW", **how)

    def read(self) -> tuple[str, str]:
        for writer in self.writers:
            writer.close(PATIENT)
        told = []
        for file in self.files:
            file.seek(0)
            told.append(file.read().decode())
            file.close()
        return told[0], told[1]


def shelved() -> AlarmChange:
    return msgspec.structs.replace(changed(after="normal"), quiet=("shelved",))


EVENT = FeedEvent(before="live", after="lost", evidence="pulled\nout \x1b[2J", generation=1, at=Instant(0.0, 0.0))


def test_where_each_kind_of_line_goes(tmp_path: Path) -> None:
    for how, expected in (
        ({}, (["ALARM", "FEED", "note"], ["failure"])),
        ({"quiet": True}, (["ALARM"], ["failure"])),
        ({"as_json": True}, (['{"alarm"'], ["FEED", "note", "failure"])),
        ({"as_json": True, "quiet": True}, (['{"alarm"'], ["failure"])),
    ):
        sheet = Sheet(tmp_path, **how)
        sheet.lines.alarm_changed(changed())
        sheet.lines.feed_changed(EVENT)
        sheet.lines.note("note")
        sheet.lines.complain("failure")
        for text, words in zip(sheet.read(), expected, strict=True):
            lines = text.splitlines()
            assert len(lines) == len(words), (how, text)
            assert all(word in line for word, line in zip(words, lines, strict=True)), (how, text)


def test_nothing_a_terminal_would_obey_and_one_line_each(tmp_path: Path) -> None:
    sheet = Sheet(tmp_path)
    sheet.lines.feed_changed(EVENT)
    sheet.lines.alarm_changed(shelved())
    sheet.lines.ring()
    out, err = sheet.read()
    assert out.splitlines() == [
        "1970-01-01T00:00:00.000Z  FEED lost: pulled out ?[2J",
        "2020-09-13T12:26:40.250Z  ALARM highlights 1: normal to shelved, priority 2; over",
    ]
    assert err == "\a"


def test_the_journal_gets_weights_but_never_inside_json(tmp_path: Path) -> None:
    sheet = Sheet(tmp_path, out_journal=True, errors_journal=True)
    grave = msgspec.structs.replace(changed(), priority=1)
    for change in (grave, changed(), changed(after="active-acknowledged"), shelved()):
        sheet.lines.alarm_changed(change)
    sheet.lines.note("x")
    sheet.lines.complain("y")
    out, err = sheet.read()
    assert [line[:3] for line in out.splitlines()] == ["<3>", "<4>", "<5>", "<5>", "<6>"]
    assert err == "<4>NOW  y\n"
    sheet = Sheet(tmp_path, as_json=True, out_journal=True, errors_journal=True)
    sheet.lines.alarm_changed(changed())
    assert sheet.read()[0].startswith('{"alarm"')


def test_what_happens_beneath_a_shelf_is_no_line_until_it_shows() -> None:
    """Suppressed is not annunciated (IEC 62682 and ISA-18.2, state H); leaving it with the alarm active is."""
    pipe = Pipe()
    writer = LineWriter(pipe.writing)
    lines = GuardLines(writer, writer, lambda: "now")
    hidden = msgspec.structs.replace(changed(), quiet_before=("suppressed",), quiet=("suppressed",))
    lines.alarm_changed(hidden)
    lines.alarm_changed(msgspec.structs.replace(hidden, before="active-unacknowledged", quiet=()))
    writer.close()
    told = os.read(pipe.reading, 65_536).decode()
    pipe.close()
    assert told.count("ALARM") == 1 and "suppressed to active-unacknowledged" in told
