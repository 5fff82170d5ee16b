"""No light, or no signal? Black pictures, and pictures that stand for nothing."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.feed.slate import Slate, SlateBook
from analysis.model.errors import UsageError
from analysis.model.frame import FrameFormat, Picture
from tests.support.feed_rig import FeedRig
from tests.support.pictures import TinySource, form, picture

BLACK = 20
"""An 8-bit narrow code of 1.8 IRE (ITU-R BT.709-6, 3: black is 16, white 235)."""


def blinks(*runs: tuple[float, float], rate: float = 30.0):
    """Pictures that are black (with noise of sigma 2) during the given runs of seconds."""

    def paint(number: int, shape: FrameFormat) -> Picture:
        now = number / rate
        black = any(start <= now < end for start, end in runs)
        return picture(shape, seed=number, level=BLACK if black else 110, noise=2.0)

    return lambda clock: TinySource(clock, paint=paint)


def levels(rig: FeedRig, wanted: str) -> list[float]:
    return [frame.instant.monotonic for frame, validity in rig.taken if validity == wanted]


def test_a_short_darkness_is_none_a_longer_one_is_dark_and_never_underexposed() -> None:
    rig = FeedRig(make=blinks((2.0, 3.9), (6.0, 8.1)))
    rig.run(10)
    assert rig.states().count("dark") == 1
    dark = rig.at("dark") - rig.at("opening")
    assert 7.9 <= dark <= 8.2
    assert "dark" in rig.troubles[0][1] and len(rig.troubles) == 1
    # No reading of a black picture is ever good: no alarm about shadows can grow from it.
    start = rig.at("opening")
    good = [at - start for at in levels(rig, "good")]
    assert not [at for at in good if 2.1 < at < 3.9 or 6.1 < at < 8.1]
    assert [at for at in good if at > 8.3]


def test_black_without_noise_is_rather_no_signal_than_a_covered_lens() -> None:
    made = picture(seed=None, level=BLACK)
    rig = FeedRig(make=lambda clock: TinySource(clock, paint=lambda n, s: made))
    rig.run(5)
    assert rig.feed.status().state == "dark"
    assert "no signal" in rig.feed.status().evidence
    assert "without any noise" in rig.feed.status().evidence


def bars(number: int, shape: FrameFormat) -> Picture:
    made = picture(shape, seed=number)
    for plane, values in zip(made.planes, ((180, 120, 60, 30), (90, 160, 60, 200), (140, 80, 200, 110)), strict=True):
        for index, value in enumerate(values):
            quarter = plane.shape[1] // 4
            plane[:, index * quarter : (index + 1) * quarter] = value
    return made


def blue(number: int, shape: FrameFormat, noise: float = 0.5) -> Picture:
    made = picture(shape, seed=number, level=41, noise=noise)
    dice = np.random.default_rng(number)
    made.planes[1][:] = np.clip(dice.normal(240, noise, made.planes[1].shape), 0, 255)
    made.planes[2][:] = np.clip(dice.normal(110, noise, made.planes[2].shape), 0, 255)
    return made


def with_clock(number: int, shape: FrameFormat) -> Picture:
    made = blue(number, shape)
    made.planes[0][4:12, 4:20] = 60 + number * 37 % 170
    return made


@pytest.fixture
def book() -> SlateBook:
    made = SlateBook()
    made.learn("the blue picture", [blue(n, form(320, 180)) for n in range(3)])
    return made


def run(book: SlateBook, paint, seconds: float = 3.0) -> FeedRig:
    rig = FeedRig(
        make=lambda clock: TinySource(clock, kind="hdmi", shape=form(320, 180), paint=paint), kind="hdmi", slates=book
    )
    rig.run(seconds)
    return rig


def test_a_learnt_slate_is_no_signal_at_once(book: SlateBook) -> None:
    rig = run(book, blue)
    status = rig.feed.status()
    assert status.state == "lost" and "no signal" in status.evidence and "the blue picture" in status.evidence
    assert rig.taken == [] and status.trouble is not None
    assert status.attempts == 1, "a device that shows its slate works; it is not opened again"


@pytest.mark.parametrize("paint", [bars, with_clock])
def test_other_slates_are_pictures_until_they_are_learnt(book: SlateBook, paint) -> None:
    rig = run(book, paint)
    assert rig.feed.status().state == "live" if paint is with_clock else rig.feed.status().state in {"live", "still"}
    assert rig.troubles == [] and len(rig.taken) > 80


def test_a_slate_with_a_clock_can_be_learnt_with_it(book: SlateBook) -> None:
    book.learn("blue with a clock", [with_clock(n, form(320, 180)) for n in range(5)])
    assert "blue with a clock" in run(book, lambda n, shape: with_clock(n + 50, shape)).feed.status().evidence


def test_the_picture_comes_back_after_a_slate_and_primes(book: SlateBook) -> None:
    rig = run(book, lambda n, shape: blue(n, shape) if n < 30 else picture(shape, seed=n), seconds=3.0)
    assert rig.states() == ["opening", "lost", "priming", "live"]


def test_a_slate_survives_being_stored(book: SlateBook) -> None:
    import msgspec

    kept = msgspec.json.decode(msgspec.json.encode(book.slates), type=tuple[Slate, ...])
    assert SlateBook(kept).match(blue(99, form(320, 180))) == "the blue picture"
    book.forget("the blue picture")
    assert book.match(blue(99, form(320, 180))) is None


def test_a_slate_matches_at_another_size_but_not_in_other_colours(book: SlateBook) -> None:
    assert book.match(blue(7, form(640, 480))) == "the blue picture"
    grey = picture(form(320, 180), seed=1, level=41, noise=0.5)
    assert book.match(grey) is None


def test_a_moving_picture_cannot_be_learnt_as_a_slate() -> None:
    moving = [picture(form(320, 180), seed=n, level=60 + 20 * n) for n in range(3)]
    with pytest.raises(UsageError, match="too much of this picture moves"):
        SlateBook().learn("x", moving)
    with pytest.raises(UsageError, match="no picture"):
        SlateBook().learn("x", [])


@pytest.mark.parametrize("layout", ["yuyv422", "nv12", "bgr24", "gray", "p010le", "yuv422p10le"])
def test_slates_are_known_in_every_kind_of_layout(layout: str) -> None:
    shape = form(320, 180, layout)
    book = SlateBook()
    book.learn("even", [picture(shape, seed=n) for n in range(2)])
    assert book.match(picture(shape, seed=9)) == "even"
    assert book.match(picture(shape, seed=9, level=140)) is None


def test_tiny_pictures_have_slates_too() -> None:
    book = SlateBook()
    book.learn("dot", [picture(form(1, 1), seed=None)])
    assert book.match(picture(form(1, 1), seed=None)) == "dot"
