"""The two clips in the repository: small, tagged, and what the scene renders."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from analysis.feed.scene import clips
from analysis.feed.scene.clips import CLIPS, LARGEST_TOGETHER, Clip
from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer

FOLDER = Path(__file__).parents[3] / "recordings"
IDS = [clip.file for clip in CLIPS]


@cache
def made(clip: Clip) -> Renderer:
    return Renderer(clip.controls)


def decoded(path: Path, numbers: set[int]) -> dict[int, av.VideoFrame]:
    with av.open(str(path)) as container:
        found = {}
        for n, frame in enumerate(container.decode(video=0)):
            if n in numbers:
                found[n] = frame
            if n >= max(numbers):
                break
        return found


def planes(frame: av.VideoFrame, kind: Any) -> list[np.ndarray]:
    every: Any = frame.planes
    width = [frame.width, -(-frame.width // 2), -(-frame.width // 2)]
    return [np.frombuffer(p, kind).reshape(p.height, -1)[:, :w] for p, w in zip(every, width, strict=True)]


def test_both_together_stay_small() -> None:
    sizes = [(FOLDER / clip.file).stat().st_size for clip in CLIPS]
    assert all(size > 10_000 for size in sizes)
    assert sum(sizes) < LARGEST_TOGETHER == 4_000_000


@pytest.mark.parametrize("clip", CLIPS, ids=IDS)
def test_depth_and_tags(clip: Clip) -> None:
    """Colour tags as ITU-T H.273 numbers them: 1 is BT.709, 2 unspecified; FFmpeg's range 1 is narrow."""
    with av.open(str(FOLDER / clip.file)) as container:
        stream = container.streams.video[0]
        frame = next(container.decode(video=0))
        assert frame.format.name == clip.controls.layout
        assert stream.codec_context.profile in {"High", "High 4:2:2"}
        assert (frame.color_range, frame.colorspace, frame.color_primaries) == (1, 1, 1)
        assert frame.color_trc == clip.trc
        assert (frame.width, frame.height) == (clip.controls.width, clip.controls.height)
        assert float(stream.average_rate or 0) == clip.controls.rate
        assert stream.frames == clip.frames
        assert container.duration is not None
        assert container.duration / 1e6 == pytest.approx(clip.seconds, abs=0.1)


@pytest.mark.parametrize("clip", CLIPS, ids=IDS)
def test_frames_are_what_the_scene_renders(clip: Clip) -> None:
    """The codec may smooth noise away, but a plane's mean and any 16 x 16 tile stay where they were."""
    kind = np.uint8 if clip.controls.layout.endswith("p") else np.uint16
    unit = 1.0 if kind == np.uint8 else 4.0
    for number, frame in decoded(FOLDER / clip.file, {0, 75}).items():
        fresh = clip.picture(made(clip), number)
        for found, wanted in zip(planes(frame, kind), fresh.planes, strict=True):
            off = found.astype(float) - wanted
            assert abs(off.mean()) < 0.3 * unit
            assert off.std() < 2.5 * unit
            high, wide = off.shape[0] // 16 * 16, off.shape[1] // 16 * 16
            tiles = off[:high, :wide].reshape(high // 16, 16, wide // 16, 16).mean(axis=(1, 3))
            assert np.abs(tiles).max() < 4.0 * unit


@pytest.mark.parametrize("clip", CLIPS, ids=IDS)
def test_the_card_lies_at_middle_grey(clip: Clip) -> None:
    """18 % is 40.9 % in BT.709 (BT.709-6 item 1.2) and 41.36 % in ACEScct (Academy S-2016-001)."""
    frame = decoded(FOLDER / clip.file, {0})[0]
    kind, scale = (np.uint8, 1.0) if clip.controls.layout.endswith("p") else (np.uint16, 4.0)
    left, top, right, bottom = made(clip).truth(0.0, clip.lights(0)).regions["card"].box
    luma = planes(frame, kind)[0][top:bottom, left:right].astype(float).mean()
    wanted = {"bt709": 40.9, "acescct": 41.36}[clip.controls.curve]
    assert (luma / scale - 16.0) / 2.19 == pytest.approx(wanted, abs=0.4)


@pytest.mark.parametrize("clip", CLIPS, ids=IDS)
def test_each_clip_has_its_event(clip: Clip) -> None:
    calm, eventful, after = (clip.lights(n) for n in (0, 75, clip.frames - 1))
    assert calm == after
    before, during = made(clip).truth(0.0, calm), made(clip).truth(3.0, eventful)
    if clip.controls.curve == "bt709":
        assert before.clipped.any < 0.5
        assert during.clipped.any > 3.0
    else:
        assert before.saturated < 0.01 < during.saturated
    kind, scale = (np.uint8, 1.0) if clip.controls.layout.endswith("p") else (np.uint16, 4.0)
    shots = decoded(FOLDER / clip.file, {0, 75})
    first, second = (planes(shots[n], kind)[0].astype(float).mean() / scale for n in (0, 75))
    assert second > first + 1.0


def test_a_clip_is_made_again_the_same(tmp_path: Path) -> None:
    small = Clip(
        file="small.mp4", story="a test", controls=SceneControls(width=64, height=36, layout="yuv420p", clouds=False),
        seconds=0.4, quality=20, profile="high", trc=1, sun=((0.0, 0.0), (0.4, 1.0)),
    )  # fmt: skip
    (tmp_path / "again").mkdir()
    one, two = clips.make(small, tmp_path), clips.make(small, tmp_path / "again")
    assert one.read_bytes() == two.read_bytes()
    assert len(decoded(one, set(range(10)))) == small.frames == 10


def test_the_command_says_what_it_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    small = Clip(
        file="small.mp4", story="nothing happens", controls=SceneControls(width=64, height=36, layout="yuv420p"),
        seconds=0.2, quality=20, profile="high", trc=1,
    )  # fmt: skip
    monkeypatch.setattr(clips, "CLIPS", (small,))
    assert clips.main([str(tmp_path / "new")]) == 0
    assert (tmp_path / "new" / "small.mp4").exists()
    assert "nothing happens" in capsys.readouterr().out
    monkeypatch.setattr(clips, "LARGEST_TOGETHER", 10)
    assert clips.main([str(tmp_path / "new")]) == 1
    assert "together" in capsys.readouterr().err
