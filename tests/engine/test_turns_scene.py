"""Turns of the rendered boathouse, as its address says them, against what is true of it."""

from __future__ import annotations

import msgspec
import pytest

from analysis.engine.turns import TurnDesk
from analysis.feed.pool import FramePool
from analysis.feed.scene.source import SceneSource
from analysis.feed.source import FeedOptions
from analysis.measure.examiner import Examiner, known_curve
from analysis.measure.light_map import LightMapper
from analysis.measure.sample import Sampler
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.model.sitter import SitterReading
from analysis.model.turn import Turn

RATE = 10
QUIET = {"size": "640x360", "rate": str(RATE), "clouds": "off", "sun": "off", "lamp_at": "key"}


def watch(query: dict[str, str], seconds: float) -> tuple[TurnDesk, list[Turn], SceneSource]:
    """A desk that saw the scene for some time, measured as a watch measures it."""
    source = SceneSource("scene:boathouse", {**QUIET, **query}, FeedOptions(realtime=False), FramePool())
    source.open()
    examiner, desk, told = Examiner(), TurnDesk(), list[Turn]()
    mapper: LightMapper | None = None
    for number in range(round(seconds * RATE)):
        picture = source.read()
        now = Instant(number / RATE, number / RATE)
        frame = Frame(planes=picture.planes, format=picture.format, instant=now, generation=1, sequence=number)
        reading = examiner.measure(frame, None, Instant(0.0, 0.0)).reading
        if mapper is None:
            curve = known_curve(frame.format.encoding.curve)
            assert curve is not None
            mapper, sampler, boxes = (
                LightMapper(frame.format, curve),
                Sampler(frame.format),
                source.truth(picture).regions,
            )
        # The face spans the cheeks, from the forehead to twice as far below it as the cheeks lie.
        left, right = boxes["cheek"].box[0] - 6, boxes["shade-cheek"].box[2] + 6
        top, bottom = boxes["forehead"].box[1] - 10, 2 * boxes["cheek"].box[3] - boxes["forehead"].box[3] + 10
        face = SitterReading(
            name="sitter 1", main=True, state="seen", box=(left, top, right - left, bottom - top), confidence=0.9
        )
        reading = msgspec.structs.replace(reading, sitters=(face,))
        assert reading.clipped is not None and reading.crushed is not None
        area = reading.picture.active
        sample = sampler.take(frame, area)
        light = mapper.look(sample, reading.clipped.level, reading.crushed.level, now, 1, area)
        told += desk.see(light, reading, now)
    return desk, told, source


@pytest.mark.parametrize(("curve", "bits"), [("bt709", "8"), ("acescct", "10")])
def test_turns_of_the_address_are_told(curve: str, bits: str) -> None:
    _, told, _ = watch({"turns": "2.5:-1,5:0.33", "curve": curve, "bits": bits}, 7.0)
    assert [each.kind for each in told] == ["whole", "whole"]
    assert [each.stops for each in told] == pytest.approx([-1.0, 0.33], abs=0.05)
    assert [each.at.monotonic for each in told] == pytest.approx([2.4, 4.9], abs=0.11)


def test_the_key_that_is_switched_on_adds_what_the_scene_says() -> None:
    _, told, source = watch({"lamp": "off", "switch": "2.5", "nd": "3", "curve": "acescct", "bits": "10"}, 6.0)
    assert [each.kind for each in told] in (["sitter"], ["mixed"])
    effect = told[0].effect
    assert effect is not None and not effect.at_least
    renderer = source._renderer
    assert renderer is not None
    off, on = renderer.truth(0.0).regions, renderer.truth(5.0).regions
    added = {name: on[name].stops - off[name].stops for name in ("forehead", "cheek", "shade-cheek")}
    assert min(added.values()) - 0.1 <= effect.sitter_stops <= max(added.values()) + 0.1
    sides = sorted((added["cheek"], added["shade-cheek"]))
    assert effect.lit_stops == pytest.approx(sides[1], abs=0.35)
    # The shadow side is half of the face, the patch on the cheek its darkest part.
    assert effect.shadow_stops is not None and sides[0] - 0.1 <= effect.shadow_stops < effect.sitter_stops
    assert effect.key_share == pytest.approx(1.0 - 2.0 ** -float(effect.lit_stops or 0.0))
    assert effect.background_stops is not None and effect.background_stops < effect.sitter_stops
    assert effect.ratio is not None and effect.ratio > 1.0
