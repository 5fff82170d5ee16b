"""``stopkeeper characterise``: from files, guided on a live feed, saved, and every mistake in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
import pytest

from analysis.feed.pool import FramePool
from analysis.feed.scene.renderer import Renderer
from analysis.measure.card import CardView
from analysis.model.errors import UsageError
from analysis.settings.camera_files import camera_curve, load_camera
from analysis.signal.curves import curve
from tests.measure.card_scenes import HEIGHT, WIDTH, card, controls, stage, views
from tests.support.clips import write_clip
from tests.tui.cli.here import program
from tests.tui.cli.program import ROOT, Said, one_line
from tui.cli.bracket import card_area, guided, planned, split_step

Run = Callable[..., Said]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return program(tmp_path, monkeypatch, capsys)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "stopkeeper" / "cameras" / "lakecam.toml"


AREA = ",".join(f"{value:g}" for value in (card().x, card().y, card().width, card().height))
PLAIN = ("characterise", "--name", "lakecam", "--iso", "800", "--frames", "3", "--card", AREA)


def scene(stops: float, more: str = "") -> str:
    return f"scene:boathouse?size={WIDTH}x{HEIGHT}&clouds=off&bits=10&curve=acescct&nd={2 - stops:g}{more}"


def steps(*stops: float, more: str = "") -> list[str]:
    return [word for each in stops for word in ("--step", f"{each:g}={scene(each, more)}")]


WHOLE = steps(*range(-7, 9))


def test_from_files_it_saves_a_profile_whose_curve_can_be_used(run: Run, path: Path) -> None:
    said = run(*PLAIN, *WHOLE)
    assert said.code == 0 and said.err == ""
    lines = said.out.splitlines()
    assert lines[0] == f"lakecam: saved in {path}"
    assert lines[1].startswith("usable 12.") and "clip 75.6 IRE at +6.0" in lines[1]
    assert lines[2] == "curve like acescct within 0.02 stops, as exposed" or lines[2].startswith(
        "curve like acescct within 0.0"
    )
    profile = load_camera(path)
    assert (profile.bits, profile.range, profile.curve) == (10, "narrow", "acescct")
    stops = np.linspace(-4, 4, 81)
    read = np.log2(camera_curve(path).decode(curve("acescct").encode(0.18 * 2.0**stops)) / 0.18)
    assert np.abs(read - stops).max() < 0.05
    listed = run("curves").out
    assert "lakecam" in listed and "measured with the camera lakecam" in listed
    shown = json.loads(run("curves", "show", "lakecam", "--json").out)
    assert {row["stops"]: row["ire"] for row in shown["steps"]}[0] == pytest.approx(41.36, abs=0.15)


def test_a_program_gets_the_profile(run: Run, path: Path) -> None:
    told = json.loads(run(*PLAIN, *steps(-2, -1, 0, 1, 2), "--json").out)
    assert told["path"] == str(path) and len(told["notes"]) == 2
    assert told["profile"]["name"] == "lakecam" and told["profile"]["clip_percent"] is None
    assert told["profile"]["natives"][0]["iso"] == 800
    assert told["profile"]["response"]["stops"] == [-2, -1, 0, 1, 2]
    assert load_camera(path).measured == told["profile"]["measured"]


def test_measured_again_only_when_told_and_keeps_the_operators_own(run: Run, path: Path) -> None:
    five = steps(-2, -1, 0, 1, 2)
    assert run(*PLAIN, *five).code == 0
    line = one_line(run(*PLAIN, *five), 2)
    assert line == f"stopkeeper: {path}: this camera has a profile already; add --replace, or give another --name"
    path.write_text(path.read_text().replace("nd_steps = []", "nd_steps = [2.0, 4.0, 6.0]"))
    assert run(*PLAIN, *five, "--replace").code == 0
    assert load_camera(path).nd_steps == (2.0, 4.0, 6.0)


@pytest.mark.parametrize(
    "arguments,code,says",
    [
        (["--name", "lakecam", "--iso", "800"], 2, "give either a live FEED or --step for each file"),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--step", "0=a.mov"], 2, "give either a live FEED or"),
        (["scene:boathouse", "--iso", "800"], 2, "Missing option '--name'"),
        (["scene:boathouse", "--name", "x"], 2, "Missing option '--iso'"),
        (["scene:boathouse", "--name", "bt709", "--iso", "800"], 2, "this is the name of a built-in curve"),
        (["scene:boathouse", "--name", "a/b", "--iso", "800"], 2, "--name a/b: not a usable name"),
        (["scene:boathouse", "--name", "x", "--iso", "-1"], 2, "--iso and --snr must be above zero"),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--snr", "nan"], 2, "--iso and --snr must be above zero"),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--frames", "1"], 2, "--frames"),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--card", "1,2"], 2, '--card: "1,2" is no area'),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--every", "0"], 2, "the steps make no bracket"),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--every", "0.01"], 2, "steps are too many"),
        (["scene:boathouse", "--name", "x", "--iso", "800", "--curve", "bt790"], 2, "did you mean bt709"),
        (["--name", "x", "--iso", "800", "--step", "two=a.mov"], 2, '--step: "two=a.mov" is no step'),
        (["--name", "x", "--iso", "800", "--step", "2"], 2, '--step: "2" is no step; write stops and a file'),
        (["--name", "x", "--iso", "800", "--step", "0=nowhere.mov"], 1, "nowhere.mov"),
        (
            ["recordings/boathouse-709-8bit.mp4", "--name", "x", "--iso", "800"],
            2,
            "a file does not wait for the next step",
        ),
        (
            ["--name", "x", "--iso", "800", "--card", "0.9,0.9,0.2,0.2", "--step", f"0={scene(0)}"],
            2,
            "--card: the card does not lie inside the 640x360 picture",
        ),
    ],
)
def test_wrong_use_is_one_line(
    arguments: list[str], code: int, says: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert says in one_line(run("characterise", *arguments), code)
    assert not (tmp_path / "stopkeeper").exists(), "nothing is saved of a job that failed"


@pytest.mark.parametrize(
    "words,says",
    [
        (steps(-1, 0, 1), "the bracket: 3 steps make no bracket; give 4 or more"),
        ([*steps(-1, 0, 1, 2), "--step", f"1.5={scene(-1)}"], "is darker"),
        ([*steps(-1, 0, 1, 2), "--step", f"3={scene(3)}&bits=8"], "differ in depth, range or matrix"),
        (steps(-2, -1, 0, 1, 2, more="&noise=off&sway=off"), "no step shows any noise"),
    ],
)
def test_a_bracket_that_cannot_be_is_one_line(words: list[str], says: str, run: Run, path: Path) -> None:
    words = [word.replace("&bits=10", "", 1) if word.endswith("&bits=8") else word for word in words]
    assert says in one_line(run(*PLAIN, *words), 1)
    assert not path.exists()


def test_a_clip_with_repeated_frames_is_refused_by_name(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A still picture played as a clip: ten times the same frame."""
    picture = np.random.default_rng(3).integers(90, 120, (36, 64), np.uint8)
    raw = tmp_path / "still.y4m"
    head = b"YUV4MPEG2 W64 H36 F25:1 Ip Cmono\n"
    raw.write_bytes(head + (b"FRAME\n" + picture.tobytes()) * 10)
    line = one_line(run("characterise", "--name", "x", "--iso", "800", "--step", f"0={raw}"), 1)
    assert str(raw) in line and "frame 2 is the same picture as the one before" in line


def test_guided_on_a_scene_it_asks_and_stops_where_told(run: Run, path: Path) -> None:
    """The scene does not change between the steps: each one reads as the one before, so both directions end at once."""
    said = run(*PLAIN, scene(0), stdin="\n\n\n\nd\n")
    asked = [line for line in said.err.splitlines() if line.startswith("step ")]
    assert asked[0] == "step 0: set the card to middle grey, then Enter (b: the step before again, d: done)"
    assert asked[1].startswith("step +1: 1 stop more light than at step 0, then Enter")
    assert said.code == 1 and not path.exists()
    assert said.err.splitlines()[-1].startswith("stopkeeper: the bracket: ")


def test_a_compressed_clip_gives_its_curve_without_noise(run: Run, tmp_path: Path, path: Path) -> None:
    """H.264 of a rendered bracket hides the noise: refused as it stands, and the curve alone still true."""
    words = []
    for stops in range(-5, 8):
        how = msgspec.structs.replace(controls(curve="acescct"), nd=2.0 - stops)
        renderer = Renderer(how, FramePool(), stage())

        def paint(number: int, renderer: Renderer = renderer) -> list[np.ndarray]:
            return list(renderer.picture(number / 25, number).planes)

        clip = tmp_path / f"step{stops}.mov"
        write_clip(
            clip, "yuv422p10le", "libx264", width=WIDTH, height=HEIGHT, frames=4, paint=paint,
            options={"crf": "20", "preset": "ultrafast", "threads": "1"},
        )  # fmt: skip
        words += ["--step", f"{stops}={clip}"]
    line = one_line(run(*PLAIN, *words), 1)
    assert "is the same picture as the one before" in line and line.endswith("or --without-noise")
    said = run(*PLAIN, *words, "--without-noise")
    assert said.code == 0 and "noise not measured" in said.out
    stops = np.linspace(-4, 4, 81)
    read = np.log2(camera_curve(path).decode(curve("acescct").encode(0.18 * 2.0**stops)) / 0.18)
    assert np.abs(read - stops).max() < 0.05
    assert load_camera(path).noise_percent is None and load_camera(path).clip_percent == pytest.approx(75.57, abs=0.2)


class Bench:
    """An operator who sets the light as asked, with a script of words; the camera is the rendered one."""

    def __init__(self, words: dict[str, list[str]] | None = None) -> None:
        self.asked: list[str] = []
        self.read: list[float] = []
        self._words = words or {}
        self.fail_once: set[float] = set()

    def ask(self, line: str) -> str:
        self.asked.append(line)
        stops = line.splitlines()[-1].split(":")[0].removeprefix("step ")
        left = self._words.get(stops, [])
        return left.pop(0) if left else ""

    def views(self, stops: float) -> list[CardView]:
        self.read.append(stops)
        seen = views(controls(curve="acescct"), stops, 3)
        if stops in self.fail_once:
            self.fail_once.remove(stops)
            return [seen[0], seen[0]]
        return seen


def test_guided_upwards_until_the_signal_stands_still_then_downwards() -> None:
    bench = Bench()
    found = guided(planned(-4, 12, 1), bench.views, bench.ask)
    assert bench.read == [0, 1, 2, 3, 4, 5, 6, 7, -1, -2, -3, -4], "+6 fills the sensor, +7 reads the same"
    assert [each.stops for each in found] == bench.read


def test_a_step_can_be_read_again() -> None:
    bench = Bench({"+2": ["b"]})
    found = guided(planned(0, 3, 1), bench.views, bench.ask)
    assert bench.read == [0, 1, 1, 2, 3] and sorted(each.stops for each in found) == [0, 1, 2, 3]


def test_an_unknown_word_reads_nothing_and_done_ends() -> None:
    bench = Bench({"+1": ["what", "d"]})
    found = guided(planned(-3, 3, 1), bench.views, bench.ask)
    assert [each.stops for each in found] == [0] and len(bench.asked) == 3


def test_a_step_that_fails_is_told_and_asked_for_again() -> None:
    bench = Bench()
    bench.fail_once = {1.0}
    found = guided(planned(0, 2, 1), bench.views, bench.ask)
    assert bench.read == [0, 1, 1, 2] and len(found) == 3
    told = bench.asked[2].splitlines()
    assert "step +1: frame 2 is the same picture" in told[0] and told[1].startswith("step +1: 1 stop more")


@pytest.mark.parametrize("text", ["", "1,2,3", "a,b,c,d", "-1,0,1,1", "0,0,0,1", "0,0,inf,1", "nan,0,1,1"])
def test_areas_that_are_none(text: str) -> None:
    with pytest.raises(UsageError, match="is no area; write x,y,w,h"):
        card_area(text)


@pytest.mark.parametrize("text", ["", "=", "1=", "=x", "nan=x", "50=x", "1 stop=x"])
def test_steps_that_are_none(text: str) -> None:
    with pytest.raises(UsageError, match="is no step"):
        split_step(text)


def test_help_has_an_example(run: Run) -> None:
    said = run("characterise", "--help")
    assert said.code == 0 and "Example: stopkeeper characterise" in said.out
