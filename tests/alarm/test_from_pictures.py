"""Every alarm rises and ends on rendered pictures, through the real feed, meter, faces and engine; no value is put in.

What the boathouse shows is known (its light is set); the limits are the program's own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import msgspec
import pytest

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.feed.faulty import Fault
from analysis.feed.scene.lights import LightLevels, levels
from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.stage import Stage
from analysis.feed.source import FeedOptions
from analysis.model.frame import FrameFormat, Picture
from analysis.model.sitter import Spot
from analysis.settings.aim_settings import AimChoice, Aims
from analysis.settings.schema import SitterSettings
from analysis.watch import Desks, RoomLeft, open_sitters
from tests.support.pictures import picture
from tests.watch.rig import WatchRig

STAGES: dict[tuple[int, int], Stage] = {}
Light = Callable[[float], float]
SEEN: set[str] = set()


class Boathouse:
    """Paints the boathouse in phases: so many seconds under these controls, then the next ones."""

    def __init__(self, *phases: tuple[float, str], rate: float, size: tuple[int, int], sky: Light, lamp: Light) -> None:
        self.rate, self.sky, self.lamp = rate, sky, lamp
        shape = FeedOptions(width=size[0], height=size[1], rate=rate)
        self.phases: list[tuple[float, Renderer]] = []
        ends = 0.0
        for seconds, query in phases:
            # Half of a frame interval at 25 pictures a second, whatever the rate: the exposure stays the same.
            wish = {
                "shutter": f"{180.0 * rate / 25.0}",
                "clouds": "off",
                **dict(p.split("=") for p in query.split("&")),
            }
            renderer = Renderer(parse("boathouse", wish, shape), stage=STAGES.get(size))
            STAGES[size] = renderer._stage
            ends += seconds
            self.phases.append((ends, renderer))

    def __call__(self, number: int, _shape: FrameFormat) -> Picture:
        now = number / self.rate
        renderer = next((r for end, r in self.phases if now < end), self.phases[-1][1])
        light = levels(renderer.controls, now)
        light = LightLevels(sky=light.sky * self.sky(now), sun=light.sun, lamp=light.lamp * self.lamp(now))
        return renderer.picture(now, number, light)


def steady(_seconds: float) -> float:
    return 1.0


def play(
    *phases: tuple[float, str],
    rate: float = 5.0,
    size: tuple[int, int] = (240, 136),
    sky: Light = steady,
    lamp: Light = steady,
    desks: Desks | None = None,
    spots: tuple[Spot, ...] = (),
    aims: Aims | None = None,
    hold_after: float | None = None,
) -> WatchRig:
    """A watch that has seen all phases."""
    paint = Boathouse(*phases, rate=rate, size=size, sky=sky, lamp=lamp)
    rig = WatchRig(paint=paint, rate=rate, desks=desks)
    rig.watch.set_spots(spots)
    if aims is not None:
        rig.watch.set_aims(aims)
    whole = sum(seconds for seconds, _ in phases)
    if hold_after is not None:
        rig.play(hold_after)
        rig.watch.keep_hold("as it was")
    rig.play(whole - (hold_after or 0.0))
    assert rig.watch.snapshot().fault is None
    return rig


def told(rig: WatchRig, *, only: str | None = None) -> list[tuple[str, str]]:
    """Alarm and state after each change, without those that only turned quiet or loud."""
    SEEN.update(change.alarm for change in rig.notes.alarms)
    return [(c.alarm, c.after) for c in rig.notes.alarms if c.before != c.after and only in (None, c.alarm)]


def reason(rig: WatchRig, alarm: str) -> str:
    return next(c.reason for c in rig.notes.alarms if c.alarm == alarm)


def rise_and_end(alarm: str) -> list[tuple[str, str]]:
    return [(alarm, "active-unacknowledged"), (alarm, "normal")]


def test_highlights_of_the_whole_picture() -> None:
    rig = play((3, "nd=3"), (3, "nd=1"), (5, "nd=3"))
    assert told(rig) == rise_and_end("highlights")
    assert rig.heard.told[0][1:] == ("highlights", 1)


def test_one_colour_clipping_before_the_picture_does() -> None:
    """The sky is cool: its blue is the first to go, under the limit of the whole picture."""
    rig = play((2, "nd=3"), (8, "nd=1.91"), (8, "nd=3"))
    assert told(rig) == rise_and_end("one-channel")
    assert "in one channel alone" in reason(rig, "one-channel")


def test_more_of_one_colour_is_told_as_highlights_and_says_so() -> None:
    rig = play((2, "nd=3"), (4, "nd=1.8"))
    assert told(rig) == [("highlights", "active-unacknowledged")]
    assert reason(rig, "highlights").endswith("; most of it in blue alone")


def test_shadows_and_noise_in_the_dark_speak_one_at_a_time() -> None:
    rig = play((2, "nd=2"), (14, "nd=5"), (14, "nd=2"))
    assert told(rig, only="shadows") == rise_and_end("shadows")
    assert told(rig, only="noise") == rise_and_end("noise")
    assert [alarm for _, alarm, _ in rig.heard.told] == ["shadows"], "one cause, one sound"


def test_noise_alone() -> None:
    """A stop less light and four stops more gain: the levels come back, the noise stays."""
    rig = play((2, "nd=2"), (13, "nd=5&iso=6400"), (13, "nd=2"))
    assert told(rig) == rise_and_end("noise")
    assert reason(rig, "noise").startswith("signal-to-noise ratio in the shadows ")


def test_flicker_of_a_lamp_on_the_mains() -> None:
    """Mains of 60 Hz at 25 pictures a second: 5 Hz."""

    def lamp(now: float) -> float:
        return 1.0 + (0.3 * math.cos(2 * math.pi * 5.0 * now) if now < 10.0 else 0.0)

    rig = play((24, "lamp=on&nd=3"), rate=25.0, lamp=lamp)
    assert told(rig) == rise_and_end("flicker")
    assert reason(rig, "flicker").startswith("beating by 0.")


def test_headroom_that_runs_out_says_when() -> None:
    """The lake light comes up by half a stop a minute for three minutes and then stays."""

    def sky(now: float) -> float:
        return float(2.0 ** (min(now, 180.0) / 120.0))

    rig = play((400, "nd=4"), rate=0.8, sky=sky)
    assert told(rig, only="headroom") == rise_and_end("headroom")
    assert reason(rig, "headroom").startswith("at this rate clipping in ")
    assert told(rig)[0][0] == "headroom", "before anything clips"


CHEEK = Spot(name="bench", kind="watch", x=0.55, y=0.75, width=0.08, height=0.08)


def test_a_watched_spot_that_clips() -> None:
    window = Spot(name="window", kind="watch", x=0.1, y=0.2, width=0.1, height=0.15)
    rig = play((2, "nd=3"), (3, "nd=1.85"), (4, "nd=3"), spots=(window,))
    assert told(rig, only="spot-clipped") == rise_and_end("spot-clipped")
    assert "of the spot" in reason(rig, "spot-clipped")


@pytest.mark.parametrize(("nd", "alarm"), [("2.2", "spot-high"), ("3.8", "spot-low")])
def test_a_spot_beyond_its_aim_says_which_way(nd: str, alarm: str) -> None:
    quiet = play((1, "nd=3"), spots=(CHEEK,)).watch.snapshot().reading
    assert quiet is not None and quiet.spots is not None and quiet.spots["bench"].stops is not None
    aims: Aims = {"bench": AimChoice(value=quiet.spots["bench"].stops, unit="stops", tolerance=0.2)}
    rig = play((2, "nd=3"), (5, f"nd={nd}"), (6, "nd=3"), spots=(CHEEK,), aims=aims)
    assert told(rig) == rise_and_end(alarm)


@pytest.mark.parametrize(("nd", "alarm"), [("2.5", "drift-up"), ("3.5", "drift-down")])
def test_drift_from_the_hold_says_which_way(nd: str, alarm: str) -> None:
    rig = play((3, "nd=3"), (13, f"nd={nd}"), (8, "nd=3"), hold_after=2.0)
    assert told(rig) == rise_and_end(alarm)
    assert reason(rig, alarm).startswith("0.5 stops ")


@pytest.fixture
def desks() -> Iterator[Desks]:
    desk, note = open_sitters(SitterSettings(), patience=5.0)
    if desk is None:
        pytest.skip(str(note))
    yield Desks(sitters=desk)
    desk.close()


@pytest.mark.parametrize(("nd", "alarm"), [("1.2", "skin-high"), ("2.8", "skin-low")])
def test_skin_beyond_its_aim_says_which_way(nd: str, alarm: str, desks: Desks) -> None:
    aims: Aims = {"sitter": AimChoice(value=50.0, tolerance=3.0)}
    rig = play((2, "nd=2"), (5, f"nd={nd}"), (6, "nd=2"), size=(640, 360), aims=aims, desks=desks)
    assert told(rig, only=alarm) == rise_and_end(alarm)
    assert "skin 0." in reason(rig, alarm)


def test_skin_that_clips_is_told_before_anything_else_of_the_face(desks: Desks) -> None:
    aims: Aims = {"sitter": AimChoice(value=50.0, tolerance=3.0)}
    rig = play((2, "nd=2"), (5, "nd=0.5"), (5, "nd=2"), size=(640, 360), aims=aims, desks=desks)
    assert told(rig, only="skin-clipped") == rise_and_end("skin-clipped")
    assert told(rig)[0][0] == "skin-clipped", "there is no cheek to spare"
    assert "skin-high" not in {alarm for _, alarm, _ in rig.heard.told}, "one cause, one sound"


def test_a_covered_lens_is_dark_and_nothing_else() -> None:
    black = [picture(level=17, noise=1.0, seed=seed) for seed in range(8)]
    plain = [picture(seed=seed) for seed in range(8)]
    rig = WatchRig(paint=lambda n, _s: msgspec.structs.replace((black if 75 <= n < 200 else plain)[n % 8]))
    rig.play(12)
    assert told(rig) == rise_and_end("dark")


def test_a_frozen_picture_waits_to_be_acknowledged() -> None:
    rig = WatchRig(Fault(name="repeat", at=75, count=60))
    rig.play(12)
    assert told(rig)[0] == ("frozen", "active-unacknowledged")
    assert told(rig, only="frozen")[-1] == ("frozen", "returned-unacknowledged")
    rig.watch.acknowledge("frozen")
    rig.play(0.2)
    assert told(rig, only="frozen")[-1] == ("frozen", "normal")


def test_a_feed_that_changes_its_form_and_back() -> None:
    rig = WatchRig(Fault(name="reshape", at=75, count=200))
    rig.play(8)
    assert told(rig)[0] == ("reshaped", "active-unacknowledged")
    rig.play(12)
    assert told(rig, only="reshaped")[1] == ("reshaped", "returned-unacknowledged")


def test_a_camera_that_is_gone_and_comes_back() -> None:
    rig = WatchRig(Fault(name="vanish", at=75))
    rig.play(6.2)
    assert told(rig) == [("feed", "active-unacknowledged"), ("feed", "returned-unacknowledged")]


def test_a_disk_that_fills_and_is_emptied() -> None:
    left = [10.0]
    rig = WatchRig(room=lambda: RoomLeft(left[0]), rate=5.0)
    rig.play(2)
    for gibibytes, seconds in ((1.5, 25), (2.2, 25), (8.0, 25)):
        left[0] = gibibytes
        rig.play(seconds)
    assert told(rig) == [("disk", "active-unacknowledged"), ("disk", "returned-unacknowledged")]
    assert reason(rig, "disk").startswith("1.5 GiB free, at or under the limit 2.0 GiB")


def test_a_disk_that_would_be_full_within_a_day_and_one_that_is_nearly_full() -> None:
    left = [RoomLeft(10.0, None)]
    rig = WatchRig(room=lambda: left[0], rate=5.0)
    rig.play(2)
    for now, seconds in ((RoomLeft(6.0, 20.0), 25), (RoomLeft(0.4, 1.0), 25), (RoomLeft(8.0, None), 40)):
        left[0] = now
        rig.play(seconds)
    rises = [name for name, state in told(rig) if state == "active-unacknowledged"]
    # One cause is heard once: while the disk is nearly full the two milder alarms are silent.
    assert rises[:2] == ["disk-hours", "disk-full"]
    assert [alarm for _, alarm, _ in rig.heard.told] == ["disk-hours", "disk-full"]
    assert reason(rig, "disk-hours").startswith("full in 20")
    assert not any(alarm.state.startswith("active") for alarm in rig.watch.snapshot().alarms)


def test_no_alarm_was_left_out() -> None:
    """Only when this file ran as a whole."""
    if len(SEEN) < 12:
        pytest.skip("not every test of this file ran")
    assert {rule.name for rule in DEFAULT_RULES} == SEEN
