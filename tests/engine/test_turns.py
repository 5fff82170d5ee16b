"""The desk that a watch holds: turns remembered, the lamp compared, what clips named."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.engine.turns import KEPT_TURNS, TurnDesk, _named, seen_sitters
from analysis.model.instant import Instant
from analysis.model.light import ROWS
from analysis.model.reading import Flicker, PictureArea, Reading
from analysis.model.sitter import SitterReading, Spot
from analysis.model.turn import DriftRate, Turn
from tests.exposure.outdoors import reading as made_up
from tests.exposure.turn_maps import AREA, FACE, body_and_face, room, seen


def reading(**more: object) -> Reading:
    """A reading whose only sitter is where the made-up maps have theirs."""
    x, y, width, height = FACE
    box = (round(x * 1920), round(y * 1080), round(width * 1920), round(height * 1080))
    sitter = SitterReading(name="sitter 1", main=True, state="seen", box=box, confidence=0.9)
    return msgspec.structs.replace(made_up(0.5, (100.0, -3.0, 2.0)), sitters=(sitter,), **more)


class Watching:
    """A desk that is shown light for some time."""

    def __init__(self) -> None:
        self.desk, self.now, self.reading = TurnDesk(), 0.0, reading()

    def show(self, stops: np.ndarray, seconds: float, spots: tuple[Spot, ...] = (), clip: float = 6.0) -> list[Turn]:
        told: list[Turn] = []
        for _ in range(round(8.0 * seconds)):
            light = seen(stops, self.now, clip)
            told += self.desk.see(light, self.reading, light.at, spots)
            self.now += 0.125
        return told


def test_turns_are_told_once_and_remembered() -> None:
    watching, light = Watching(), room()
    watching.show(light, 2.0)
    (told,) = watching.show(light - 2.0, 2.0)
    assert told.kind == "whole" and told.stops == pytest.approx(-2.0, abs=0.05)
    assert watching.desk.recent == (told,)
    assert told.effect is None


def test_a_key_switched_off_tells_what_it_added() -> None:
    watching, light = Watching(), room()
    keyed = light + np.where(body_and_face(), 1.5, 0.1)
    watching.show(keyed, 2.0)
    (told,) = watching.show(light, 3.0)
    assert told.kind == "sitter"
    effect = told.effect
    assert effect is not None and watching.desk.recent[-1].effect == effect
    assert effect.sitter_stops == pytest.approx(1.5, abs=0.1)
    assert effect.background_stops == pytest.approx(0.1, abs=0.05)
    assert effect.key_share == pytest.approx(1.0 - 2.0**-1.5, abs=0.03)


def test_another_life_of_the_feed_makes_no_turn() -> None:
    watching, light = Watching(), room()
    watching.show(light, 2.0)
    watching.desk.forget()
    assert not watching.show(light + 1.0, 2.0)


def test_without_a_map_nothing_happens() -> None:
    assert TurnDesk().see(None, reading(), Instant(0.0, 0.0)) == ()


def test_what_is_remembered_is_bounded() -> None:
    desk, light = TurnDesk(), room()
    desk.recent = tuple(
        Turn(kind="whole", at=Instant(float(n), 0.0), stops=1.0, seconds=0.0, share=1.0) for n in range(KEPT_TURNS)
    )
    watching = Watching()
    watching.desk = desk
    watching.show(light, 2.0)
    watching.show(light + 1.0, 2.0)
    assert len(desk.recent) == KEPT_TURNS and desk.recent[-1].at.monotonic < 10.0 < desk.recent[-2].at.monotonic


def test_the_spot_that_clips_is_named() -> None:
    light = np.minimum(room(), 1.0)
    light[4:12, 4:16] = 4.0 + 0.1 * room(3)[4:12, 4:16]
    spots = (
        Spot(name="boat", kind="watch", x=0.6, y=0.6, width=0.2, height=0.2),
        Spot(name="window", kind="watch", x=0.06, y=0.1, width=0.3, height=0.4),
    )
    watching = Watching()
    told = watching.show(light, 3.0, spots)
    for number in range(160):
        told += watching.show(light + 1.5 / 60.0 * number / 8.0, 0.125, spots, clip=5.5)
    assert told[0].drift is not None
    assert told[0].drift.clips == "window" and told[0].drift.seconds_to_clip is not None


def test_spots_are_found_where_they_are_in_the_picture_of_a_camera_in_the_hand() -> None:
    """The map lies two rows above the picture: what clips in its row 4 is in the picture's row 6."""
    light = np.minimum(room(), 1.0)
    light[4:6, 4:16] = 4.0
    drift = DriftRate(of="whole", stage="begun", stops_a_minute=1.0, seconds_to_clip=40.0)
    told = Turn(kind="drift", at=Instant(0.0, 0.0), stops=0.3, seconds=9.0, share=1.0, drift=drift)
    spots = tuple(
        Spot(name=name, kind="watch", x=0.05, y=top / ROWS, width=0.3, height=2.0 / ROWS)
        for name, top in (("upper", 4), ("lower", 6))
    )
    for shift, name in (((0.0, 0.0), "upper"), ((2.0, 0.0), "lower")):
        named = _named(told, msgspec.structs.replace(seen(light, 0.0), shift=shift), spots)
        assert named.drift is not None and named.drift.clips == name


def test_a_known_beat_is_told_to_the_recogniser() -> None:
    watching, light = Watching(), room()
    watching.reading = reading(flicker=Flicker(hz=4.0, stops=0.5))
    watching.show(light, 2.0)
    assert not watching.show(light + 0.4, 3.0)


def test_boxes_are_fractions_of_the_active_picture_and_held_faces_do_not_count() -> None:
    seen_one = reading().sitters
    assert seen_one is not None
    boxed = msgspec.structs.replace(reading(), picture=PictureArea(width=1920, height=1080, active=(0, 140, 1920, 800)))
    (found,) = seen_sitters(boxed)
    assert found.box == pytest.approx((FACE[0], (0.25 * 1080 - 140) / 800, FACE[2], 0.25 * 1080 / 800), abs=0.001)
    held = msgspec.structs.replace(reading(), sitters=(msgspec.structs.replace(seen_one[0], state="held"),))
    assert seen_sitters(held) == ()
    assert seen_sitters(msgspec.structs.replace(reading(), sitters=None)) == ()
    assert reading().picture.active == AREA
