"""Frames on a pipe, through real pipes and real processes."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import threading
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from analysis.feed.address import parse_address
from analysis.feed.pipe import PipeSource
from analysis.feed.pipe_form import PipeForm, pipe_form, rate_of, y4m_format
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.model.errors import FeedEnded, FeedGone, FeedUnreadable, UsageError
from analysis.signal.layouts import LAYOUTS
from tests.support.clips import codes, write_clip

ROOT = Path(__file__).parents[2]


def piped(text: str, data: bytes, options: FeedOptions | None = None) -> PipeSource:
    """A source that reads ``data`` from a real pipe, written by a thread as the pipe takes it."""
    out, into = os.pipe()

    def write() -> None:
        with os.fdopen(into, "wb", buffering=0) as file:
            try:
                file.write(data)
            except BrokenPipeError:
                return

    threading.Thread(target=write, daemon=True).start()
    source = PipeSource(parse_address(text), options or FeedOptions(), FramePool(), descriptor=out)
    try:
        source.open()
    finally:
        os.close(out)
    return source


def bytes_of(name: str, frames: int, width: int = 38, height: int = 26, head: bytes = b"") -> bytes:
    return b"".join(
        head + b"".join(plane.tobytes() for plane in codes(name, width, height, number)) for number in range(frames)
    )


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_comes_through_a_pipe_bit_for_bit(name: str) -> None:
    source = piped(f"raw:38x26@25/{name}", bytes_of(name, 3))
    assert isinstance(source, Source)
    for number in range(3):
        picture = source.read()
        assert picture.source_sequence == number and picture.source_seconds == pytest.approx(number / 25)
        wanted = codes(name, 38, 26, number)
        assert all(np.array_equal(a, b) for a, b in zip(picture.planes, wanted, strict=True))
    with pytest.raises(FeedEnded):
        source.read()
    source.close()


def test_a_frame_cut_short_is_told_with_its_bytes() -> None:
    source = piped("raw:38x26@25/yuv420p", bytes_of("yuv420p", 2)[:-100])
    source.read()
    with pytest.raises(FeedUnreadable, match="ended inside a frame, after 1382 of 1482 bytes"):
        source.read()
    source.close()


def test_an_empty_pipe_is_simply_finished() -> None:
    source = piped("raw:38x26/yuv420p", b"")
    with pytest.raises(FeedEnded):
        source.read()
    source.close()


def test_a_terminal_is_not_a_pipe() -> None:
    master, slave = pty.openpty()
    try:
        source = PipeSource(parse_address("raw:y4m"), FeedOptions(), FramePool(), descriptor=slave)
        with pytest.raises(UsageError, match="standard input is a terminal"):
            source.open()
    finally:
        os.close(master)
        os.close(slave)


def test_a_closed_standard_input_and_a_folder() -> None:
    with pytest.raises(FeedGone, match="no standard input"):
        PipeSource(parse_address("raw:y4m"), FeedOptions(), FramePool(), descriptor=987).open()
    folder = os.open("/", os.O_RDONLY)
    with pytest.raises(FeedUnreadable, match="a folder"):
        PipeSource(parse_address("raw:y4m"), FeedOptions(), FramePool(), descriptor=folder).open()
    os.close(folder)


def test_closing_ends_a_read_that_waits() -> None:
    out, into = os.pipe()
    source = PipeSource(parse_address("raw:38x26/yuv420p"), FeedOptions(), FramePool(), descriptor=out)
    source.open()
    ended: list[BaseException] = []

    def read() -> None:
        try:
            source.read()
        except FeedGone as error:
            ended.append(error)

    thread = threading.Thread(target=read)
    thread.start()
    source.close()
    source.close()
    thread.join(10)
    assert not thread.is_alive() and len(ended) == 1
    source.close()
    os.close(out)
    os.close(into)


# --- YUV4MPEG2, the open header of the mjpegtools project (yuv4mpeg(5)) -----------------------------------------


@pytest.mark.parametrize("name", ["yuv420p", "yuv422p", "yuv444p", "yuv411p", "gray"])
def test_what_ffmpeg_writes_as_yuv4mpeg2_is_read_bit_for_bit(tmp_path: Path, name: str) -> None:
    """A second opinion: FFmpeg's own writer of the format."""
    path = tmp_path / "clip.y4m"
    write_clip(path, name, "wrapped_avframe", container="yuv4mpegpipe", width=40, height=26, frames=3)
    source = piped("raw:y4m", path.read_bytes())
    for number in range(3):
        picture = source.read()
        assert picture.format.layout == name and picture.format.rate == 25.0
        assert all(np.array_equal(a, b) for a, b in zip(picture.planes, codes(name, 40, 26, number), strict=True))
    with pytest.raises(FeedEnded):
        source.read()
    source.close()


def test_ten_bits_and_the_range_of_an_extended_tag() -> None:
    head = b"YUV4MPEG2 W38 H26 F30000:1001 Ip A1:1 C422p10 XYSCSS=422P10 XCOLORRANGE=FULL\n"
    source = piped("raw:y4m", head + bytes_of("yuv422p10le", 2, head=b"FRAME Ip\n"))
    picture = source.read()
    encoding = picture.format.encoding
    assert picture.format.layout == "yuv422p10le" and picture.format.rate == pytest.approx(float(Fraction(30000, 1001)))
    assert (encoding.bits, encoding.range, encoding.range_from) == (10, "full", "tag")
    assert np.array_equal(picture.planes[2], codes("yuv422p10le", 38, 26, 0)[2])
    source.close()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the pipe is empty"),
        (b"RIFF....", "not YUV4MPEG2"),
        (b"x" * 5000, "not YUV4MPEG2"),
        (b"YUV4MPEG2 W38 F25:1\n", "gives no size"),
        (b"YUV4MPEG2 W38 H99999 F25:1\n", "cannot be"),
        (b"YUV4MPEG2 W38 H26 C420p16\n", "C420p16".removeprefix("C")),
    ],
)
def test_headers_that_cannot_be_used(data: bytes, words: str) -> None:
    with pytest.raises(FeedUnreadable, match=words):
        piped("raw:y4m", data)


def test_a_frame_without_its_header() -> None:
    source = piped("raw:y4m", b"YUV4MPEG2 W38 H26 F25:1\n" + bytes_of("yuv420p", 1, head=b"FRAME\n") + b"FRIEND\n")
    source.read()
    with pytest.raises(FeedUnreadable, match="has no header"):
        source.read()
    source.close()


# --- what is said about the codes --------------------------------------------------------------------------------


def test_the_description_says_the_encoding() -> None:
    form = pipe_form("1920x1080@25/yuv422p10le", {"range": "full", "matrix": "bt2020", "curve": "hlg"}, "raw:…")
    assert form.format is not None
    said = form.format.encoding
    assert (said.bits, said.range, said.matrix, said.curve) == (10, "full", "bt2020", "hlg")
    assert {said.range_from, said.matrix_from, said.curve_from} == {"asked"}


def test_options_of_the_command_come_before_the_address() -> None:
    source = PipeSource(
        parse_address("raw:64x48@25/yuv420p?range=full"), FeedOptions(range="narrow", curve="pq"), FramePool()
    )
    assert source._format is not None
    assert source._format.encoding.range == "narrow" and source._format.encoding.curve == "pq"


def test_assumptions_are_the_usual_ones() -> None:
    def encoding(text: str):
        form = pipe_form(text, {}, "x").format
        assert form is not None
        return form.encoding

    assert (encoding("1280x720/yuv420p").matrix, encoding("720x576/yuv420p").matrix) == ("bt709", "bt601")
    assert (encoding("64x48/rgb24").matrix, encoding("64x48/rgb24").range) == ("rgb", "full")
    assert encoding("64x48/yuvj420p").range == "full" and encoding("64x48/nv12").range == "narrow"
    assert encoding("64x48/gray").range == "full"


@pytest.mark.parametrize(
    ("text", "rate"),
    [("25", 25.0), ("29.97", 29.97), ("30000/1001", 29.97002997), ("0", None), ("", None), ("1/0", None)],
)
def test_rates(text: str, rate: float | None) -> None:
    assert rate_of(text) == (pytest.approx(rate) if rate else None)


def test_a_rate_is_not_needed() -> None:
    source = piped("raw:38x26/gray", bytes_of("gray", 1))
    assert source.read().source_seconds is None
    source.close()


def test_a_header_alone_can_be_judged() -> None:
    made = y4m_format(b"YUV4MPEG2 W64 H48 F25:1 Cmono", PipeForm(format=None, range="narrow"), "x")
    assert made.layout == "gray" and made.encoding.range_from == "asked"


# --- through real processes ----------------------------------------------------------------------------------------

READER = """
import sys
from analysis.feed.address import parse_address
from analysis.feed.clock import SystemClock
from analysis.feed.factory import make_source
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.model.errors import StopkeeperError
try:
    source = make_source(parse_address(sys.argv[1]), FeedOptions(), FramePool(), SystemClock())
    source.open()
    while True:
        print([int(plane.sum()) for plane in source.read().planes], flush=True)
except StopkeeperError as error:
    print(type(error).__name__, error.line())
"""


def run_reader(address: str, data: bytes) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", READER, address], input=data, capture_output=True, timeout=60, check=False, cwd=ROOT
    )
    assert done.stderr == b"" and done.returncode == 0
    return done.stdout.decode().splitlines()


def test_standard_input_of_a_real_process() -> None:
    lines = run_reader("raw:38x26@25/yuv422p10le", bytes_of("yuv422p10le", 2) + b"half")
    wanted = [str([int(plane.sum()) for plane in codes("yuv422p10le", 38, 26, number)]) for number in range(2)]
    assert lines[:2] == wanted
    assert lines[2].startswith("FeedUnreadable raw:38x26@25/yuv422p10le: the pipe ended inside a frame, after 4 of")


def test_no_standard_input_at_all() -> None:
    command = f'"{sys.executable}" -c "$READER" raw:y4m <&-'
    done = subprocess.run(
        ["sh", "-c", command], capture_output=True, timeout=60, cwd=ROOT, env={**os.environ, "READER": READER}
    )
    assert b"there is no standard input" in done.stdout and done.stderr == b""


def test_pyav_is_not_needed_for_a_pipe() -> None:
    assert av is not None
    code = "import sys; import analysis.feed.pipe, analysis.feed.factory; sys.exit('av' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, timeout=60).returncode == 0
