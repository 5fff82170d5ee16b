"""Every combination of pattern, encoding and error that a chain is tried with, and what must be said of it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import msgspec
import numpy as np

from analysis.model.frame import Frame
from tests.measure.lineup import renders

SIZES = ((1920, 1080), (1280, 720), (640, 360))
LAYOUTS = ("yuv420p", "yuyv422", "yuv422p10le", "rgb24")
PATTERNS = {
    "75": (75.0, 75.0, False),
    "75s": (75.0, 75.0, True),
    "100": (100.0, 100.0, False),
    "mix": (100.0, 75.0, False),
}
KINDS = {"75": "75 % bars", "75s": "75 % bars with grey sides", "100": "100 % bars", "mix": "100/0/75/0 bars"}
LEVELS = {
    "right": (1.0, 0.0),
    "-2 %": (0.98, 0.0),
    "+2 %": (1.02, 0.0),
    "-5 %": (0.95, 0.0),
    "+5 %": (1.05, 0.0),
    "black +5 IRE": (0.95, 0.05),
    "all +5 IRE": (1.0, 0.05),
}


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """One picture: how it is written and how it is declared."""

    size: tuple[int, int]
    layout: str
    pattern: str
    coded: str
    written: str
    matrix: str
    declared: str
    level: str

    @property
    def rgb(self) -> bool:
        return self.layout == "rgb24"

    @property
    def faults(self) -> set[str]:
        """What is wrong, by construction."""
        return {
            *(["range"] if self.written != self.declared else []),
            *(["matrix"] if not self.rgb and self.coded != self.matrix else []),
            *(["level"] if self.level != "right" else []),
        }

    @property
    def name(self) -> str:
        kind = KINDS[self.pattern]
        return kind if self.rgb else f"{renders.STANDARD[self.coded]} {kind}"

    @property
    def beyond_the_codes(self) -> bool:
        """Whether the error leaves no trace: every code of 100 % R'G'B' bars in full range is an end of the codes."""
        return self.rgb and self.pattern == "100" and self.written == "full" and self.level in ("+2 %", "+5 %")

    def frame(self) -> Frame:
        white, colours, sides = PATTERNS[self.pattern]
        gain, lift = LEVELS[self.level]
        return renders.frame(
            renders.bars(*self.size, white, colours, sides),
            self.layout,
            written=self.written,
            coded=self.coded,
            declared=self.declared,
            matrix=self.matrix,
            gain=gain,
            lift=lift,
        )


def cases(sizes=SIZES, layouts=LAYOUTS, levels=tuple(LEVELS)) -> Iterator[Case]:
    """All of them; R'G'B' has no matrix of its own."""
    ranges = ("narrow", "full")
    for size, layout, pattern, level in itertools.product(sizes, layouts, PATTERNS, levels):
        rgb = layout == "rgb24"
        for coded, matrix in itertools.product(
            ["bt709"] if rgb else renders.STANDARD, ["bt709"] if rgb else ["bt709", "bt601"]
        ):
            for written, declared in itertools.product(ranges, ranges):
                yield Case(
                    size=size, layout=layout, pattern=pattern, coded=coded,
                    written=written, matrix=matrix, declared=declared, level=level,
                )  # fmt: skip


def nothing(count: int, size: tuple[int, int] = (640, 360)) -> Iterator[tuple[str, Frame]]:
    """Pictures that are no line-up: noise, flats, other bars, soft colours; ``count`` of each."""
    dice = np.random.default_rng(5)
    width, height = size
    layouts = itertools.cycle(LAYOUTS)
    order = np.array(renders.ORDER)

    def across(colours: np.ndarray, layout: str) -> Frame:
        places = np.arange(width) * len(colours) // width
        return renders.frame(np.broadcast_to(colours[places], (height, width, 3)), layout)

    for _ in range(count):
        layout = next(layouts)
        flat = np.broadcast_to(np.full(3, dice.random()), (height, width, 3))
        yield "flat grey", renders.frame(flat, layout)
        yield "flat colour", renders.frame(np.broadcast_to(dice.random(3), (height, width, 3)), layout)
        yield "noise", renders.frame(dice.random((height, width, 3)), layout)
        yield "random bars", across(dice.random((int(dice.integers(5, 12)), 3)), layout)
        turned = dice.permutation(8)
        if not (turned == np.arange(8)).all():
            yield "bars in another order", across(0.75 * order[turned], layout)
        yield "bars of random strength", across(order[:8] * dice.uniform(0.3, 1.0, (8, 1)), layout)
        soft = np.kron(dice.random((4, 5, 3)), np.ones((height // 4, width // 5, 1)))
        yield "patches", renders.frame(soft, layout)
