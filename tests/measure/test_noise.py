"""Noise of rendered scenes against the sensor that made it, and everything that must be refused instead."""

from __future__ import annotations

from fractions import Fraction
from math import log2, log10, sqrt

import av
import cv2
import numpy as np
import pytest

from analysis.feed.scene.camera import Camera
from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.measure import noise
from analysis.measure.noise import NoiseFound, NoiseMeter
from analysis.measure.sample import Sample, Sampler
from analysis.measure.still import cut, still
from analysis.model.frame import Encoding, Frame, FrameFormat
from analysis.model.instant import Instant
from analysis.signal.curves import curve

SIZE = 960, 540
AREA = (0, 0, *SIZE)
FORM = FrameFormat(
    layout="gray", width=SIZE[0], height=SIZE[1], encoding=Encoding(bits=8, range="narrow", matrix="bt709")
)
STAGE: list[Stage] = []


def renderer(**wish) -> Renderer:
    controls = SceneControls(width=SIZE[0], height=SIZE[1], **{"clouds": False, "sway": False} | wish)
    made = Renderer(controls, stage=STAGE[0] if STAGE else None)
    STAGE[:] = [made._stage]
    return made


def frame(planes: tuple[np.ndarray, ...], form: FrameFormat = FORM) -> Frame:
    return Frame(planes=planes, format=form, instant=Instant(0.0, 0.0), generation=1, sequence=0)


def pair(first: Frame, second: Frame, name: str | None = "bt709", floor: float = 0.0) -> NoiseFound:
    sampler = Sampler(first.format)
    meter = NoiseMeter(first.format, curve(name) if name else None)
    meter.hold(sampler.take(first, AREA, False, beside=True), 1)
    return meter.compare(sampler.take(second, AREA, False, beside=True), 1, floor)


def rendered(**wish) -> NoiseFound:
    made = renderer(**wish)
    shots = [made.picture(1.0 + number / 25.0, number) for number in (0, 1)]
    return pair(*(frame(shot.planes, shot.format) for shot in shots), made.controls.curve)


def expected_db(camera: Camera, linear: float) -> float:
    """Signal-to-noise of luminance of a grey patch of this linear signal: R, G and B have noise of their own."""
    light = linear / (2.0**camera.controls.sensor_stops * camera.controls.gain)
    mean, sigma = camera.noise_of(light)
    return 20.0 * log10(mean / (sigma * sqrt(0.2126**2 + 0.7152**2 + 0.0722**2)))


@pytest.mark.parametrize("iso", [400, 800, 1600, 3200])
@pytest.mark.parametrize("name,layout", [("bt709", "yuyv422"), ("bt709", "yuv422p10le"), ("acescct", "yuv422p10le")])
@pytest.mark.parametrize("moving", [False, True])
def test_the_boathouse_has_the_noise_of_its_sensor(iso: float, name: str, layout: str, moving: bool) -> None:
    """Exposure follows ISO so that the picture stays; at 5 dB the curve is no longer straight across the noise."""
    wish = {"iso": iso, "curve": name, "layout": layout, "nd": 2.0 + log2(iso / 800.0)}
    wish |= {"clouds": moving, "sway": moving}
    found = rendered(**wish)
    assert found.noise.refused is None and found.shadow_light is not None
    signal = found.shadow_light * 10.0 ** (found.noise.shadow_snr_db / 20.0)
    assert found.noise.shadow_snr_db == pytest.approx(expected_db(renderer(**wish)._camera, signal), abs=0.8)
    assert found.noise.shadow_snr_db == pytest.approx(6.0206 * found.noise.shadow_snr_stops, rel=1e-4)
    # The shadows are those of the picture without noise: the darkest tenth of what lies above black.
    clean = Renderer(renderer(**wish | {"noise": False}).controls, stage=STAGE[0])
    shot = clean.picture(1.0, 0)
    luma = Sampler(shot.format).take(frame(shot.planes, shot.format), AREA, False).luma.astype(float)
    scale = 4.0 if layout.endswith("10le") else 1.0
    blocks = cv2.resize(luma, (luma.shape[1] // 16, luma.shape[0] // 8), interpolation=cv2.INTER_AREA)
    blocks = blocks[blocks > (16.0 + 0.5 * 2.19) * scale]
    level = np.quantile(blocks, 0.06) / scale
    light = float(curve(name).decode(np.array((level - 16.0) / 219.0)))
    assert abs(log2(signal / light)) < 0.7


def test_noise_grows_with_iso_and_bands_with_it() -> None:
    found = [rendered(iso=iso, nd=2.0 + log2(iso / 800.0)) for iso in (400, 1600, 6400)]
    ire = [one.noise.ire for one in found]
    assert ire[0] < ire[1] / 2 < ire[2] / 4
    for one in found:
        assert len(one.bands) >= 5
        assert sum(band.pixels for band in one.bands) <= Sampler(FORM).take(frame(_blank()), AREA).luma.size
        levels = [band.level for band in one.bands]
        assert levels == sorted(levels)


BASE = np.linspace(40.0, 200.0, SIZE[0])[None, :] + np.linspace(-20.0, 20.0, SIZE[1])[:, None]
TEXTURE = cv2.GaussianBlur(np.random.default_rng(1).normal(0.0, 250.0, SIZE[::-1]), (0, 0), 2.5) + 100.0


def _blank() -> tuple[np.ndarray, ...]:
    return (np.full(SIZE[::-1], 100, np.uint8),)


def grain(picture: np.ndarray, sigma: float = 2.0, seed: int = 1) -> Frame:
    dice = np.random.default_rng(seed)
    return frame((np.clip(np.rint(picture + dice.normal(0.0, sigma, picture.shape)), 1, 254).astype(np.uint8),))


@pytest.mark.parametrize("picture", [BASE, TEXTURE], ids=["ramp", "texture"])
@pytest.mark.parametrize("sigma", [0.5, 1.0, 2.0, 5.0])
def test_known_noise_in_codes(picture: np.ndarray, sigma: float) -> None:
    found = pair(grain(picture, sigma), grain(picture, sigma, 2))
    assert found.noise.ire == pytest.approx(sigma / 2.19, rel=0.04)
    for band in found.bands:
        assert band.sigma == pytest.approx(sigma / 2.19, rel=0.06 + 2.0 / sqrt(band.pixels))


def test_light_that_drifts_a_little_is_no_noise() -> None:
    second = grain(16.0 + (BASE - 16.0) * 1.01, 2.0, 2)
    assert pair(grain(BASE), second).noise.ire == pytest.approx(2.0 / 2.19, rel=0.05)


def test_a_part_that_moves_is_left_out() -> None:
    first, second = BASE.copy(), BASE.copy()
    first[:, 500:800], second[:, 500:800] = TEXTURE[:, 500:800], np.roll(TEXTURE, 5, 0)[:, 500:800]
    found = pair(grain(first), grain(second, seed=2)).noise
    assert found.refused is None and found.ire == pytest.approx(2.0 / 2.19, rel=0.06)


@pytest.mark.parametrize("pixels", [1, 5])
def test_most_of_the_picture_moving_is_refused_however_fine_its_texture(pixels: int) -> None:
    """Sand: neighbours differ as noise does. Six tenths of the picture, at the levels of the rest, shift."""
    sand = np.random.default_rng(8).normal(0.0, 12.0, BASE.shape)
    first, second = (np.tile(np.linspace(60.0, 160.0, SIZE[1])[:, None], (1, SIZE[0])) for _ in range(2))
    first[:, :600] += sand[:, :600]
    second[:, :600] += np.roll(sand, pixels, 1)[:, :600]
    found = pair(grain(first), grain(second, seed=2)).noise
    assert found.refused == noise.MOVING


def test_soft_things_that_move_are_told_by_how_neighbours_differ() -> None:
    """Movement that adds less than the noise itself, in four tenths of the picture."""
    soft = cv2.GaussianBlur(np.random.default_rng(9).normal(0.0, 1.0, BASE.shape), (0, 0), 3.0)
    soft *= 1.4 / soft.std()
    first, second = BASE.copy(), BASE.copy()
    first[320:] += soft[320:]
    second[320:] += np.roll(soft, 20, 1)[320:]
    found = pair(grain(first), grain(second, seed=2))
    assert found.noise.ire == pytest.approx(2.0 / 2.19, rel=0.03)
    assert all(band.sigma == pytest.approx(2.0 / 2.19, rel=0.05) for band in found.bands if band.pixels > 2000)


def test_noise_of_an_interpolated_colour_mosaic_is_still_noise() -> None:
    """Bilinear interpolation makes neighbours alike by 0.385 (by calculation), movement by far more."""
    kernel = np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]]) / 8.0
    shots = [
        BASE + cv2.filter2D(np.random.default_rng(seed).normal(0.0, 3.0, BASE.shape), -1, kernel) for seed in (1, 2)
    ]
    found = pair(*(frame((np.rint(shot).astype(np.uint8),)) for shot in shots)).noise
    assert found.ire == pytest.approx(3.0 * sqrt(20.0) / 8.0 / 2.19, rel=0.05)


@pytest.mark.parametrize("pixels", [1, 2, 4, 16, 64])
def test_a_pan_over_texture_is_refused(pixels: int) -> None:
    found = pair(grain(TEXTURE), grain(np.roll(TEXTURE, pixels, 1), seed=2)).noise
    assert found.refused in (noise.MOVING, noise.HANGING)
    assert (found.ire, found.shadow_snr_db, found.shadow_snr_stops) == (None, None, None)


@pytest.mark.parametrize("pixels", [1, 3, 8, 24])
def test_a_pan_over_the_boathouse_is_refused_or_reads_what_is_there(pixels: int) -> None:
    clean = renderer(noise=False, layout="gray", nd=3.0)
    picture = clean.picture(1.0, 0).planes[0].astype(float)
    still_one = pair(grain(picture), grain(picture, seed=2)).noise
    panned = pair(grain(picture), grain(np.roll(picture, pixels, 1), seed=2)).noise
    if panned.refused is None:
        assert panned.ire == pytest.approx(still_one.ire, rel=0.12)
    else:
        assert panned.refused in (noise.MOVING, noise.LIGHT_MOVED)


def refusal(first: Frame, second: Frame, **how) -> str | None:
    found = pair(first, second, **how)
    if found.noise.refused != noise.NO_CURVE:
        assert found.noise.shadow_snr_db is None and found.noise.ire is None and found.shadow_light is None
    return found.noise.refused


def test_what_is_refused_and_how_it_is_said() -> None:
    assert refusal(grain(BASE), grain(BASE)) == noise.REPEATED
    assert refusal(grain(BASE), grain(16.0 + (BASE - 16.0) * 1.06, seed=2)) == noise.LIGHT_MOVED
    assert refusal(grain(BASE, 0.3), grain(BASE, 0.3, 2)) in (noise.TOO_FINE, noise.CODED_STILL)
    assert refusal(grain(BASE * 0.0 + 16.0), grain(BASE * 0.0 + 16.0, seed=2)) == noise.NO_SHADOW
    for why in (value for name, value in vars(noise).items() if name.isupper() and isinstance(value, str)):
        assert "\n" not in why and why == why.strip() and not why.endswith(".")


def test_without_a_curve_noise_is_told_in_ire_only() -> None:
    found = pair(grain(BASE), grain(BASE, seed=2), name=None)
    assert found.noise.refused == noise.NO_CURVE and found.noise.shadow_snr_db is None
    assert found.noise.ire == pytest.approx(2.0 / 2.19, rel=0.04) and found.bands and found.shadow_light is None


def test_a_coded_picture_that_repeats_its_still_parts_is_refused() -> None:
    second = grain(BASE).planes[0].copy()
    second[:60] = grain(BASE, seed=2).planes[0][:60]
    assert refusal(grain(BASE), frame((second,))) == noise.CODED_STILL


def test_h264_at_a_low_rate_is_refused_or_reads_less_noise_than_there_was() -> None:
    """Coding takes noise away; what is left is the noise of the picture as delivered."""
    coder = av.CodecContext.create("libx264", "w")
    coder.width, coder.height, coder.pix_fmt, coder.time_base = *SIZE, "yuv420p", Fraction(1, 25)
    coder.options = {"crf": "30", "preset": "veryfast", "tune": "zerolatency", "bf": "0"}
    decoder, shots = av.CodecContext.create("h264", "r"), []
    for number in range(6):
        planes = grain(BASE, seed=number).planes[0]
        grey = np.full((SIZE[1] // 2, SIZE[0]), 128, np.uint8)
        picture = av.VideoFrame.from_ndarray(np.concatenate([planes, grey]), format="yuv420p")
        picture.pts = number
        for packet in coder.encode(picture):
            shots += [one.to_ndarray()[: SIZE[1]].copy() for one in decoder.decode(packet)]
    found = pair(frame((shots[-2],)), frame((shots[-1],))).noise
    assert found.refused is not None or found.ire < 2.0 / 2.19


def test_a_floor_that_was_found_keeps_piled_up_blacks_out() -> None:
    """Blacks pressed flat at 8 IRE: their noise is cut off and must not pass for that of the shadows."""
    floor = 16.0 + 8.0 * 2.19
    ramp = np.tile(np.linspace(20.0, 120.0, SIZE[0]), (SIZE[1], 1))

    def pressed(seed: int) -> Frame:
        return frame((np.maximum(grain(ramp, seed=seed).planes[0], round(floor)),))

    found = pair(pressed(1), pressed(2), floor=8.0)
    assert found.noise.ire == pytest.approx(2.0 / 2.19, rel=0.06)


def test_blacks_cut_off_where_nobody_said_so() -> None:
    """Everything below 0 IRE cut off: half of the noise of the darkest parts is gone, and they are left out."""
    ramp = np.tile(np.linspace(10.0, 120.0, SIZE[0]), (SIZE[1], 1))
    shots = [frame((np.maximum(grain(ramp, 6.0, seed).planes[0], 16),)) for seed in (1, 2)]
    assert pair(*shots).noise.ire == pytest.approx(6.0 / 2.19, rel=0.06)


@pytest.mark.parametrize("ceiling", [235, 254, 214])
def test_a_picture_that_is_mostly_clipped_has_noise_in_the_rest(ceiling: int) -> None:
    """Two thirds on the ceiling, found by nobody: no noise there is no sign of a coded picture."""
    bright = BASE.copy()
    bright[:, 320:] = 400.0
    shots = [frame((np.minimum(grain(bright, seed=seed).planes[0], ceiling),)) for seed in (1, 2)]
    assert pair(*shots).noise.ire == pytest.approx(2.0 / 2.19, rel=0.06)


def test_only_like_is_compared_with_like() -> None:
    meter, sampler = NoiseMeter(FORM, curve("bt709")), Sampler(FORM)
    assert not meter.waiting
    sample = sampler.take(grain(BASE), AREA, False, beside=True)
    assert meter.compare(sample, 1).noise.refused == noise.CHANGED
    meter.hold(sample, 1)
    assert meter.waiting
    other = sampler.take(grain(BASE, seed=2), AREA, False, beside=True)
    assert meter.compare(other, 2).noise.refused == noise.CHANGED
    assert meter.compare(other, 1).noise.refused is None
    small = sampler.take(grain(BASE, seed=2), (0, 0, 960, 400), False, beside=True)
    assert meter.compare(small, 1).noise.refused == noise.CHANGED
    meter.forget()
    assert not meter.waiting and meter.compare(other, 1).noise.refused == noise.CHANGED


@pytest.mark.parametrize("rows,columns", [(1, 1), (7, 300), (40, 40), (8, 16)])
def test_a_small_picture_is_refused(rows: int, columns: int) -> None:
    meter = NoiseMeter(FORM, curve("bt709"))
    dice = np.random.default_rng(3)
    shots = [dice.integers(80, 120, (2, rows, columns)).astype(np.uint8) for _ in range(2)]
    meter.hold(Sample(shots[0][0], None, shots[0][1]), 1)
    assert meter.compare(Sample(shots[1][0], None, shots[1][1]), 1).noise.refused == noise.TOO_SMALL


def test_blocks_hold_128_true_neighbours() -> None:
    first = np.arange(16 * 32, dtype=np.int32).reshape(16, 32)
    blocks = cut((first, first + 1), (first + 2, first + 3))
    assert blocks is not None and blocks.count == 4
    assert blocks.level.tolist() == [first[r : r + 8, c : c + 16].mean() + 1 for r in (0, 8) for c in (0, 16)]
    assert blocks.variance.tolist() == [0.0] * 4 and blocks.shift.tolist() == [2.0] * 4
    assert cut((first[:7], first[:7]), (first[:7], first[:7])) is None
    assert not still(blocks, np.ones(4, bool)).any()  # too few to hold against each other
