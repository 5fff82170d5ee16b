"""Sitters on measured frames of the rendered boathouse."""

from __future__ import annotations

import msgspec
import pytest

from analysis.lookout.desk import SitterDesk, open_desk
from analysis.lookout.runner import SitterWatch
from analysis.measure.examiner import Examiner
from analysis.measure.face import Face
from analysis.measure.shrunken import Shrunken
from analysis.model.errors import SettingsError
from analysis.model.instant import Instant
from analysis.settings.face_model import face_model
from tests.measure.test_examiner import frames

START = Instant(0.0, 0.0)


def test_the_boat_builder_is_found_and_read() -> None:
    """The half-lit face reads near its lit cheek; one stop more light is one stop more (scene truth)."""
    stops = []
    for nd in ("5", "4"):
        desk, examiner = open_desk(face_model(), patience=10.0), Examiner()
        for frame in frames(0.6, curve="acescct", bits="10", clouds="off", nd=nd):
            sitters = desk.read(frame, examiner.measure(frame, None, START).reading)
        desk.close()
        assert sitters is not None and [(s.name, s.main, s.state) for s in sitters] == [("sitter 1", True, "seen")]
        assert sitters[0].stops is not None
        stops.append(sitters[0].stops)
    assert stops[1] - stops[0] == pytest.approx(1.0, abs=0.05)


def test_a_frame_that_was_not_measured_has_no_sitters() -> None:
    desk, examiner = open_desk(face_model(), patience=10.0), Examiner()
    frame = next(frames(0.1))
    damaged = msgspec.structs.replace(frame, planes=(), corrupt=True)
    assert desk.read(damaged, examiner.measure(damaged, None, START).reading) is None
    desk.close()


def test_a_search_that_gave_up_says_so_and_measures_on() -> None:
    class Broken:
        def find(self, small: Shrunken) -> tuple[Face, ...]:
            raise RuntimeError("oar in the works")

    desk, examiner = SitterDesk(SitterWatch(Broken()), patience=10.0), Examiner()
    told = [desk.read(frame, examiner.measure(frame, None, START).reading) for frame in frames(2.0)]
    assert told[0] == () and told[-1] is None
    assert desk.trouble is not None and "oar in the works" in desk.trouble
    desk.close()


def test_a_file_that_is_no_model_is_refused() -> None:
    with pytest.raises(SettingsError):
        open_desk(b"not a model")
