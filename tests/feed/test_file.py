"""Files: the codes that come out are the codes that went in.

The reference is FFmpeg's own lossless codecs (FFV1, RFC 9043, and uncompressed video), written
through PyAV; a code that changes on the way would show in any of them.
"""

from __future__ import annotations

import math
import os
import struct
import wave
import zlib
from pathlib import Path

import av
import numpy as np
import pytest

from analysis.feed.address import parse_address
from analysis.feed.decoded import Decoded
from analysis.feed.factory import make_source
from analysis.feed.file import FileSource
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.model.errors import FeedCorrupt, FeedEnded, FeedGone, FeedRefused, FeedUnreadable
from analysis.signal.layouts import LAYOUTS, check_planes
from tests.support.clips import av_frame, codes, smooth, write_clip
from tests.support.fake_clock import FakeClock

FAST = FeedOptions(realtime=False)

FFV1 = [
    "yuv420p", "yuv422p", "yuv444p", "yuv440p", "yuv411p", "yuv410p", "gray",
    "yuv420p10le", "yuv422p10le", "yuv444p10le", "yuv420p12le", "yuv422p12le", "yuv444p12le",
    "gray10le", "gray12le", "gray16le", "gbrp10le", "gbrp12le", "rgb48le", "bgr0", "bgra",
]  # fmt: skip
RAW = ["yuyv422", "uyvy422", "nv12", "nv21", "yuv420p", "yuv422p", "gray", "rgb24", "bgr24", "rgba", "bgra"]


def source_of(path: Path, options: FeedOptions = FAST, clock: FakeClock | None = None) -> FileSource:
    made = make_source(parse_address(str(path)), options, FramePool(), clock or FakeClock())
    assert isinstance(made, FileSource) and isinstance(made, Source)
    return made


def read_all(source: Source) -> list:
    source.open()
    pictures = []
    with pytest.raises(FeedEnded):
        while True:
            pictures.append(source.read())
    source.close()
    return pictures


def assert_same(pictures: list, name: str, width: int, height: int) -> None:
    assert len(pictures) == 5
    for number, picture in enumerate(pictures):
        assert picture.format.layout == name and not picture.corrupt
        assert (picture.format.width, picture.format.height) == (width, height)
        check_planes(picture)
        for plane, wanted in zip(picture.planes, codes(name, width, height, number), strict=True):
            if name in {"bgr0", "rgb0"}:
                plane, wanted = plane.reshape(height, width, 4)[..., :3], wanted.reshape(height, width, 4)[..., :3]
            assert np.array_equal(plane, wanted)


@pytest.mark.parametrize("size", [(64, 48), (70, 46)], ids=["aligned", "padded"])
@pytest.mark.parametrize("name", FFV1)
def test_lossless_video_is_read_bit_for_bit(tmp_path: Path, name: str, size: tuple[int, int]) -> None:
    if name in {"yuv411p", "yuv410p"} and size[0] % 4:
        size = (68, 44)  # FFmpeg's FFV1 encoder itself loses a last chroma sample that covers under four pixels
    write_clip(tmp_path / "clip.mkv", name, "ffv1", width=size[0], height=size[1])
    assert_same(read_all(source_of(tmp_path / "clip.mkv")), name, *size)


@pytest.mark.parametrize("name", RAW)
def test_uncompressed_video_is_read_bit_for_bit(tmp_path: Path, name: str) -> None:
    write_clip(tmp_path / "clip.nut", name, "rawvideo", width=70, height=46)
    assert_same(read_all(source_of(tmp_path / "clip.nut")), name, 70, 46)


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_layout_survives_the_way_from_a_decoded_frame(name: str) -> None:
    """Also those that no lossless file carries (P010, Y210): straight from FFmpeg's own frame memory."""
    if name not in {f.name for f in _formats()}:
        pytest.skip(f"this FFmpeg does not know {name}")
    wanted = codes(name, 38, 26, 1)
    frame = av_frame(name, 38, 26, wanted)
    made = Decoded(FAST, FramePool(), "x").picture(frame, 25.0, 0, 0.0, False)
    check_planes(made)
    for plane, want in zip(made.planes, wanted, strict=True):
        assert np.array_equal(plane, want)


def _formats() -> list[av.VideoFormat]:
    found = []
    for name in LAYOUTS:
        try:
            found.append(av.VideoFormat(name))
        except ValueError:
            continue
    return found


@pytest.mark.parametrize(
    ("given", "becomes"),
    [("yuva420p", "yuv420p"), ("yuva444p10le", "yuv444p10le"), ("gbrap", "gbrp"), ("gbrap12le", "gbrp12le")],
)
def test_alpha_is_dropped_and_nothing_else(given: str, becomes: str) -> None:
    wanted = codes(becomes, 38, 26, 2)
    frame = av_frame(given, 38, 26, wanted)
    made = Decoded(FAST, FramePool(), "x").picture(frame, None, None, None, False)
    assert made.format.layout == becomes
    assert all(np.array_equal(a, b) for a, b in zip(made.planes, wanted, strict=True))


@pytest.mark.parametrize(
    ("given", "becomes", "order"),
    [("argb", "rgb24", (1, 2, 3)), ("abgr", "rgb24", (3, 2, 1)), ("0rgb", "rgb24", (1, 2, 3))],
)
def test_components_are_moved_not_changed(given: str, becomes: str, order: tuple[int, ...]) -> None:
    raw = np.random.default_rng(4).integers(0, 256, (26, 38 * 4), dtype=np.uint8)
    made = Decoded(FAST, FramePool(), "x").picture(av_frame(given, 38, 26, [raw]), None, None, None, False)
    assert made.format.layout == becomes
    assert np.array_equal(made.planes[0].reshape(26, 38, 3), raw.reshape(26, 38, 4)[..., list(order)])


@pytest.mark.parametrize("given", ["yuv420p10be", "gray16be", "rgb48be"])
def test_big_endian_samples_are_turned(given: str) -> None:
    becomes = given.replace("be", "le")
    wanted = codes(becomes, 38, 26, 5)
    frame = av_frame(given, 38, 26, [plane.byteswap() for plane in wanted])
    made = Decoded(FAST, FramePool(), "x").picture(frame, None, None, None, False)
    assert made.format.layout == becomes
    assert all(np.array_equal(a, b) for a, b in zip(made.planes, wanted, strict=True))


def test_a_palette_is_looked_up(tmp_path: Path) -> None:
    """A PNG with a palette (W3C PNG specification, 11.2.1 colour type 3), built here byte by byte."""
    width, height = 40, 30
    dice = np.random.default_rng(6)
    palette = dice.integers(0, 256, (256, 3), dtype=np.uint8)
    index = dice.integers(0, 256, (height, width), dtype=np.uint8)

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    rows = b"".join(b"\0" + row.tobytes() for row in index)
    path = tmp_path / "palette.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0))
        + chunk(b"PLTE", palette.tobytes())
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
    (picture,) = read_all(source_of(path))
    assert picture.format.layout == "rgb24" and picture.format.encoding.range == "full"
    assert np.array_equal(picture.planes[0].reshape(height, width, 3), palette[index])


@pytest.mark.parametrize("given", ["rgb565le", "yuv420p9le", "monow", "xyz12le", "gbrpf32le"])
def test_formats_whose_codes_would_change_are_refused(given: str) -> None:
    with pytest.raises(FeedUnreadable, match=f"{given} cannot be read without changing"):
        Decoded(FAST, FramePool(), "clip").picture(av.VideoFrame(32, 16, given), None, None, None, False)


# --- time -------------------------------------------------------------------------------------


def test_a_file_plays_at_its_own_pace_by_its_own_stamps(tmp_path: Path) -> None:
    write_clip(tmp_path / "clip.mkv", "yuv420p", "ffv1", frames=20, rate=10)
    clock = FakeClock()
    source = source_of(tmp_path / "clip.mkv", FeedOptions(realtime=True), clock)
    began = clock.now().monotonic
    pictures = read_all(source)
    assert clock.now().monotonic - began == pytest.approx(1.9, abs=0.01)
    assert [p.source_seconds for p in pictures] == pytest.approx([n / 10 for n in range(20)])
    assert [p.source_sequence for p in pictures] == list(range(20))
    assert pictures[0].format.rate == pytest.approx(10.0)


def test_as_fast_as_it_goes_waits_for_nothing(tmp_path: Path) -> None:
    write_clip(tmp_path / "clip.mkv", "yuv420p", "ffv1", frames=20, rate=10)
    clock = FakeClock()
    began = clock.now().monotonic
    assert len(read_all(source_of(tmp_path / "clip.mkv", FAST, clock))) == 20
    assert clock.now().monotonic == began


def test_a_loop_goes_on_in_time_and_number(tmp_path: Path) -> None:
    write_clip(tmp_path / "clip.mp4", "yuv420p", "libx264", width=64, height=48, frames=10, rate=25)
    source = source_of(tmp_path / "clip.mp4", FeedOptions(realtime=False, loop=True))
    source.open()
    pictures = [source.read() for _ in range(35)]
    source.close()
    assert [p.source_sequence for p in pictures] == list(range(35))
    steps = np.diff([p.source_seconds for p in pictures])
    assert steps == pytest.approx([0.04] * 34, abs=1e-6)
    assert np.array_equal(pictures[0].planes[0], pictures[10].planes[0])
    assert not any(p.corrupt for p in pictures)


def test_a_still_picture_is_one_frame_and_can_be_held(tmp_path: Path) -> None:
    write_clip(tmp_path / "still.png", "rgb24", "png", container="image2", frames=1, options={"update": "1"})
    assert len(read_all(source_of(tmp_path / "still.png"))) == 1
    held = source_of(tmp_path / "still.png", FeedOptions(realtime=False, loop=True))
    held.open()
    assert [held.read().source_sequence for _ in range(5)] == [0, 1, 2, 3, 4]
    held.close()


def test_a_still_picture_stays_while_it_is_watched(tmp_path: Path) -> None:
    write_clip(tmp_path / "still.png", "rgb24", "png", container="image2", frames=1, options={"update": "1"})
    clock = FakeClock()
    began = clock.now().monotonic
    watched = source_of(tmp_path / "still.png", FeedOptions(realtime=True), clock)
    watched.open()
    pictures = [watched.read() for _ in range(11)]
    watched.close()
    assert [p.source_seconds for p in pictures] == pytest.approx([n / 5 for n in range(11)])
    assert clock.now().monotonic - began == pytest.approx(2.0, abs=0.01)


def test_a_short_film_does_not_stay(tmp_path: Path) -> None:
    write_clip(tmp_path / "clip.mkv", "yuv420p", "ffv1", frames=1)
    assert len(read_all(source_of(tmp_path / "clip.mkv", FeedOptions(realtime=True)))) == 1


def test_buffers_are_used_again(tmp_path: Path) -> None:
    write_clip(tmp_path / "clip.mkv", "yuv420p", "ffv1", frames=20)
    pool = FramePool()
    source = FileSource(parse_address(str(tmp_path / "clip.mkv")), FAST, pool, FakeClock())
    source.open()
    seen = set()
    for _ in range(20):
        picture = source.read()
        seen.add(id(picture.planes[0]))
        pool.give(picture.planes)
    source.close()
    assert len(seen) == 1


def test_opening_again_and_again_keeps_nothing(tmp_path: Path) -> None:
    write_clip(tmp_path / "clip.mp4", "yuv420p", "libx264", width=320, height=240, frames=3)

    def once() -> None:
        source = source_of(tmp_path / "clip.mp4")
        source.open()
        source.read()
        source.close()

    def kept() -> tuple[float, int]:
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6, sum(1 for _ in Path("/proc/self/fd").iterdir())

    for _ in range(20):
        once()
    memory, files = kept()
    for _ in range(60):
        once()
    after = kept()
    assert after[0] - memory <= 10.0 and after[1] - files <= 2


# --- what cannot be played --------------------------------------------------------------------


def refused(path: Path, kind: type[Exception], words: str) -> None:
    source = source_of(path)
    with pytest.raises(kind) as told:
        source.open()
        while True:
            source.read()
    source.close()
    line = told.value.line()  # type: ignore[attr-defined]
    assert words in line and line.startswith(str(path)) and "\n" not in line


def test_what_is_not_a_picture(tmp_path: Path) -> None:
    (tmp_path / "empty.mov").touch()
    refused(tmp_path / "empty.mov", FeedUnreadable, "the file is empty")
    (tmp_path / "notes.txt").write_text("door light at four\n" * 50)
    refused(tmp_path / "notes.txt", FeedUnreadable, "text, not a picture")
    (tmp_path / "noise.mov").write_bytes(np.random.default_rng(1).bytes(5000))
    refused(tmp_path / "noise.mov", FeedUnreadable, "not a picture")
    refused(tmp_path, FeedUnreadable, "a folder")
    refused(tmp_path / "nothing.mov", FeedGone, "no such file")
    refused(tmp_path / "notes.txt" / "clip.mov", FeedGone, "no such file")
    refused(tmp_path / ("x" * 300), FeedUnreadable, "name is too long")


def test_a_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "clip.mkv"
    write_clip(path, "yuv420p", "ffv1")

    def denied(self: Path, *args: object, **kwargs: object) -> None:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "open", denied)  # the superuser may read everything, so it is imitated
    refused(path, FeedRefused, "permission denied")


def test_sound_alone_is_no_picture(tmp_path: Path) -> None:
    with wave.open(str(tmp_path / "sound.wav"), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(8000)
        sound.writeframes(b"".join(struct.pack("<h", int(9000 * math.sin(n / 5))) for n in range(8000)))
    refused(tmp_path / "sound.wav", FeedUnreadable, "only sound")


@pytest.mark.parametrize(
    ("name", "container", "words"), [("cut.mkv", "matroska", "cut off after"), ("cut.mp4", "mp4", "cut off")]
)
def test_a_truncated_file_says_so_after_its_last_picture(tmp_path: Path, name: str, container: str, words: str) -> None:
    path = tmp_path / name
    write_clip(path, "yuv420p", "libx264", container=container, width=320, height=240, frames=60, paint=smooth())
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    refused(path, FeedUnreadable, words)


def test_names_that_look_like_addresses_are_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write_clip(tmp_path / "clip.mkv", "yuv420p", "ffv1")
    (tmp_path / "clip.mkv").rename(tmp_path / "odd:name.mkv")
    for text in ("file:odd:name.mkv", "./odd:name.mkv", f"file://{tmp_path}/odd:name.mkv"):
        assert len(read_all(make_source(parse_address(text), FAST, FramePool(), FakeClock()))) == 5


# --- damage -----------------------------------------------------------------------------------


def damaged(path: Path, spots: int, start: float = 0.3, end: float = 0.6) -> None:
    data = bytearray(path.read_bytes())
    for spot in np.random.default_rng(2).integers(int(start * len(data)), int(end * len(data)), spots):
        data[spot] ^= 0xFF
    path.write_bytes(data)


def read_marks(path: Path) -> str:
    source = source_of(path)
    source.open()
    marks = ""
    while True:
        try:
            marks += "x" if source.read().corrupt else "."
        except FeedCorrupt:
            marks += "!"
        except (FeedEnded, FeedUnreadable):
            source.close()
            return marks


def test_after_damage_frames_are_suspect_until_the_next_key_frame(tmp_path: Path) -> None:
    path = tmp_path / "clip.ts"
    options = {"g": "20", "bf": "0", "sc_threshold": "0"}
    write_clip(
        path, "yuv420p", "libx264", container="mpegts", width=160, height=120, frames=100, options=options,
        bit_rate=4_000_000,
    )  # fmt: skip
    assert read_marks(path) == "." * 100
    damaged(path, 6)
    marks = read_marks(path)
    assert len(marks) >= 95
    first = min(marks.find("x") % 1000, marks.find("!") % 1000)
    assert 15 < first < 65
    # Whole from a key frame on: the good run after the last damage begins on a multiple of 20.
    last = max(marks.rfind("x"), marks.rfind("!"))
    assert last + 1 < 100 and "x" not in marks[80:]
    assert marks[:first] == "." * first


def soft422(number: int) -> list[np.ndarray]:
    luma, *_ = smooth(160, 120)(number)
    return [luma, np.full((120, 80), 110, np.uint8), np.full((120, 80), 140, np.uint8)]


def test_intra_coded_video_recovers_with_the_next_frame(tmp_path: Path) -> None:
    path = tmp_path / "clip.mov"
    write_clip(path, "yuvj422p", "mjpeg", container="mov", width=160, height=120, frames=40, paint=soft422)
    assert read_marks(path) == "." * 40
    damaged(path, 8)
    marks = read_marks(path)
    assert "x" in marks and marks.count("x") <= 8 and marks.endswith("....")


def test_checksums_of_a_lossless_codec_are_heard(tmp_path: Path) -> None:
    """FFV1 version 3 carries a checksum per slice (RFC 9043, 4.9.3); FFmpeg tells a mismatch only in its log."""
    path = tmp_path / "clip.mkv"
    write_clip(path, "yuv420p", "ffv1", frames=30, options={"level": "3", "slicecrc": "1"})
    damaged(path, 3)
    assert set(read_marks(path)) & {"x", "!"}


def test_damage_prints_nothing(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "clip.ts"
    write_clip(path, "yuv420p", "libx264", container="mpegts", width=160, height=120, frames=40, bit_rate=2_000_000)
    damaged(path, 20)
    read_marks(path)
    out, err = capfd.readouterr()
    assert out == "" and err == ""


def test_closing_from_another_thread_while_reading(tmp_path: Path) -> None:
    import threading

    write_clip(tmp_path / "clip.mkv", "yuv420p", "ffv1", width=320, height=240, frames=30)
    source = source_of(tmp_path / "clip.mkv", FeedOptions(realtime=False, loop=True))
    source.open()
    ended: list[BaseException] = []

    def run() -> None:
        try:
            while True:
                source.read()
        except FeedGone as error:
            ended.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    source.close()
    source.close()
    thread.join(10)
    assert not thread.is_alive() and len(ended) == 1
    with pytest.raises(FeedGone):
        source.read()
