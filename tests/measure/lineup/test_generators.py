"""FFmpeg's own line-up generators, plain and through codecs.

``smptehdbars`` draws SMPTE RP 219-2002; ``smptebars``, ``pal75bars`` and ``pal100bars`` are coded with ITU-R
BT.601. All are narrow range.
"""

from __future__ import annotations

import functools

import msgspec
import pytest

from analysis.measure.lineup import look
from analysis.model.frame import Frame
from tests.measure.lineup import renders
from tests.standards import lavfi

SIZES = [(1920, 1080), (1280, 720), (960, 540), (640, 360), (720, 576), (320, 180)]
CODED_601 = {
    "smptebars": "three-row 75 % bars",
    "pal75bars": "100/0/75/0 bars",
    "pal100bars": "100 % bars",
}


@functools.cache
def drawn(generator: str, layout: str, size: tuple[int, int], matrix: str) -> Frame:
    return lavfi.drawn(generator, layout, *size, matrix=matrix)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("layout", ["yuv420p", "yuyv422", "nv12", "yuv422p10le", "yuv444p12le"])
def test_multi_pattern_bars_tick_at_every_size(size: tuple[int, int], layout: str) -> None:
    found = look(drawn("smptehdbars", layout, size, "bt709"))
    assert found.pattern == "BT.709 multi-pattern (RP 219) bars"
    assert found.true and not found.faults
    assert {"-2 IRE", "+2 IRE", "+4 IRE", "15 IRE", "100 IRE", "cyan 100", "left side"} <= {b.name for b in found.bars}


def test_every_patch_has_the_codes_that_the_standard_prints() -> None:
    """75 % and 100 % codes of SMPTE RP 219 in 8 bit (CALC from BT.709-6, and as FFmpeg draws them)."""
    bars = {bar.name: bar for bar in look(drawn("smptehdbars", "yuv422p", (1920, 1080), "bt709")).bars}
    printed = {
        "white": (180, 128, 128), "yellow": (168, 44, 136), "cyan": (145, 147, 44), "green": (133, 63, 52),
        "magenta": (63, 193, 204), "red": (51, 109, 212), "blue": (28, 212, 120), "left side": (104, 128, 128),
        "cyan 100": (188, 154, 16), "yellow 100": (219, 16, 138), "red 100": (63, 102, 240),
        "blue 100": (32, 240, 118), "15 IRE": (49, 128, 128), "0 IRE": (16, 128, 128), "100 IRE": (235, 128, 128),
        "-2 IRE": (12, 128, 128), "+2 IRE": (20, 128, 128), "+4 IRE": (25, 128, 128),
    }  # fmt: skip
    assert {name: bars[name].expected for name in printed} == printed
    assert {name: bars[name].found for name in printed} == printed


@pytest.mark.parametrize("generator", CODED_601)
@pytest.mark.parametrize("size", [(720, 576), (1280, 720), (640, 360)])
def test_bt601_bars_tick_as_bt601_and_never_as_bt709(generator: str, size: tuple[int, int]) -> None:
    for layout in ("yuv420p", "yuv422p10le"):
        right = look(drawn(generator, layout, size, "bt601"))
        assert right.true and right.pattern == f"BT.601 {CODED_601[generator]}"
        for matrix in ("bt709", "bt2020"):
            wrong = look(drawn(generator, layout, size, matrix))
            assert not wrong.true and wrong.pattern == right.pattern
            assert [fault.what for fault in wrong.faults] == ["matrix"]
            assert "--matrix bt601" in wrong.faults[0].set


@pytest.mark.parametrize("declared", ["bt601", "bt2020"])
def test_bt709_bars_never_tick_as_another_matrix(declared: str) -> None:
    found = look(drawn("smptehdbars", "yuv422p", (1280, 720), declared))
    assert not found.true and [fault.what for fault in found.faults] == ["matrix"]


@pytest.mark.parametrize("generator", ["smptehdbars", "pal75bars"])
def test_narrow_bars_declared_full(generator: str) -> None:
    matrix = "bt709" if generator == "smptehdbars" else "bt601"
    found = look(renders.told(drawn(generator, "yuv420p", (1280, 720), matrix), range="full", range_from="tag"))
    (fault,) = found.faults
    assert fault.what == "range" and "--range narrow" in fault.set and "full (data) range" in fault.set
    assert "the feed's own tag" in fault.detail


@pytest.mark.parametrize("generator", ["smptehdbars", "smptebars", "pal75bars"])
def test_rgb_made_by_ffmpeg_from_8_bit_ycbcr(generator: str) -> None:
    """Full-range R'G'B' of 8-bit Y'CbCr: rounding on the way stays within the wider tolerance of coloured bars."""
    assert look(renders.told(drawn(generator, "rgb24", (1280, 720), "bt601"), range="full")).true


CODECS = [
    ("libx264", {"crf": "18"}, "yuv420p"),
    ("libx264", {"crf": "28", "preset": "veryfast"}, "yuv420p"),
    ("libx264", {"crf": "30", "preset": "ultrafast"}, "yuv422p10le"),
    ("mpeg2video", {}, "yuv420p"),
    ("mjpeg", {}, "yuvj422p"),
    ("mjpeg", {}, "yuvj420p"),
]


@pytest.mark.parametrize("codec,options,layout", CODECS)
@pytest.mark.parametrize("size", [(1280, 720), (640, 360)])
def test_lossy_coding_leaves_the_verdict(
    codec: str, options: dict[str, str], layout: str, size: tuple[int, int]
) -> None:
    """MJPEG carries full range, as FFmpeg converts it for ``yuvj``; the others what the generator drew."""
    written = "full" if layout.startswith("yuvj") else "narrow"
    for generator, matrix, other in (("smptehdbars", "bt709", "bt601"), ("pal75bars", "bt601", "bt709")):
        made = renders.through(drawn(generator, layout, size, matrix), codec, options, 2)
        made = renders.told(made, range=written)
        assert look(made).true, generator
        wrong = look(renders.told(made, matrix=other))
        assert not wrong.true and [fault.what for fault in wrong.faults] == ["matrix"], generator


@pytest.mark.parametrize("gain,lift", [(0.98, 0.0), (1.05, 0.0), (0.95, 0.05)])
def test_level_errors_are_still_seen_after_h264(gain: float, lift: float) -> None:
    made = renders.frame(renders.bars(1280, 720, sides=True), "yuv420p", gain=gain, lift=lift)
    found = look(renders.through(made, "libx264", {"crf": "26", "preset": "veryfast"}, 2))
    assert found.pattern == "BT.709 75 % bars with grey sides"
    assert [fault.what for fault in found.faults] == ["level"]


@pytest.mark.parametrize("generator", ["testsrc", "testsrc2", "rgbtestsrc", "gradients", "colorspectrum"])
def test_other_test_pictures_are_no_line_up(generator: str) -> None:
    for size in ((1280, 720), (640, 360)):
        found = look(lavfi.drawn(generator, "yuv420p", *size))
        assert found.pattern is None and not found.true and found.faults == () and found.bars == ()


def test_json_has_the_documented_keys() -> None:
    line = msgspec.json.decode(msgspec.json.encode(look(drawn("pal75bars", "yuv420p", (640, 360), "bt709"))))
    assert list(line) == ["pattern", "true", "faults", "bars"]
    assert [list(fault) for fault in line["faults"]] == [["what", "detail", "set"]]
    assert list(line["bars"][0]) == ["name", "expected", "found", "difference"]
