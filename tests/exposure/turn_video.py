"""Films as H.264 in a file, and the maps that the program's own file feed gives of them."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

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
from analysis.model.light import LightMap
from analysis.signal.curves import curve
from tests.exposure.turn_film import HIGH, WIDE, Film


def write(path: Path, film: Film, seconds: float, options: dict[str, str], rate: float) -> None:
    """The film as H.264, 4:2:0, 8-bit; ``options`` are the encoder's own, such as ``crf`` or ``b`` (bits a second)."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=Fraction(rate))
        stream.width, stream.height, stream.pix_fmt = WIDE, HIGH, "yuv420p"
        stream.codec_context.color_range = 1
        stream.options = {"x264-params": "colorprim=bt709:transfer=bt709:colormatrix=bt709", **options}
        for number in range(round(seconds * rate)):
            y, cb, cr = film.frame(number / rate, number).planes
            halved = [((plane[::2].astype(np.uint16) + plane[1::2]) // 2).astype(np.uint8) for plane in (cb, cr)]
            # One odd row of luma is left out: 4:2:0 wants even heights.
            planes = [y[: HIGH // 2 * 2], *(plane[: HIGH // 2] for plane in halved)]
            stacked = np.concatenate([plane.ravel() for plane in planes])
            frame = av.VideoFrame.from_ndarray(stacked.reshape(-1, WIDE), format="yuv420p")
            frame.pts = number
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def frames_in(path: Path, film: Film, rate: float, every: int = 1) -> Iterator[tuple[int, LightMap]]:
    """The number and the map of every so many frames of a file read as a feed reads it."""
    name = film.format.encoding.curve
    assert name is not None
    options = FeedOptions(realtime=False, curve=name, range="narrow", matrix="bt709")
    source = make_source(parse_address(str(path)), options, FramePool(), SystemClock())
    source.open()
    number, mapper, sampler = 0, None, None
    while True:
        try:
            picture = source.read()
        except FeedEnded:
            break
        now = Instant(number / rate, 1.7e9 + number / rate)
        frame = Frame(planes=picture.planes, format=picture.format, instant=now, generation=1, sequence=number)
        if mapper is None or sampler is None:
            mapper, sampler = LightMapper(frame.format, curve(name)), Sampler(frame.format)
        if number % every == 0:
            area = (0, 0, frame.format.width, frame.format.height)
            iso = film.story(now.monotonic).iso
            yield number, mapper.look(sampler.take(frame, area), film.end(iso), 0.0, now, 1, area)
        number += 1
    source.close()
    assert number > 30
