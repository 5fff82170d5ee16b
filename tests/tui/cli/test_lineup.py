"""``stopkeeper lineup`` as a user calls it: verdict in words and in JSON, exit codes, averaging."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.measure.lineup import renders
from tests.standards import lavfi
from tests.support.clips import write_clip
from tests.tui.cli.here import program
from tests.tui.cli.program import Said
from tui.cli import main

Run = Callable[..., Said]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setitem(main.COMMANDS, "lineup", ("tui.cli.lineup", "Line up."))
    return program(tmp_path, monkeypatch, capsys)


def clip(path: Path, generator: str = "smptehdbars", codec: str = "libx264", noise: float = 0.0) -> str:
    """Ten frames of a generator in a file, with fresh noise on every frame."""
    drawn = lavfi.drawn(generator, "yuv420p", 1280, 720)
    dice = np.random.default_rng(4)

    def paint(_: int) -> list[np.ndarray]:
        return [
            np.clip(np.rint(plane + dice.normal(0.0, noise, plane.shape)), 0, 255).astype(np.uint8)
            for plane in drawn.planes
        ]

    write_clip(path, "yuv420p", codec, width=1280, height=720, frames=10, paint=paint)
    return str(path)


def test_true_bars(tmp_path: Path, run: Run) -> None:
    said = run("lineup", clip(tmp_path / "bars.mp4"))
    lines = said.out.splitlines()
    assert said.code == 0 and said.err == ""
    assert lines[0] == "BT.709 multi-pattern (RP 219) bars"
    assert lines[1] == "compared as 8 bit, narrow range (assumed), bt709 (assumed), no curve declared"
    assert lines[-1] == "[x] The chain is true."
    (yellow,) = (line.split() for line in lines if line.startswith("yellow  "))
    assert yellow[:4] == ["yellow", "168", "44", "136"], "75 % yellow of BT.709 in 8 bit (CALC, RP 219)"
    assert all(abs(int(code)) <= 2 for code in yellow[7:])
    assert len({len(line) for line in lines if line.startswith(("yellow", "-2 IRE", "left"))}) == 1


def test_json_has_what_a_program_needs(tmp_path: Path, run: Run) -> None:
    name = clip(tmp_path / "bars.mp4", "pal75bars")
    said = run("lineup", name, "--json")
    line = json.loads(said.out)
    assert said.code == 1 and said.err == "" and said.out.count("\n") == 1
    assert list(line) == ["pattern", "true", "faults", "bars"]
    assert line["pattern"] == "BT.601 100/0/75/0 bars" and line["true"] is False
    (fault,) = line["faults"]
    assert fault["what"] == "matrix" and "--matrix bt601" in fault["set"]
    right = run("lineup", name, "--json", "--matrix", "bt601")
    assert right.code == 0 and json.loads(right.out)["true"] is True


def test_what_is_wrong_and_what_to_set(tmp_path: Path, run: Run) -> None:
    said = run("lineup", clip(tmp_path / "bars.mp4"), "--range", "full")
    lines = said.out.splitlines()
    assert said.code == 1
    assert "[ ] The chain is not true:" in lines and not any("[x]" in line for line in lines)
    assert any(line.startswith("    range: ") and "asked for" in line for line in lines)
    assert any(line.startswith("      set: --range narrow") for line in lines)


def test_nothing_recognised(run: Run) -> None:
    said = run("lineup", "scene:boathouse?size=640x360", "--frames", "2")
    assert said.code == 1 and said.err == ""
    assert said.out.splitlines() == [
        "No line-up picture recognised: send colour bars or a grey ramp that fill the picture, and look again."
    ]
    line = json.loads(run("lineup", "scene:boathouse?size=640x360", "--json", "--frames", "1").out)
    assert line == {"pattern": None, "true": False, "faults": [], "bars": []}


def test_averaging_helps_where_one_frame_is_too_noisy(tmp_path: Path, run: Run) -> None:
    """Noise of 14 codes hides the bars in one frame; the mean of ten leaves 4.4 codes."""
    name = clip(tmp_path / "noisy.mkv", codec="ffv1", noise=14.0)
    one = run("lineup", name, "--frames", "1")
    assert one.code == 1 and one.out.startswith("No line-up picture")
    many = run("lineup", name, "--frames", "10")
    assert many.out.startswith("BT.709 multi-pattern (RP 219) bars")


def test_raw_frames_of_10_bit_and_a_curve(run: Run, tmp_path: Path) -> None:
    """Steps a stop apart through ACEScct, declared as such and not."""
    light = 0.18 * np.exp2(-5.0 + 10 * renders.ramp(640, 360, 11))
    signal = np.where(
        light <= 0.0078125, 10.5402377416545 * light + 0.0729055341958355, (np.log2(light) + 9.72) / 17.52
    )
    made = renders.frame(renders.grey(signal), "yuv422p10le")
    path = tmp_path / "steps.mkv"
    write_clip(path, "yuv422p10le", "ffv1", width=640, height=360, frames=2, paint=lambda _: list(made.planes))
    right = run("lineup", str(path), "--curve", "acescct", "--matrix", "bt709")
    assert right.code == 0, right
    assert right.out.startswith("grey steps (11), one stop apart")
    wrong = run("lineup", str(path), "--curve", "bt709")
    assert wrong.code == 1 and "set: --curve acescct" in wrong.out


@pytest.mark.parametrize(
    "words,about",
    [
        (("lineup",), "FEED"),
        (("lineup", "x.mp4", "--frames", "0"), "--frames"),
        (("lineup", "x.mp4", "--range", "wide"), "--range"),
        (("lineup", "x.mp4", "--curve", "bt790"), "bt709"),
    ],
)
def test_bad_use_is_one_line_and_exit_2(words: tuple[str, ...], about: str, run: Run) -> None:
    said = run(*words)
    assert said.code == 2 and said.out == ""
    assert len(said.err.splitlines()) == 1 and about in said.err and "Traceback" not in said.err


def test_a_feed_that_is_not_there(run: Run, tmp_path: Path) -> None:
    said = run("lineup", str(tmp_path / "gone.mp4"))
    assert said.code == 1 and said.out == "" and len(said.err.splitlines()) == 1


def test_help_has_an_example(run: Run) -> None:
    said = run("lineup", "--help")
    assert said.code == 0 and "Example: stopkeeper lineup" in said.out and "Exit code 0: true" in said.out


def test_a_true_line_up_is_kept_and_the_readings_say_so(tmp_path: Path, run: Run) -> None:
    """Full-range bars in a file without tags: taken for narrow they are wrong; told and true, they are kept."""
    drawn = renders.frame(renders.bars(1280, 720), "yuv420p", written="full")
    path = tmp_path / "bars.mkv"
    write_clip(path, "yuv420p", "ffv1", width=1280, height=720, frames=3, paint=lambda _: list(drawn.planes))
    assert run("lineup", str(path), "--keep").code == 1, "what is not true is not kept"
    assert json.loads(run("read", str(path), "--json", "--frames", "1").out)["encoding"]["range_from"] == "assumed"
    said = run("lineup", str(path), "--range", "full", "--keep")
    assert said.code == 0 and "Kept for this feed in" in said.out, said
    encoding = json.loads(run("read", str(path), "--json", "--frames", "1").out)["encoding"]
    assert (encoding["range"], encoding["range_from"], encoding["matrix_from"]) == ("full", "line-up", "line-up")
    encoding = json.loads(run("read", str(path), "--json", "--frames", "1", "--range", "auto").out)["encoding"]
    assert (encoding["range"], encoding["range_from"]) == ("narrow", "assumed")
