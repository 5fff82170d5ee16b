"""Holds, plans and drift in a running watch: what an operator asks for, what is shown, what is kept."""

from __future__ import annotations

import math

import msgspec
import pytest

from analysis.engine.nearing import Nearing
from analysis.engine.planning import PlanDesk
from analysis.model.camera import CameraProfile, NativeIso
from analysis.model.controls import Controls
from analysis.model.frame import FrameFormat, Picture
from analysis.model.hold import Hold
from analysis.model.instant import Instant
from analysis.model.turn import LampEffect, Turn
from analysis.settings.control_files import ControlFile
from analysis.settings.kept_controls import take_controls
from analysis.signal.curves import curve
from analysis.signal.levels import percent
from analysis.watch import Desks
from tests.support.pictures import picture
from tests.watch.rig import WatchRig

CURVE = "bt709"


class Kept:
    """An archive that remembers."""

    def __init__(self) -> None:
        self.held: list[Hold] = []
        self.dropped: list[str] = []
        self.controls: list[ControlFile] = []
        self.words: str | None = None

    def hold_kept(self, hold: Hold) -> None:
        self.held.append(hold)

    def hold_dropped(self, hold: Hold) -> None:
        self.dropped.append(hold.name)

    def controls_changed(self, file: ControlFile) -> None:
        self.controls.append(file)

    def trouble(self) -> str | None:
        return self.words


def code_of(stops: float) -> int:
    """The 8-bit code that lies nearest to a light of so many stops from middle grey."""
    light = 0.18 * 2.0**stops
    levels = [float(curve(CURVE).decode(percent(code, 8, "narrow") / 100)) for code in range(16, 236)]
    return 16 + min(range(len(levels)), key=lambda place: abs(levels[place] - light))


def told_stops(code: int) -> float:
    return math.log2(float(curve(CURVE).decode(percent(code, 8, "narrow") / 100)) / 0.18)


def lit(*steps: tuple[int, float]):
    """Pictures of one light, which changes to so many stops from middle grey at these frames."""

    def paint(number: int, shape: FrameFormat) -> Picture:
        stops = [level for first, level in steps if number >= first][-1]
        plain = picture(shape, seed=number, level=code_of(stops))
        encoding = msgspec.structs.replace(plain.format.encoding, curve=CURVE)
        return msgspec.structs.replace(plain, format=msgspec.structs.replace(plain.format, encoding=encoding))

    return paint


def state(rig: WatchRig, alarm: str) -> str:
    return next(each.state for each in rig.watch.snapshot().alarms if each.alarm == alarm)


def rig_with(*steps: tuple[int, float]) -> tuple[WatchRig, Kept]:
    archive = Kept()
    return WatchRig(paint=lit(*steps), desks=Desks(archive=archive)), archive


def test_a_hold_is_kept_at_once_and_the_picture_compared_with_it() -> None:
    rig, archive = rig_with((0, 0.0), (200, 1.0))
    rig.play(3)
    rig.watch.keep_hold("bench")
    snapshot = rig.play(0.2)
    assert [hold.name for hold in archive.held] == ["bench"]
    assert archive.held[0].reading.luma is not None and archive.held[0].picture is not None
    assert snapshot.matching is not None and snapshot.matching.hold == archive.held[0]
    assert snapshot.matching.difference is not None and snapshot.matching.difference.middle is not None
    assert snapshot.matching.difference.middle.stops == pytest.approx(0.0, abs=0.05)
    snapshot = rig.play(8)
    assert snapshot.matching is not None and snapshot.matching.difference is not None
    assert snapshot.matching.difference.middle is not None
    expected = told_stops(code_of(1.0)) - told_stops(code_of(0.0))
    assert snapshot.matching.difference.middle.stops == pytest.approx(expected, abs=0.1)
    rig.watch.drop_hold("bench")
    snapshot = rig.play(0.2)
    assert archive.dropped == ["bench"]
    assert snapshot.matching is not None and snapshot.matching.names == () and snapshot.matching.hold is None


def test_light_that_leaves_the_hold_is_told_and_which_way() -> None:
    rig, _ = rig_with((0, 0.0), (200, -0.7))
    rig.play(3)
    rig.watch.keep_hold("bench")
    rig.play(4)
    assert state(rig, "drift-down") == "normal"
    rig.play(25)
    assert state(rig, "drift-down").startswith("active") and state(rig, "drift-up") == "normal"
    # Forgetting the hold ends it: there is nothing left to drift from.
    rig.watch.match_with(None)
    rig.play(20)
    assert not state(rig, "drift-down").startswith("active")


def test_a_hold_chosen_for_the_next_set_up_does_not_ring_until_it_was_matched() -> None:
    rig, _ = rig_with((0, 0.0), (100, 1.0), (900, 0.0), (1400, 1.0))
    rig.play(3)
    rig.watch.keep_hold("bench")
    rig.play(0.2)
    rig.watch.match_with(None)
    rig.play(5)
    rig.watch.match_with("bench")
    rig.play(25)  # a stop off all the while
    assert state(rig, "drift-up") == "normal"
    rig.play(20)  # matched now
    assert state(rig, "drift-up") == "normal"
    rig.play(25)  # and a stop off again
    assert state(rig, "drift-up").startswith("active")


def test_a_lost_feed_ends_no_drift() -> None:
    rig, _ = rig_with((0, 0.0), (150, 1.0))
    rig.play(3)
    rig.watch.keep_hold("bench")
    rig.play(25)
    assert state(rig, "drift-up").startswith("active")
    snapshot = rig.play(20, read=False)
    assert snapshot.feed.trouble is not None
    assert snapshot.matching is not None and snapshot.matching.difference is None
    assert state(rig, "drift-up").startswith("active")


def test_what_cannot_be_done_is_said_for_a_while_and_harms_nothing() -> None:
    rig, archive = rig_with((0, 0.0))
    rig.watch.keep_hold("bench")
    snapshot = rig.play(0.04, read=False)
    assert snapshot.refusal == "hold: there is no picture to keep; wait until one is measured"
    rig.play(3)
    rig.watch.match_with("never")
    assert rig.play(0.1).refusal == "hold: there is no hold never; choose one of the list"
    rig.watch.shelve("shadows", 7200.0)
    assert rig.play(0.1).refusal == "shadows: an alarm can be shelved for 60 min at most"
    assert rig.play(10).refusal is None
    assert archive.held == [] and rig.watch.snapshot().fault is None


def test_controls_are_kept_when_they_change_and_plans_are_made_while_asked() -> None:
    archive = Kept()
    taken = take_controls("scene", env={"XDG_STATE_HOME": "/nowhere", "HOME": "/nowhere"})
    desks = Desks(archive=archive, plans=PlanDesk(policies=taken.policies))
    rig = WatchRig(paint=lit((0, 0.7)), desks=desks)
    rig.play(3)
    assert rig.watch.snapshot().planning is not None and rig.watch.snapshot().planning.planned is None
    rig.watch.set_controls(Controls(nd_stops=6.0, iso=800.0))
    rig.watch.plan(True)
    planning = rig.play(3).planning
    assert [file.controls.nd_stops for file in archive.controls] == [6.0]
    assert planning is not None and planning.said and planning.controls.nd_stops == 6.0
    assert planning.planned is not None or planning.trouble
    assert rig.watch.snapshot().reading.peaks is not msgspec.UNSET  # type: ignore[union-attr]
    rig.watch.set_policy("no such policy")
    assert "no policy no such policy" in (rig.play(0.1).refusal or "")
    rig.watch.plan(False)
    planning = rig.play(1).planning
    assert planning is not None and planning.planned is None
    assert rig.watch.snapshot().reading.peaks is msgspec.UNSET  # type: ignore[union-attr]


def test_what_could_not_be_kept_is_on_the_screen() -> None:
    rig, archive = rig_with((0, 0.0))
    rig.play(1)
    archive.words = "holds/bench.json: the disk is full"
    assert rig.play(0.2).note == "holds/bench.json: the disk is full"


def test_a_key_that_is_switched_on_tells_the_plan_its_share_and_one_that_is_switched_off_does_not() -> None:
    archive = Kept()
    taken = take_controls("scene", env={"XDG_STATE_HOME": "/nowhere", "HOME": "/nowhere"})
    desks = Desks(archive=archive, plans=PlanDesk(policies=taken.policies))
    effect = LampEffect(sitter_stops=1.0, background_stops=0.1, key_share=0.49)
    on = Turn(kind="sitter", at=Instant(0.0, 0.0), stops=1.0, seconds=0.0, share=0.9, effect=effect)
    desks._learn_share(on)
    assert archive.controls == [], "nobody said that there is a key"
    desks.plans.set_controls(Controls(key_percent=60.0))
    desks._learn_share(msgspec.structs.replace(on, stops=-1.0))
    desks._learn_share(msgspec.structs.replace(on, effect=msgspec.structs.replace(effect, at_least=True)))
    assert archive.controls == []
    desks._learn_share(on)
    desks._learn_share(on)
    assert [file.controls.key_share for file in archive.controls] == [0.49]
    assert desks.plans.controls is not None and desks.plans.controls.key_percent == 60.0


def test_a_drift_to_the_clip_reaches_the_alarm_about_headroom(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a minute ahead for six seconds: heard after the alarm's five, with the time that is left then."""
    rig = WatchRig(paint=lit((0, 0.0)))
    rig.play(2.0)
    monkeypatch.setattr(rig.watch._desks.clip, "newest", lambda now: Nearing(0.5, "window"))
    rig.play(6.0)
    assert [alarm for _, alarm, _ in rig.heard.told] == ["headroom"]
    assert rig.watch.snapshot().announced[-1].words == "headroom running out, window clips in about 30 s"


def test_headroom_in_a_watch_counts_to_where_the_sensor_is_full() -> None:
    """BT.709 writes 100 IRE at +2.47 stops; a sensor that holds 1 stop at the ISO that was told is full before."""
    native = NativeIso(iso=800.0, stops_above=1.0, stops_below=7.0)
    camera = CameraProfile(name="small", snr=2.0, natives=(native,), bits=8, range="narrow", matrix="bt709")
    plans = PlanDesk(policies={}, camera=camera)
    rig = WatchRig(paint=lit((0, 0.0)), desks=Desks(plans=plans))
    rig.play(1.0)
    before = rig.watch.snapshot().reading
    plans.set_controls(Controls(iso=800.0))
    rig.play(1.0)
    after, planning = rig.watch.snapshot().reading, rig.watch.snapshot().planning
    assert before is not None and after is not None and planning is not None
    assert before.headroom_stops is not None and before.headroom_stops > 1.8
    assert after.headroom_stops == pytest.approx(before.headroom_stops - 1.47, abs=0.1)
    assert planning.sensor_end is not None and 55.0 < planning.sensor_end < 60.0
