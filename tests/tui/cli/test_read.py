"""``stopkeeper read`` from outside: the documented line, and options that count as they say."""

from __future__ import annotations

import itertools
import json
import re
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest

from analysis.signal.levels import percent
from tests.tui.cli.program import PROGRAM, ROOT, environment, stopkeeper

EIGHT_BIT = ROOT / "recordings" / "boathouse-709-8bit.mp4"


def lines(*arguments: str, home: Path, stdin: bytes = b"") -> list[dict[str, Any]]:
    said = stopkeeper("read", *arguments, "--json", home=home, stdin=stdin)
    assert said.code == 0, said
    return [json.loads(line) for line in said.out.splitlines()]


def test_the_documented_line(tmp_path: Path) -> None:
    """Every key that the README documents is there; what is not measured is null, never zero."""
    (line,) = lines("scene:boathouse", "--frames", "1", home=tmp_path)
    assert list(line) == [
        "sequence", "seconds", "validity", "encoding", "picture", "luma", "clipped", "crushed", "ceiling", "floor",
        "headroom_stops", "footroom_stops", "spread", "sitters", "spots", "noise", "flicker", "tolerance", "feed",
    ]  # fmt: skip
    assert set(line["luma"]) == {"mean", "min", "p1", "p5", "p50", "p95", "p99", "max"}
    assert {"any", "luma", "r", "g", "b", "level", "by"} == set(line["clipped"]) == set(line["crushed"])
    assert {"bits", "range", "matrix", "curve"} <= set(line["encoding"])
    assert set(line["picture"]) == {"width", "height", "active"}
    assert set(line["feed"]) == {"fps", "age_ms", "skipped", "generation"}
    assert line["spots"] is None, "no spot was placed"
    assert [sitter["name"] for sitter in line["sitters"]] == ["sitter 1"]
    assert line["validity"] == "good" and line["sequence"] == 0 and line["seconds"] == 0


def test_levels_are_those_of_the_codes(tmp_path: Path) -> None:
    """Design levels: narrow 8 bit 100*(code-16)/219, full 100*code/255 (BT.709-6 item 3.4; CALC)."""
    frame = bytes([16, 126, 180, 235] * 4)
    (narrow,) = lines("raw:4x4@25/gray?range=narrow", home=tmp_path, stdin=frame)
    (full,) = lines("raw:4x4@25/gray?range=full", home=tmp_path, stdin=frame)
    assert narrow["luma"]["max"] == pytest.approx(100.0) and narrow["luma"]["min"] == pytest.approx(0.0)
    assert full["luma"]["max"] == pytest.approx(100 * 235 / 255)
    assert narrow["clipped"]["luma"] == 25.0 and narrow["clipped"]["level"] == 100.0
    assert full["clipped"]["luma"] == 0.0
    assert narrow["luma"]["mean"] == pytest.approx(sum(percent(c, 8, "narrow") for c in (16, 126, 180, 235)) / 4)
    assert narrow["clipped"]["r"] is None, "a grey feed has no channels"


def test_every_frame_of_a_file_comes_once(tmp_path: Path) -> None:
    got = lines(str(EIGHT_BIT), home=tmp_path)
    assert [line["sequence"] for line in got] == list(range(len(got))) and len(got) > 50
    assert all(b["seconds"] > a["seconds"] for a, b in itertools.pairwise(got))
    rate = (len(got) - 1) / (got[-1]["seconds"] - got[0]["seconds"])
    assert rate == pytest.approx(25.0, rel=0.02), "seconds are the feed's own, however fast it is read"


def test_every_and_frames_and_seconds(tmp_path: Path) -> None:
    got = lines(str(EIGHT_BIT), "--every", "10", "--frames", "3", home=tmp_path)
    assert [line["sequence"] for line in got] == [0, 10, 20]
    got = lines(str(EIGHT_BIT), "--seconds", "1", home=tmp_path)
    assert len(got) == 25


def test_words_for_a_person(tmp_path: Path) -> None:
    said = stopkeeper("read", "scene:boathouse", "--frames", "2", home=tmp_path)
    first, second = said.out.splitlines()
    assert first.startswith("#0  0.00 s  middle ") and second.startswith("#1  0.04 s")
    assert "clipped" in first and "IRE" in first


def test_what_the_operator_says_outranks_the_tags(tmp_path: Path) -> None:
    (line,) = lines(str(EIGHT_BIT), "--frames", "1", "--range", "full", "--matrix", "bt601", home=tmp_path)
    assert line["encoding"]["range"] == "full" and line["encoding"]["range_from"] == "asked"
    assert line["encoding"]["matrix"] == "bt601" and line["encoding"]["matrix_from"] == "asked"


def test_settings_reach_the_meter(tmp_path: Path) -> None:
    config = tmp_path / "my.toml"
    config.write_text("[meter]\nclip_percent = 40\n")
    (line,) = lines("raw:4x4@25/gray?range=narrow", "--config", str(config), home=tmp_path, stdin=bytes([126] * 16))
    assert line["clipped"]["luma"] == 100.0 and line["clipped"]["by"] == "asked"


@pytest.mark.parametrize("number,code", [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_signals_end_it_at_once(number: signal.Signals, code: int, tmp_path: Path) -> None:
    reader = subprocess.Popen(
        [*PROGRAM, "read", "scene:boathouse", "--realtime"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, env=environment(tmp_path),
    )  # fmt: skip
    assert reader.stdout is not None and reader.stderr is not None
    reader.stdout.readline()
    began = time.monotonic()
    reader.send_signal(number)
    assert reader.wait(10) == code
    assert time.monotonic() - began < 6, "three seconds are promised; a busy machine gets twice that"
    assert reader.stderr.read().strip() == b"", "a line feed after ^C is all there may be"
    reader.stdout.close()
    reader.stderr.close()


def test_help_answers_without_the_heavy_parts(tmp_path: Path) -> None:
    said = stopkeeper("--help", home=tmp_path, PYTHONPROFILEIMPORTTIME="1")
    assert said.code == 0
    for heavy in ("textual", "cv2", "av", "numpy"):
        assert not re.search(rf"\|\s+{heavy}$", said.err, re.MULTILINE), f"help imports {heavy}"
    for command in ("watch", "read", "feeds"):
        told = stopkeeper(command, "--help", home=tmp_path)
        assert told.code == 0 and "Example: stopkeeper" in told.out
