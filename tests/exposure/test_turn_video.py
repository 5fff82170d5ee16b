"""Turns in coded video: rendered film through H.264 and the program's own file feed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from analysis.exposure import turn
from analysis.feed.address import parse_address
from analysis.feed.clock import SystemClock
from analysis.feed.factory import make_source
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.measure.light_map import LightMapper
from analysis.measure.sample import Sampler
from analysis.model.errors import FeedEnded
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.turn import Turn
from analysis.signal.curves import curve
from tests.exposure.turn_film import HIGH, WIDE, Film, Moment

RATE = 10


def write(path: Path, film: Film, seconds: float, bits_a_second: int) -> None:
    """The film as H.264, 4:2:0, at so few bits that its noise is gone and its edges are soft."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=Fraction(RATE))
        stream.width, stream.height, stream.pix_fmt, stream.bit_rate = WIDE, HIGH, "yuv420p", bits_a_second
        stream.codec_context.color_range = 1
        stream.options = {"x264-params": "colorprim=bt709:transfer=bt709:colormatrix=bt709"}
        for number in range(round(seconds * RATE)):
            y, cb, cr = film.frame(number / RATE, number).planes
            halved = [((plane[::2].astype(np.uint16) + plane[1::2]) // 2).astype(np.uint8) for plane in (cb, cr)]
            # One odd row of luma is left out: 4:2:0 wants even heights.
            planes = [y[: HIGH // 2 * 2], *(plane[: HIGH // 2] for plane in halved)]
            stacked = np.concatenate([plane.ravel() for plane in planes])
            frame = av.VideoFrame.from_ndarray(stacked.reshape(-1, WIDE), format="yuv420p")
            frame.pts = number
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def turns_in(path: Path, curve_name: str, film: Film) -> list[Turn]:
    """The turns told of a file read as a feed reads it."""
    options = FeedOptions(realtime=False, curve=curve_name, range="narrow", matrix="bt709")
    source = make_source(parse_address(str(path)), options, FramePool(), SystemClock())
    source.open()
    state, told, number = turn.begin(), list[Turn](), 0
    mapper: LightMapper | None = None
    while True:
        try:
            picture = source.read()
        except FeedEnded:
            break
        now = Instant(number / RATE, 0.0)
        frame = Frame(planes=picture.planes, format=picture.format, instant=now, generation=1, sequence=number)
        if mapper is None:
            mapper, sampler = LightMapper(frame.format, curve(curve_name)), Sampler(frame.format)
        area = (0, 0, frame.format.width, frame.format.height)
        light = mapper.look(sampler.take(frame, area), film.end(), 0.0, now, 1, area)
        state, turns = turn.step(state, light, film.sitters(film.story(number / RATE)), now)
        told += turns
        number += 1
    source.close()
    assert number > 30
    return told


@pytest.mark.parametrize(
    ("change", "kind", "stops", "name"),
    [
        ({"whole": -1.0}, "whole", -1.0, "bt709"),
        ({"whole": 1 / 3}, "whole", 1 / 3, "acescct"),
        ({"sitter": 1.0}, "sitter", 1.0, "acescct"),
        ({"window": -0.7}, "background", -0.7, "hlg"),
    ],
)
def test_turns_in_coded_video(tmp_path: Path, change: dict[str, float], kind: str, stops: float, name: str) -> None:
    film = Film(lambda now: Moment(**change) if now > 2.45 else Moment(), name)
    path = tmp_path / "film.mp4"
    write(path, film, 5.0, 600_000)
    told = turns_in(path, name, film)
    assert [each.kind for each in told] == [kind]
    assert told[0].stops == pytest.approx(stops, abs=0.1)


def test_a_cut_in_coded_video(tmp_path: Path) -> None:
    film = Film(lambda now: Moment(shot=1 if now > 2.45 else 0))
    path = tmp_path / "film.mp4"
    write(path, film, 4.5, 600_000)
    assert [each.kind for each in turns_in(path, "acescct", film)] == ["cut"]
