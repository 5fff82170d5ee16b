"""Request numbers and structure sizes against the kernel's own header, compiled, and against its documented formula."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from analysis.feed.v4l2 import ioctls, structures

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the kernel's header is Linux only")

REQUESTS = [
    "QUERYCAP", "ENUM_FMT", "G_FMT", "S_FMT", "REQBUFS", "QUERYBUF", "QBUF", "DQBUF", "STREAMON", "STREAMOFF",
    "G_PARM", "S_PARM", "ENUMINPUT", "G_INPUT", "ENUM_FRAMESIZES", "ENUM_FRAMEINTERVALS", "S_DV_TIMINGS",
    "G_DV_TIMINGS", "DQEVENT", "SUBSCRIBE_EVENT", "QUERY_DV_TIMINGS",
]  # fmt: skip

CONSTANTS = {
    "V4L2_BUF_TYPE_VIDEO_CAPTURE": ioctls.BUF_TYPE_VIDEO_CAPTURE,
    "V4L2_BUF_TYPE_VIDEO_CAPTURE_MPLANE": ioctls.BUF_TYPE_VIDEO_CAPTURE_MPLANE,
    "V4L2_MEMORY_MMAP": ioctls.MEMORY_MMAP,
    "V4L2_CAP_VIDEO_CAPTURE": ioctls.CAP_VIDEO_CAPTURE,
    "V4L2_CAP_VIDEO_CAPTURE_MPLANE": ioctls.CAP_VIDEO_CAPTURE_MPLANE,
    "V4L2_CAP_STREAMING": ioctls.CAP_STREAMING,
    "V4L2_CAP_DEVICE_CAPS": ioctls.CAP_DEVICE_CAPS,
    "V4L2_CAP_TIMEPERFRAME": ioctls.CAP_TIMEPERFRAME,
    "V4L2_BUF_FLAG_ERROR": ioctls.BUF_FLAG_ERROR,
    "V4L2_FRMSIZE_TYPE_DISCRETE": ioctls.FRMSIZE_DISCRETE,
    "V4L2_FRMIVAL_TYPE_DISCRETE": ioctls.FRMIVAL_DISCRETE,
    "V4L2_IN_CAP_DV_TIMINGS": 0x2,
    "V4L2_EVENT_SOURCE_CHANGE": ioctls.EVENT_SOURCE_CHANGE,
    "V4L2_IN_ST_NO_POWER": 0x1,
    "V4L2_IN_ST_NO_SIGNAL": 0x2,
    "V4L2_IN_ST_NO_H_LOCK": 0x100,
    "V4L2_IN_ST_NO_V_LOCK": 0x400,
    "V4L2_IN_ST_NO_STD_LOCK": 0x800,
    "V4L2_IN_ST_NO_SYNC": 0x10000,
    "V4L2_IN_ST_NO_CARRIER": 0x40000,
}

# structure, kernel name, fields whose place is checked (ours, the kernel's)
PLACES: list[tuple[type[ctypes.Structure], str, list[tuple[str, str]]]] = [
    (structures.Capability, "v4l2_capability", [("card", "card"), ("device_caps", "device_caps")]),
    (structures.FormatDescription, "v4l2_fmtdesc", [("pixelformat", "pixelformat")]),
    (structures.PixelFormat, "v4l2_pix_format", [("bytesperline", "bytesperline"), ("quantization", "quantization")]),
    (structures.MultiplanarFormat, "v4l2_pix_format_mplane", [("plane_fmt", "plane_fmt"), ("num_planes", "num_planes"),
                                                              ("quantization", "quantization")]),
    (structures.MemoryPlane, "v4l2_plane", [("m", "m"), ("data_offset", "data_offset")]),
    (structures.Format, "v4l2_format", [("fmt", "fmt")]),
    (structures.FrameSize, "v4l2_frmsizeenum", [("size", "discrete")]),
    (structures.FrameInterval, "v4l2_frmivalenum", [("interval", "discrete")]),
    (structures.CaptureParameters, "v4l2_captureparm", [("timeperframe", "timeperframe")]),
    (structures.StreamParameters, "v4l2_streamparm", [("parm", "parm")]),
    (structures.RequestBuffers, "v4l2_requestbuffers", [("memory", "memory")]),
    (structures.Buffer, "v4l2_buffer", [("timestamp", "timestamp"), ("sequence", "sequence"), ("m", "m"),
                                        ("length", "length")]),
    (structures.Input, "v4l2_input", [("std", "std"), ("status", "status"), ("capabilities", "capabilities")]),
    (structures.BtTimings, "v4l2_bt_timings", [("pixelclock", "pixelclock"), ("flags", "flags")]),
    (structures.DvTimings, "v4l2_dv_timings", [("u", "bt")]),
    (structures.Event, "v4l2_event", [("u", "u"), ("timestamp", "timestamp"), ("id", "id")]),
    (structures.EventSubscription, "v4l2_event_subscription", [("flags", "flags")]),
]  # fmt: skip


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> dict[str, int]:
    """What the C compiler makes of the kernel's header on this machine."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or not Path("/usr/include/linux/videodev2.h").is_file():
        pytest.skip("no C compiler or no kernel headers here")
    lines = [f'printf("VIDIOC_{name} %lu\\n", (unsigned long)VIDIOC_{name});' for name in REQUESTS]
    lines += [f'printf("{name} %lu\\n", (unsigned long){name});' for name in CONSTANTS]
    for _, kernel, fields in PLACES:
        lines.append(f'printf("{kernel} %lu\\n", (unsigned long)sizeof(struct {kernel}));')
        for _, field in fields:
            place = f"offsetof(struct {kernel}, {field})"
            lines.append(f'printf("{kernel}.{field} %lu\\n", (unsigned long){place});')
    folder = tmp_path_factory.mktemp("kernel")
    headers = ["stdio.h", "stddef.h", "sys/time.h", "time.h", "linux/videodev2.h"]
    program = "".join(f"#include <{name}>\n" for name in headers) + "int main(void){" + "\n".join(lines) + "return 0;}"
    (folder / "print.c").write_text(program)
    subprocess.run([compiler, "-o", folder / "print", folder / "print.c"], check=True)
    printed = subprocess.run([folder / "print"], check=True, capture_output=True, text=True).stdout
    return {name: int(value) for name, value in (line.split() for line in printed.splitlines())}


@pytest.mark.parametrize("name", REQUESTS)
def test_request_numbers_are_the_compilers(compiled: dict[str, int], name: str) -> None:
    assert getattr(ioctls, name) == compiled[f"VIDIOC_{name}"]


@pytest.mark.parametrize("name", CONSTANTS)
def test_constants_are_the_headers(compiled: dict[str, int], name: str) -> None:
    assert CONSTANTS[name] == compiled[name]


@pytest.mark.parametrize("ours,kernel,fields", PLACES, ids=[kernel for _, kernel, _ in PLACES])
def test_structures_are_the_compilers(
    compiled: dict[str, int], ours: type[ctypes.Structure], kernel: str, fields: list[tuple[str, str]]
) -> None:
    assert ctypes.sizeof(ours) == compiled[kernel]
    for mine, theirs in fields:
        assert getattr(ours, mine).offset == compiled[f"{kernel}.{theirs}"], mine


# Numbers for 64-bit machines, computed by hand from asm-generic/ioctl.h: direction << 30 | size << 16 | 'V' << 8 | nr.
@pytest.mark.skipif(sys.maxsize < 1 << 32, reason="sizes of 64-bit machines")
@pytest.mark.parametrize(
    "name,direction,size,number",
    [
        ("QUERYCAP", 2, 104, 0), ("ENUM_FMT", 3, 64, 2), ("G_FMT", 3, 208, 4), ("S_FMT", 3, 208, 5),
        ("REQBUFS", 3, 20, 8), ("QUERYBUF", 3, 88, 9), ("QBUF", 3, 88, 15), ("DQBUF", 3, 88, 17),
        ("STREAMON", 1, 4, 18), ("STREAMOFF", 1, 4, 19), ("G_PARM", 3, 204, 21), ("S_PARM", 3, 204, 22),
        ("ENUMINPUT", 3, 80, 26), ("G_INPUT", 2, 4, 38), ("ENUM_FRAMESIZES", 3, 44, 74),
        ("ENUM_FRAMEINTERVALS", 3, 52, 75), ("S_DV_TIMINGS", 3, 132, 87), ("G_DV_TIMINGS", 3, 132, 88),
        ("DQEVENT", 2, 136, 89), ("SUBSCRIBE_EVENT", 1, 32, 90), ("QUERY_DV_TIMINGS", 2, 132, 99),
    ],
)  # fmt: skip
def test_request_numbers_follow_the_documented_formula(name: str, direction: int, size: int, number: int) -> None:
    assert getattr(ioctls, name) == (direction << 30) + (size << 16) + (0x56 << 8) + number


def test_call_goes_on_after_a_signal(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter([InterruptedError(), InterruptedError(), None])

    def fake(fd: int, number: int, argument: object) -> None:
        answer = next(answers)
        if answer is not None:
            raise answer

    monkeypatch.setattr("fcntl.ioctl", fake)
    ioctls.call(0, ioctls.G_FMT, structures.Format())
    assert next(answers, "all used") == "all used"
