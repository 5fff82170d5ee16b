"""The zone map of the rendered boathouse: the card, the cheeks and the sky lie in the zones of their true light."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.measure.meter import Meter
from analysis.measure.sample import Sampler
from analysis.measure.zones import CLIP, ZoneMapper, marks, shares, zone_of_stops
from analysis.model.frame import Frame
from analysis.model.instant import Instant
from analysis.signal.curves import curve
from tests.feed.scene.pictures import STILL, renderer

WIDTH, HEIGHT = 640, 360


def look(curve_name: str, **controls: Any) -> tuple[Any, np.ndarray, Frame]:
    made = renderer(width=WIDTH, height=HEIGHT, curve=curve_name, layout="yuv422p10le", **{**STILL, **controls})
    picture = made.picture(0.0, 0)
    frame = Frame(planes=picture.planes, format=picture.format, instant=Instant(0.0, 0.0), generation=1, sequence=0)
    view = Meter().measure(frame, None, frame.instant).view
    assert view is not None
    return made.truth(0.0), view.small, frame


def part(zones: np.ndarray, box: tuple[int, int, int, int]) -> np.ndarray:
    """The places of the map wholly inside a box of the picture."""
    rows, columns = zones.shape
    left, right = -(-box[0] * columns // WIDTH), box[2] * columns // WIDTH
    top, bottom = -(-box[1] * rows // HEIGHT), box[3] * rows // HEIGHT
    return zones[top : max(bottom, top + 1), left : max(right, left + 1)]


@pytest.mark.parametrize("name", ["bt709", "hlg", "pq", "acescct"])
def test_the_regions_lie_in_their_zones(name: str) -> None:
    """By true light; a region near the edge of a zone may show either."""
    truth, small, _ = look(name)
    zones = ZoneMapper(curve(name)).of_picture(small)
    for region in ("card", "cheek", "shade-cheek", "lake"):
        true = truth.regions[region].stops
        may_be = {zone_of_stops(true - 0.25), zone_of_stops(true), zone_of_stops(true + 0.25)}
        assert int(np.median(part(zones, truth.regions[region].box))) in may_be, region
    assert int(np.median(part(zones, truth.regions["card"].box))) == 5, "an 18 % card is zone V"


@pytest.mark.parametrize("stops", [-2.0, -1.0, 1.0])
def test_one_stop_more_is_one_zone_higher(stops: float) -> None:
    truth, small, _ = look("acescct", nd=2.0 - stops)
    zones = ZoneMapper(curve("acescct")).of_picture(small)
    assert int(np.median(part(zones, truth.regions["card"].box))) == 5 + stops


@pytest.mark.parametrize("complexion,zone", [("light", 6), ("tan", 5), ("dark", 4)])
def test_skin_lies_where_it_was_measured(complexion: str, zone: int) -> None:
    """Median face light from 18 %: +0.90, +0.45 and -1.00 stop (International Skin Spectra Archive, Lu et al. 2025)."""
    truth, small, _ = look("acescct", complexion=complexion)
    zones = ZoneMapper(curve("acescct")).of_picture(small)
    face = part(zones, truth.regions["forehead"].box)
    assert np.any(face == zone) and np.all(np.abs(face.astype(int) - zone) <= 1)


def test_a_burning_sky_is_marked_and_marks_find_more_than_the_average_shows() -> None:
    truth, small, frame = look("bt709", sun="on")
    mapper = ZoneMapper(curve("bt709"))
    plainly = mapper.of_picture(small)
    sample = Sampler(frame.format).take(frame, (0, 0, WIDTH, HEIGHT))
    clipped, crushed = marks(sample, frame.format, (small.shape[1], small.shape[0]))
    marked = mapper.of_picture(small, clipped, crushed)
    share = shares(marked)[CLIP]
    assert shares(plainly)[CLIP] <= share
    assert share == pytest.approx(truth.clipped.any, abs=0.5 * truth.clipped.any)
    assert shares(plainly)[CLIP] <= truth.clipped.any + 0.5
