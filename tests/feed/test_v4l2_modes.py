"""Which of a device's pictures the watch takes."""

from __future__ import annotations

import pytest

from analysis.feed.source import FeedOptions
from analysis.feed.v4l2.modes import Mode, choose
from analysis.model.errors import FeedUnreadable


def mode(fourcc: str, size: str, *rates: float) -> Mode:
    width, height = map(int, size.split("x"))
    return Mode(fourcc=fourcc, width=width, height=height, rates=rates)


# A plain webcam of the trade: raw is slow at large sizes, JPEG is not.
WEBCAM = [
    mode("YUYV", "640x480", 30, 25, 15),
    mode("YUYV", "1280x720", 10, 5),
    mode("YUYV", "1920x1080", 5),
    mode("MJPG", "640x480", 30),
    mode("MJPG", "1920x1080", 30, 15),
]


def taken(modes: list[Mode], **asked) -> tuple[str, int, int, float | None]:
    choice = choose(modes, FeedOptions(**asked), "/dev/video0")
    return choice.mode.fourcc, choice.mode.width, choice.mode.height, choice.rate


def test_uncompressed_at_a_usable_rate_comes_before_a_larger_jpeg() -> None:
    assert taken(WEBCAM) == ("YUYV", 640, 480, 30)


def test_jpeg_where_only_it_reaches_the_rate() -> None:
    assert taken(WEBCAM, width=1920, height=1080) == ("MJPG", 1920, 1080, 30)
    assert taken([mode("YUYV", "1280x720", 10), mode("MJPG", "1280x720", 30)])[0] == "MJPG"


def test_the_asked_rate_replaces_the_usual_one() -> None:
    assert taken(WEBCAM, width=1920, height=1080, rate=5) == ("YUYV", 1920, 1080, 5)


def test_an_asked_layout_is_taken_at_its_best() -> None:
    assert taken(WEBCAM, layout="yuyv422") == ("YUYV", 640, 480, 30)
    assert taken(WEBCAM, layout="mjpeg") == ("MJPG", 1920, 1080, 30)
    assert taken(WEBCAM, layout="yuvj422p")[0] == "MJPG"


def test_ten_bits_and_422_come_first_and_grey_last() -> None:
    order = ["GREY", "NV12", "RGB3", "YUYV", "P010", "Y210"]
    modes = [mode(fourcc, "1920x1080", 30) for fourcc in order]
    while len(modes) > 1:
        best = taken(modes)[0]
        assert best == order[len(modes) - 1]
        modes.pop()


def test_colour_comes_before_deeper_grey() -> None:
    assert taken([mode("Y16 ", "640x480", 30), mode("YU12", "640x480", 30)])[0] == "YU12"


def test_larger_than_full_hd_only_when_there_is_nothing_else_or_it_is_asked() -> None:
    both = [mode("YUYV", "3840x2160", 30), mode("YUYV", "1920x1080", 30)]
    assert taken(both)[1:3] == (1920, 1080)
    assert taken(both, width=3840)[1:3] == (3840, 2160)
    assert taken([mode("YUYV", "4096x2160", 30), mode("YUYV", "3840x2160", 30)])[1:3] == (3840, 2160)


def test_film_rates_count_as_24() -> None:
    assert taken([mode("YUYV", "1920x1080", 23.976), mode("YUYV", "640x480", 30)])[1:3] == (1920, 1080)


def test_the_fastest_rate_up_to_sixty() -> None:
    assert taken([mode("YUYV", "640x480", 120, 59.94, 30)])[3] == 59.94
    assert taken([mode("YUYV", "640x480", 120)])[3] == 120
    assert taken([mode("YUYV", "640x480", 59.94, 30)], rate=25)[3] == 30


def test_a_driver_that_tells_no_rates_is_given_none() -> None:
    assert taken([mode("YUYV", "720x576")])[3] is None
    assert taken([mode("YUYV", "720x576")], rate=25)[3] == 25


@pytest.mark.parametrize(
    "modes,asked,words",
    [
        ([], {}, "none of the device's pixel formats can be read (none)"),
        ([Mode(fourcc="HSV3", width=0, height=0)], {}, "(HSV3)"),
        (WEBCAM, {"layout": "nv12"}, "does not offer nv12; it offers mjpeg, yuyv422"),
        (WEBCAM, {"width": 600, "height": 340}, "no picture of 600x340; it offers 640x480, 1280x720, 1920x1080"),
        (WEBCAM, {"height": 340}, "no picture of anyx340"),
    ],
)
def test_refusals_say_what_there_is_instead(modes, asked, words: str) -> None:
    with pytest.raises(FeedUnreadable) as told:
        choose(modes, FeedOptions(**asked), "/dev/video0")
    assert words in str(told.value) and str(told.value).startswith("/dev/video0: ")
