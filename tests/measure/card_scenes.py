"""Brackets of the boathouse's grey card, rendered through the scene's camera, whose truth is known."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

import msgspec

from analysis.feed.pool import FramePool
from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.measure.card import CardArea, CardView, StepReading, read_step, see_card
from analysis.model.frame import Frame
from analysis.model.instant import Instant

WIDTH, HEIGHT = 640, 360
LAYOUTS = {8: "yuyv422", 10: "yuv422p10le", 12: "yuv422p12le"}


@cache
def stage() -> Stage:
    return Stage(WIDTH, HEIGHT, "intermediate")


def card() -> CardArea:
    left, top, right, bottom = stage().regions["card"]
    return CardArea(x=left + 2, y=top + 2, width=right - left - 4, height=bottom - top - 4, in_pixels=True)


def controls(bits: int = 10, **more: Any) -> SceneControls:
    """The camera as it stands by default: an 18 % card at 0.18, at the native ISO."""
    return SceneControls(width=WIDTH, height=HEIGHT, layout=LAYOUTS[bits], clouds=False, **more)


def views(how: SceneControls, stops: float, frames: int = 4) -> list[CardView]:
    """The card with the neutral density changed by whole or part stops, and nothing else."""
    renderer = Renderer(msgspec.structs.replace(how, nd=how.nd - stops), FramePool(), stage())
    seen = []
    for number in range(frames):
        picture = renderer.picture(number / how.rate, number)
        frame = Frame(
            planes=picture.planes, format=picture.format, instant=Instant(0.0, 0.0), generation=1, sequence=number
        )
        seen.append(see_card(frame, card()))
    return seen


def bracket(how: SceneControls, steps: Iterable[float] = range(-8, 9), frames: int = 4) -> list[StepReading]:
    return [read_step(float(stops), views(how, stops, frames)) for stops in steps]
