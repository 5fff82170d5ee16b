"""The parts: cells, bands, runs, medians, the mean of frames, and the figures of hypotheses."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.measure.lineup import Average, look
from analysis.measure.lineup.bands import bands, runs
from analysis.measure.lineup.cells import Picture
from analysis.measure.lineup.fit import Feed, explain
from analysis.measure.lineup.hypotheses import Hypothesis, hypotheses, scale
from analysis.measure.lineup.patterns import AMPLITUDES, NAMES, colour
from analysis.model.errors import FeedCorrupt
from analysis.signal.bars import bars as printed_bars
from analysis.signal.layouts import LAYOUTS
from tests.measure import plain
from tests.measure.lineup import renders


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_cells_and_medians_of_every_layout(layout: str) -> None:
    """A flat picture of every layout reads its code in each component, in 8-bit codes whatever the depth."""
    how = LAYOUTS[layout]
    made = renders.frame(np.full((96, 128, 3), 0.5), layout)
    codes = [plane[0, 0] for plane in plain.components(made)]
    picture = Picture(made)
    cells = picture.cells()
    assert cells is not None
    unit = 2 ** (how.depth - 8)
    assert cells.means.shape == (len(how.components), 24, 32)
    for index, code in enumerate(codes):
        assert cells.means[index] == pytest.approx(code / unit, abs=1e-3)
    assert cells.spread.max() == pytest.approx(0.0, abs=0.05)
    assert picture.median((10.0, 60.0), (10.0, 60.0)) == tuple(float(code) for code in codes)


def test_cells_are_the_means_of_their_samples() -> None:
    dice = np.random.default_rng(3)
    luma = dice.integers(0, 256, (64, 128)).astype(np.uint8)
    cells = Picture(plain.frame_of((luma,), "gray", 128, 64)).cells()
    assert cells is not None and cells.size == 4
    blocks = luma.reshape(16, 4, 32, 4).astype(float)
    assert cells.means[0] == pytest.approx(blocks.mean(axis=(1, 3)), abs=1e-3)
    assert cells.spread == pytest.approx(blocks.std(axis=(1, 3)), abs=0.05)


def test_a_patch_outside_the_picture_has_no_median() -> None:
    picture = Picture(renders.frame(renders.bars(640, 360)))
    assert picture.median((700.0, 800.0), (0.0, 10.0)) is None
    assert picture.median((10.0, 20.0), (360.0, 400.0)) is None


def test_bands_and_runs() -> None:
    """A third of bars over a third of grey over a third of noise: two bands, eight runs and one."""
    picture = np.full((360, 640, 3), 0.4)
    picture[:120] = renders.bars(640, 120)
    picture[240:] = np.random.default_rng(1).random((120, 640, 3))
    cells = Picture(renders.frame(picture, "yuv444p")).cells()
    assert cells is not None
    first, second = bands(cells, 0.08)
    assert (first.top, first.bottom, second.top) == (0, 30, 30)
    assert [len(runs(band, 2.0)) for band in (first, second)] == [8, 1]
    white = runs(first, 2.0)[0]
    assert (white.first, white.last) == (0, 20) and white.codes == pytest.approx((180, 128, 128), abs=0.3)


def test_the_picture_is_not_written_to_and_must_fit_its_format() -> None:
    made = renders.frame(renders.bars(640, 360), "yuv420p")
    before = [plane.copy() for plane in made.planes]
    look(made)
    assert all((a == b).all() for a, b in zip(before, made.planes, strict=True))
    with pytest.raises(FeedCorrupt):
        look(msgspec.structs.replace(made, planes=made.planes[:2]))


def test_the_mean_of_frames_takes_noise_away() -> None:
    average = Average()
    for seed in range(16):
        average.add(renders.frame(renders.bars(640, 360), "yuv420p", noise=8.0, seed=seed))
    mean = average.frame()
    assert mean is not None and average.count == 16
    clean = renders.frame(renders.bars(640, 360), "yuv420p")
    off = mean.planes[0].astype(int) - clean.planes[0]
    assert off[:, :500].std() == pytest.approx(8.0 / 4.0, rel=0.1), "sixteen frames: a quarter of the noise"
    assert look(mean).true


def test_the_mean_starts_afresh_with_another_format_and_leaves_damage_out() -> None:
    average = Average()
    assert average.frame() is None
    average.add(renders.frame(renders.bars(640, 360)))
    average.add(renders.frame(renders.bars(320, 180), "p010le"))
    average.add(msgspec.structs.replace(renders.frame(renders.bars(320, 180), "p010le"), corrupt=True))
    mean = average.frame()
    assert average.count == 1 and mean is not None
    assert mean.format.width == 320 and mean.planes[0].dtype == np.uint16 and look(mean).true


def test_the_mean_rounds_to_the_nearest_code() -> None:
    average = Average()
    for code in (10, 11, 11):
        average.add(plain.frame_of((np.full((4, 4), code, np.uint8),), "gray", 4, 4))
    mean = average.frame()
    assert mean is not None and (mean.planes[0] == 11).all()


@pytest.mark.parametrize("written,black,white", [("narrow", 16, 235), ("full", 0, 255), ("squeezed", 29.74, 217.82)])
def test_scales(written: str, black: float, white: float) -> None:
    """BT.709-6 item 3.4; squeezed: 16 + 219 * 16/255 and 16 + 219 * 235/255 (CALC)."""
    size = scale(written, 8)
    assert size.black == pytest.approx(black, abs=0.01)
    assert size.black + size.span == pytest.approx(white, abs=0.01)


@pytest.mark.parametrize("rgb,grey,count", [(False, False, 9), (False, True, 9), (True, False, 21)])
def test_every_way_is_tried(rgb: bool, grey: bool, count: int) -> None:
    ways = hypotheses(rgb, grey)
    assert len(ways) == len(set(map(repr, ways))) == count


@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
@pytest.mark.parametrize("amplitudes", AMPLITUDES)
def test_printed_codes_are_explained_as_what_they_are(matrix: str, amplitudes: tuple[float, float]) -> None:
    """The bar table of the signal room, declared as it is, costs next to nothing and comes first."""
    white, colours = amplitudes
    table = printed_bars(colours, matrix)
    table["white"] = printed_bars(white, matrix)["white"]
    feed = Feed(rgb=False, grey=False, bits=8, declared=Hypothesis(written="narrow", matrix=matrix))
    best = explain(feed, NAMES, np.array([table[name] for name in NAMES], float))[0]
    assert best.how == feed.declared and best.amplitudes == amplitudes
    assert best.left < 1.0 and best.level.gain == pytest.approx(1.0, abs=0.01)
    codes = feed.whole(feed.declared, tuple(colour(name, amplitudes) for name in NAMES))
    assert [tuple(row) for row in codes] == [tuple(map(float, table[name])) for name in NAMES]
