"""Recognition and false-tick rates over the whole grid: ``python -m tests.measure.lineup.rates``."""

from __future__ import annotations

import itertools
import time
from collections import Counter

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.measure.lineup import look
from tests.measure import plain
from tests.measure.lineup import renders
from tests.measure.lineup.grid import SIZES, cases, nothing
from tests.standards import lavfi

CODECS = {
    "H.264 crf 18": ("libx264", {"crf": "18"}, "yuv420p"),
    "H.264 crf 28": ("libx264", {"crf": "28", "preset": "veryfast"}, "yuv420p"),
    "H.264 crf 35": ("libx264", {"crf": "35", "preset": "ultrafast"}, "yuv420p"),
    "MPEG-2": ("mpeg2video", {}, "yuv420p"),
    "MJPEG": ("mjpeg", {}, "yuvj422p"),
}


def boathouse():
    """The boathouse under many exposures, 8 and 10 bit, with and without noise."""
    for iso in (200, 800, 3200, 12800):
        for nd in (0, 2, 4):
            for curve, layout, noise in (("bt709", "yuyv422", True), ("acescct", "yuv422p10le", False)):
                shot = SceneControls(width=1280, height=720, iso=iso, nd=nd, curve=curve, layout=layout, noise=noise)
                picture = Renderer(shot).picture(3.0, 1)
                made = plain.frame_of(picture.planes, layout, 1280, 720)
                yield renders.told(made, curve=curve)


def main() -> None:
    count: Counter[str] = Counter()
    large = cases(SIZES[:2], ("yuv420p",), ("right", "-2 %", "+5 %"))
    for case in itertools.chain(cases(SIZES[2:]), large):
        found = look(case.frame())
        count["pictures"] += 1
        wrong = case.faults if not case.beyond_the_codes else case.faults - {"level"}
        count["named rightly"] += found.pattern == case.name
        count["faults exactly right"] += {fault.what for fault in found.faults} == wrong
        count["true chains"] += not case.faults
        count["ticks of true chains"] += found.true and not case.faults
        count["errors beyond the codes"] += case.beyond_the_codes
        count["false ticks"] += found.true and bool(case.faults) and not case.beyond_the_codes
    print("bars", dict(count), flush=True)
    for name, (codec, options, layout) in CODECS.items():
        count = Counter()
        for size in SIZES:
            for generator, matrix in (("smptehdbars", "bt709"), ("pal75bars", "bt601"), ("pal100bars", "bt601")):
                made = renders.through(lavfi.drawn(generator, layout, *size, matrix=matrix), codec, options, 3)
                # FFmpeg draws the yuvj layouts in full range; the operator says so.
                made = renders.told(made, range="full" if layout.startswith("yuvj") else "narrow")
                found = look(made)
                other = look(renders.told(made, matrix="bt601" if matrix == "bt709" else "bt709"))
                count["pictures"] += 1
                count["ticks"] += found.true
                count["ticks under the wrong matrix"] += other.true
        print(name, dict(count), flush=True)
    count = Counter()
    for name, frame in nothing(60):
        count[f"{name}: pictures"] += 1
        count[f"{name}: called a pattern"] += look(frame).pattern is not None
        count["false ticks"] += look(frame).true
    for frame in boathouse():
        count["boathouse: pictures"] += 1
        count["boathouse: called a pattern"] += look(frame).pattern is not None
    print("no line-up", dict(count))
    speed()


def speed() -> None:
    """Cost at 1080p in units of one histogram of the luma plane, both the least of many runs."""
    import cv2

    cv2.setNumThreads(1)
    for name, frame in (
        ("multi-pattern", lavfi.drawn("smptehdbars", "yuv422p")),
        ("75 % bars, wrong matrix", renders.told(lavfi.drawn("pal75bars", "yuv422p"), matrix="bt709")),
        ("ramp", renders.frame(renders.grey(renders.ramp(1920, 1080)), "yuv422p")),
        ("noise", renders.frame(renders.grey(renders.ramp(1920, 1080)) * 0 + 0.4, "yuv422p", noise=20.0)),
    ):
        unit = min(timed(lambda: cv2.calcHist([frame.planes[0]], [0], None, [256], [0, 256])) for _ in range(40))  # noqa: B023
        cost = min(timed(lambda: look(frame)) for _ in range(40))  # noqa: B023
        print(f"{name}: {1000 * cost:.1f} ms, {cost / unit:.1f} units of {1000 * unit:.2f} ms")


def timed(work) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
