"""What a skin reading says and when it is silent: spread, clipping, sides, layouts, states, faces at the edge."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.measure.follow import Company
from analysis.measure.skin import SkinReader, black_level
from analysis.model.instant import Instant
from analysis.signal.curves import curve
from tests.measure import drawn_faces, face_rig
from tests.measure.drawn_faces import LUMA
from tests.measure.plain import frame_of

BOX = (250.0, 100.0, 100.0, 130.0)
SIZE = (640, 360)


def even(level: float, layout: str = "yuv422p10le", curve_: str | None = "bt709", most: float = 1.09):
    """A grey picture of that level in IRE."""
    return drawn_faces.coded(np.full((360, 640, 3), level / 100.0, np.float32), layout=layout, curve=curve_, most=most)


def halves(left: float, right: float, **how):
    """Left of the middle of the box one grey level, right of it another."""
    signal = np.full((360, 640, 3), left / 100.0, np.float32)
    signal[:, 300:] = right / 100.0
    return drawn_faces.coded(signal, **how)


def test_an_even_grey_is_read_as_it_is() -> None:
    """18 % grey is 40.9 % in BT.709 (item 1.2): zero stops."""
    reading = face_rig.skin_in(even(100 * float(drawn_faces.bt709(np.array(0.18)))), BOX)
    assert reading.level == pytest.approx(40.9, abs=0.1)
    assert reading.low == reading.high == reading.level
    assert reading.stops == pytest.approx(0.0, abs=0.01)
    assert reading.ratio_stops == pytest.approx(0.0, abs=1e-3)
    assert reading.clipped == 0.0
    assert reading.box == (250, 100, 100, 130)


@pytest.mark.parametrize("layout", ["yuv422p10le", "yuv422p", "yuv420p", "yuyv422", "yuv444p"])
def test_every_layout_reads_the_same(layout: str) -> None:
    linear = drawn_faces.draw(drawn_faces.reflectance("tan"), size=SIZE, centre=(300, 165), height=130)
    reading = face_rig.skin_in(drawn_faces.frame(linear, layout=layout), BOX)
    assert reading.level == pytest.approx(48.0, abs=0.5)
    assert reading.stops == pytest.approx(0.45, abs=0.03)


def test_rgb_reads_as_ycbcr_does() -> None:
    linear = drawn_faces.draw(drawn_faces.reflectance("brown"), size=SIZE, centre=(300, 165), height=130)
    codes = np.floor(drawn_faces.bt709(linear) * 255.0 + 0.5).astype(np.uint8)
    frame = frame_of((np.ascontiguousarray(codes.reshape(360, -1)),), "rgb24", 640, 360, "full", "rgb")
    reading = SkinReader(frame.format, curve("bt709")).read(frame, face_rig.held(BOX), face_rig.START)[0]
    assert reading.level == pytest.approx(40.6, abs=0.5)
    assert reading.stops == pytest.approx(0.02, abs=0.03)


def test_without_a_curve_there_is_a_level_and_no_stops() -> None:
    reading = face_rig.skin_in(even(50.0, curve_=None), BOX)
    assert reading.level == pytest.approx(50.0, abs=0.1)
    assert reading.stops is None and reading.ratio_stops is None
    assert reading.clipped == 0.0


def test_the_spread_is_that_of_the_ellipse() -> None:
    reading = face_rig.skin_in(halves(30.0, 60.0), BOX)
    assert reading.low == pytest.approx(30.0, abs=0.1)
    assert reading.high == pytest.approx(60.0, abs=0.1)
    assert reading.level == pytest.approx(60.0, abs=0.1)


@pytest.mark.parametrize("stops", [-3.0, -1.0, -0.2, 0.5, 2.0])
def test_left_over_right_of_two_even_halves(stops: float) -> None:
    """Doubling of light is a stop, whatever the curve; BT.709 by its formula."""
    left, right = (
        100.0 * float(drawn_faces.bt709(np.array(light)))
        for light in (0.2 * 2.0 ** (stops / 2), 0.2 * 2.0 ** (-stops / 2))
    )
    assert face_rig.skin_in(halves(left, right), BOX).ratio_stops == pytest.approx(stops, abs=0.03)


@pytest.mark.parametrize("stops", [0.5, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("name", ["very light", "dark"])
def test_left_over_right_of_a_face(name: str, stops: float) -> None:
    """Light divided in the middle of the face, softly: 0.94 of it is read, so within 0.2 stop up to 3 stops."""
    linear = drawn_faces.draw(drawn_faces.reflectance(name), key=stops, size=SIZE, centre=(300, 165), height=130)
    reading = face_rig.only(drawn_faces.frame(linear, noise=0.5))
    assert reading.ratio_stops == pytest.approx(stops, abs=0.2)


def test_the_ratio_hides_when_the_head_is_turned() -> None:
    frame = even(40.0)
    assert face_rig.skin_in(frame, BOX, turn=0.2).ratio_stops is not None
    assert face_rig.skin_in(frame, BOX, turn=0.3).ratio_stops is None
    assert face_rig.skin_in(frame, BOX, turn=-0.3).ratio_stops is None


def test_the_ratio_hides_when_a_side_is_dark_or_clipped() -> None:
    assert face_rig.skin_in(halves(40.0, 2.0), BOX).ratio_stops is None
    assert face_rig.skin_in(halves(40.0, 4.0), BOX).ratio_stops is not None
    assert face_rig.skin_in(halves(104.0, 40.0), BOX).ratio_stops is None
    assert face_rig.skin_in(halves(93.0, 40.0), BOX, clip=92.0).ratio_stops is None
    assert face_rig.skin_in(halves(93.0, 40.0), BOX).ratio_stops is not None


def test_dark_is_counted_from_black_in_log() -> None:
    """ACEScct has no light at 7.3 % (Academy S-2016-001): 9 IRE is next to nothing, 12 IRE is something."""
    assert black_level(curve("acescct")) == pytest.approx(7.29, abs=0.01)
    assert face_rig.skin_in(halves(40.0, 9.0, curve="acescct"), BOX).ratio_stops is None
    assert face_rig.skin_in(halves(40.0, 12.0, curve="acescct"), BOX).ratio_stops is not None


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_clipped_counts_single_pixels_of_any_channel(channel: int) -> None:
    signal = np.full((360, 640, 3), 0.5, np.float32)
    signal[::4, :, channel] = 1.02  # every fourth row, one channel alone
    reading = face_rig.skin_in(drawn_faces.coded(signal, layout="yuv444p"), BOX)
    assert reading.clipped == pytest.approx(25.0, abs=2.0)
    assert reading.level < 95.0


@pytest.mark.parametrize("most", [0.92, 1.0])
def test_clipped_follows_the_level_at_which_the_signal_ends(most: float) -> None:
    frame = even(120.0, most=most)
    assert face_rig.skin_in(frame, BOX, clip=100.0 * most - 0.1).clipped == 100.0
    assert face_rig.skin_in(frame, BOX).clipped == (100.0 if most == 1.0 else 0.0)


@pytest.mark.parametrize(
    "box",
    [
        (-40.0, 100.0, 100.0, 130.0),
        (590.0, 300.0, 100.0, 130.0),
        (300.0, -60.0, 100.0, 130.0),
        (10.3, 7.7, 31.0, 40.1),
    ],
)
def test_a_face_over_the_edge_is_read_where_there_is_picture(box: face_rig.Box) -> None:
    reading = face_rig.skin_in(even(50.0), box)
    assert reading.level == pytest.approx(50.0, abs=0.1)
    x, y, width, height = reading.box
    assert x >= 0 and y >= 0 and x + width <= 640 and y + height <= 360


@pytest.mark.parametrize(
    "box", [(-250.0, 0.0, 100.0, 130.0), (1000.0, 0.0, 100.0, 130.0), (100.0, 100.0, 3.0, 3.0), (1.0, 1.0, 0.0, 0.0)]
)
def test_no_number_where_there_is_no_face_to_read(box: face_rig.Box) -> None:
    reading = face_rig.skin_in(even(50.0), box)
    assert reading.level is None and reading.clipped is None and reading.stops is None


@pytest.mark.parametrize("width", [641, 640])
def test_an_odd_width_is_no_trouble(width: int) -> None:
    signal = np.full((361, width, 3), 0.5)
    frame = drawn_faces.coded(signal, layout="yuv420p")
    assert face_rig.skin_in(frame, (width - 90.0, 280.0, 80.0, 80.0)).level == pytest.approx(50.0, abs=0.3)


def test_states_without_numbers() -> None:
    """After a second a lost face has a state and no number, whatever lies in its place."""
    frame, late = even(4.0), Instant(102.0, 0.0)
    for lost in ("too dark", "clipped"):
        sitter = face_rig.held(BOX).sitters[0]
        gone = msgspec.structs.replace(sitter, lost=lost, looked=101.9)
        reading = SkinReader(frame.format, curve("bt709")).read(frame, Company(sitters=(gone,)), late)[0]
        assert reading.state == lost
        assert (reading.level, reading.low, reading.high, reading.stops, reading.ratio_stops, reading.clipped) == (
            None,
        ) * 6


def test_a_held_face_reads_the_present_frame() -> None:
    """The place is held, never the number."""
    sitter = msgspec.structs.replace(face_rig.held(BOX).sitters[0], looked=100.4)
    now = Instant(100.5, 0.0)
    for level in (30.0, 60.0):
        frame = even(level)
        reading = SkinReader(frame.format, curve("bt709")).read(frame, Company(sitters=(sitter,)), now)[0]
        assert reading.state == "held"
        assert reading.level == pytest.approx(level, abs=0.1)


def test_nobody_no_reading() -> None:
    frame = even(50.0)
    assert SkinReader(frame.format, None).read(frame, Company(), face_rig.START) == ()
    assert SkinReader(frame.format, None).read(frame, face_rig.held(BOX), Instant(103.0, 0.0)) == ()


def test_several_sitters_one_of_them_main() -> None:
    frame = halves(30.0, 60.0)
    first = face_rig.held((100.0, 100.0, 100.0, 130.0)).sitters[0]
    second = face_rig.held((400.0, 100.0, 100.0, 130.0), name="sitter 2").sitters[0]
    company = Company(sitters=(first, second), main="sitter 2")
    readings = SkinReader(frame.format, curve("bt709")).read(frame, company, face_rig.START)
    assert [(r.name, r.main, round(r.level)) for r in readings] == [("sitter 1", False, 30), ("sitter 2", True, 60)]


def test_stops_are_of_light_and_not_of_luma() -> None:
    """Skin is coloured: undoing the curve on luma would read the dark chip at -1.038 and not at -1.001 (computed)."""
    chip = np.array(drawn_faces.CHIPS["dark"]) / 100.0
    frame = drawn_faces.coded(np.broadcast_to(chip, (360, 640, 3)), layout="yuv444p10le")
    reading = face_rig.skin_in(frame, BOX)
    true = np.log2(float(drawn_faces.reflectance("dark") @ LUMA) / 0.18)
    assert reading.stops == pytest.approx(true, abs=0.012)
    assert reading.stops == pytest.approx(-1.001, abs=0.015)
