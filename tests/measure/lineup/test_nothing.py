"""What is no line-up picture must not be called one, and must never get a tick."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.measure.lineup import NOTHING, look
from tests.measure import plain
from tests.measure.lineup import renders
from tests.measure.lineup.grid import nothing


def test_noise_flats_and_other_bars() -> None:
    called: Counter[str] = Counter()
    for name, made in nothing(12):
        found = look(made)
        assert not found.true, name
        called[name] += found.pattern is not None
    # Bars in the right order but of random strength are bars, wrongly carried; nothing else is.
    assert not {name for name, count in called.items() if count} - {"bars of random strength"}


@pytest.mark.parametrize(
    "iso,nd,curve", [(200, 0, "bt709"), (800, 2, "bt709"), (6400, 0, "acescct"), (800, 6, "acescct")]
)
@pytest.mark.parametrize("noise", [True, False])
def test_the_boathouse_at_several_exposures(iso: float, nd: float, curve: str, noise: bool) -> None:
    for layout in ("yuyv422", "yuv422p10le"):
        shot = SceneControls(width=640, height=360, iso=iso, nd=nd, curve=curve, layout=layout, noise=noise)
        picture = Renderer(shot).picture(3.0, 1)
        assert look(plain.frame_of(picture.planes, layout, 640, 360)) == NOTHING


@pytest.mark.parametrize("level", [0.0, 0.18, 0.5, 1.0])
@pytest.mark.parametrize("layout", ["yuv420p", "rgb24", "gray"])
def test_black_grey_and_white(level: float, layout: str) -> None:
    assert look(renders.frame(np.full((360, 640, 3), level), layout)) == NOTHING


def test_bars_that_are_mirrored_or_stand_on_end_are_not_taken_for_bars() -> None:
    picture = renders.bars(640, 360)
    assert not look(renders.frame(picture[:, ::-1].copy())).true
    assert look(renders.frame(np.rot90(renders.bars(360, 640)).copy())).pattern is None


def test_cb_and_cr_exchanged_take_the_tick() -> None:
    made = renders.frame(renders.bars(640, 360), "yuyv422")
    swapped = made.planes[0].reshape(360, 320, 4)[:, :, [0, 3, 2, 1]].reshape(360, 1280)
    wrong = plain.frame_of((np.ascontiguousarray(swapped),), "yuyv422", 640, 360)
    assert look(made).true and not look(wrong).true


def test_a_title_over_the_bars_takes_the_tick_or_leaves_it_but_never_lies() -> None:
    """A dark title over the green bar: the median of the bar is still that of green."""
    picture = renders.bars(640, 360)
    picture[150:200, 250:310] = 0.1
    found = look(renders.frame(picture))
    assert found.pattern is None or found.pattern == "BT.709 75 % bars"
