"""The watch as a whole: from light to sound, on a fake clock, and that nothing takes it down."""

from __future__ import annotations

import threading
import time

import msgspec
import numpy as np
import pytest

from analysis.feed.faulty import Fault
from analysis.model.frame import FrameFormat, Picture
from analysis.model.snapshot import Snapshot
from tests.support.pictures import picture
from tests.watch.rig import WatchRig


def clipping(share: float, first: int, last: int):
    """Pictures of a middling level of which a share is far above white from frame ``first`` to ``last``."""

    def paint(number: int, shape: FrameFormat) -> Picture:
        plain = picture(shape, seed=number, level=110)
        if first <= number < last:
            luma = plain.planes[0].copy()
            luma[: max(1, round(shape.height * share))] = 250
            return msgspec.structs.replace(plain, planes=(luma, *plain.planes[1:]))
        return plain

    return paint


def alarm_state(snapshot: Snapshot, name: str) -> str:
    return next(alarm.state for alarm in snapshot.alarms if alarm.alarm == name)


def test_a_sound_picture_is_measured_frame_by_frame() -> None:
    rig = WatchRig()
    snapshot = rig.play(10)
    assert rig.watch.measured >= 240
    assert snapshot.feed.state == "live" and snapshot.reading is not None and snapshot.view is not None
    assert snapshot.reading.luma is not None
    assert snapshot.reading.luma.p50 == pytest.approx(100 * (90 - 16) / 219, abs=1.0)
    assert rig.heard.told == [] and snapshot.bells == 0 and snapshot.fault is None
    assert len(snapshot.timeline) == pytest.approx(9, abs=1)


def test_from_light_to_sound_within_two_frames_and_the_delay() -> None:
    """The light changes at frame 100; the alarm's own delay is one second."""
    rig = WatchRig(paint=clipping(0.1, 100, 10_000))
    rig.play(10)
    assert [(alarm, occurrence) for _, alarm, occurrence in rig.heard.told] == [("highlights", 1)]
    changed = next(e.at.monotonic for e in rig.notes.feed if e.after == "priming") + 100 / 25
    assert 1.0 - 1e-6 <= rig.heard.told[0][0] - changed <= 1.0 + 2 / 25 + 1e-6
    assert rig.watch.snapshot().bells == 1


def test_a_cloud_that_passes_rings_once_and_clears_by_itself() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 150))
    snapshot = rig.play(12)
    told = [(change.before, change.after) for change in rig.notes.alarms]
    assert told == [("normal", "active-unacknowledged"), ("active-unacknowledged", "normal")]
    assert alarm_state(snapshot, "highlights") == "normal" and snapshot.bells == 1


def test_a_vanished_camera_blanks_everything_and_sounds_once() -> None:
    rig = WatchRig(Fault(name="vanish", at=100, count=1))
    rig.play(4.2)
    snapshot = rig.watch.snapshot()
    assert snapshot.reading is None and snapshot.view is None
    assert alarm_state(snapshot, "feed") == "active-unacknowledged"
    assert [alarm for _, alarm, _ in rig.heard.told] == ["feed"]
    rig.play(10)  # each new life of this camera ends at its hundredth frame as well
    outages = sum(event.after == "lost" for event in rig.notes.feed)
    assert outages > 1
    assert [(a, n) for _, a, n in rig.heard.told] == [("feed", n + 1) for n in range(outages)]


def test_a_silent_camera_blanks_within_its_deadline() -> None:
    rig = WatchRig()
    assert rig.play(4).reading is not None
    snapshot = rig.play(0.8, read=False)
    assert snapshot.feed.state == "late" and snapshot.reading is not None
    assert snapshot.reading.validity == "late", "what is shown says how far it may be believed"
    snapshot = rig.play(0.6, read=False)
    assert snapshot.feed.state == "lost" and snapshot.reading is None and snapshot.view is None


def test_acknowledging_and_muting() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    rig.play(5)
    rig.watch.acknowledge("highlights")
    assert alarm_state(rig.play(0.2), "highlights") == "active-acknowledged"
    rig.watch.mute(60)
    assert rig.play(0.2).outlet.muted_seconds == pytest.approx(60, abs=0.5)
    rig.watch.unmute()
    assert rig.play(0.2).outlet.muted_seconds == 0


def test_a_rise_that_came_after_the_screen_was_drawn_is_not_taken_as_seen() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    rig.play(5)
    rig.watch.acknowledge_seen([("highlights", 2)])
    snapshot = rig.play(0.2)
    assert alarm_state(snapshot, "highlights") == "active-unacknowledged"
    assert snapshot.refusal is not None and "not the present one, which is 1" in snapshot.refusal
    rig.watch.acknowledge_seen([])
    assert alarm_state(rig.play(0.2), "highlights") == "active-unacknowledged"
    rig.watch.acknowledge_seen([("highlights", 1)])
    assert alarm_state(rig.play(0.2), "highlights") == "active-acknowledged"


def test_where_alarms_sound_is_changed_while_it_runs_and_said() -> None:
    rig = WatchRig()
    rig.play(0.5)
    rig.watch.sound_from("off")
    shown = rig.play(0.2)
    assert (shown.outlet.outlet, shown.refusal) == ("off", "sound: sound is turned off")
    rig.watch.sound_from("bell")
    shown = rig.play(0.2)
    assert (shown.outlet.outlet, shown.refusal) == ("bell", "sound: terminal bell, as asked")
    rig.watch.sound_from("trumpet")
    shown = rig.play(0.2)
    assert shown.outlet.outlet == "bell"
    assert shown.refusal is not None and "no sound mode called trumpet" in shown.refusal


def test_a_mute_is_silent_but_not_blind() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    rig.watch.mute(60)
    snapshot = rig.play(5)
    assert alarm_state(snapshot, "highlights") == "active-unacknowledged" and snapshot.bells == 0


def test_what_rose_during_a_mute_and_still_holds_is_heard_when_it_ends() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    rig.watch.mute(20)
    assert rig.play(19).bells == 0
    assert rig.play(3).bells == 1
    assert rig.play(10).bells == 1, "once"


def test_a_mute_that_is_ended_early_is_over_as_well() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    rig.watch.mute(600)
    assert rig.play(5).bells == 0
    rig.watch.unmute()
    assert rig.play(2).bells == 1


def test_what_was_seen_or_is_over_when_a_mute_ends_is_not_heard() -> None:
    seen, over = WatchRig(paint=clipping(0.1, 50, 10_000)), WatchRig(paint=clipping(0.1, 50, 200))
    for rig in (seen, over):
        rig.watch.mute(20)
        rig.play(5)
    seen.watch.acknowledge("highlights")
    assert seen.play(20).bells == over.play(20).bells == 0


def test_what_was_heard_before_a_mute_is_not_told_again_after_it() -> None:
    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    assert rig.play(5).bells == 1
    rig.watch.mute(5)
    assert rig.play(10).bells == 1


def test_a_fault_inside_is_shown_and_the_watch_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = WatchRig()
    rig.play(2)
    meter = rig.watch._meter
    good = meter.measure

    def broken(*_: object) -> object:
        raise RuntimeError("loose cleat")

    monkeypatch.setattr(meter, "measure", broken)
    snapshot = rig.play(0.2)
    assert snapshot.fault == "RuntimeError: loose cleat" and snapshot.reading is None
    monkeypatch.setattr(meter, "measure", good)
    snapshot = rig.play(0.2)
    assert snapshot.fault is None and snapshot.reading is not None


def test_frames_are_given_back_and_never_written_to() -> None:
    rig = WatchRig()
    rig.play(3)
    free = len(rig.feed.pool._free)
    rig.play(20)
    assert len(rig.feed.pool._free) <= max(free, 12)


def test_a_full_command_queue_does_not_block_the_screen() -> None:
    rig = WatchRig()
    for _ in range(1000):
        rig.watch.acknowledge(None)
    rig.play(0.2)
    assert rig.watch.snapshot().fault is None


def test_close_returns_though_feed_and_sound_hang() -> None:
    """Real time: a reader asleep in a system call and a sound process that does not answer."""
    hold = threading.Event()
    rig = WatchRig()
    rig.play(1)
    began = time.monotonic()
    rig.watch.close()
    hold.set()
    assert time.monotonic() - began < 6.0, "three seconds are promised; a busy machine gets twice that"


def test_a_reshaped_picture_starts_anew_and_mixes_nothing() -> None:
    def paint(number: int, shape: FrameFormat) -> Picture:
        if number >= 100:
            shape = msgspec.structs.replace(shape, width=32, height=24)
        return picture(shape, seed=number, level=60 if number < 100 else 180)

    rig = WatchRig(paint=paint)
    sizes = set()
    for _ in range(200):
        snapshot = rig.play(1 / 25)
        if snapshot.reading is not None and snapshot.reading.luma is not None:
            sizes.add((snapshot.reading.picture.width, round(snapshot.reading.luma.p50 / 10)))
    low, high = round(100 * (60 - 16) / 219 / 10), round(100 * (180 - 16) / 219 / 10)
    assert sizes == {(64, low), (32, high)}
    assert [e.after for e in rig.notes.feed].count("reshaped") == 1
    assert np.isfinite(high)


def test_a_restart_goes_on_where_the_journal_left_it() -> None:
    """An alarm that was acknowledged half a minute ago stays so, and is not heard again (restart rule, under 60 s)."""
    from analysis.alarm.defaults import DEFAULT_RULES
    from analysis.engine.step import begin
    from analysis.model.alarm import SavedAlarms
    from analysis.model.instant import Instant

    rig = WatchRig(paint=clipping(0.1, 50, 10_000))
    rig.play(5)
    rig.watch.acknowledge("highlights")
    rig.play(0.2)
    stopped = rig.clock.now()
    saved = SavedAlarms(alive=Instant(0.0, stopped.utc), changes=tuple(rig.notes.alarms))
    state, _ = begin(DEFAULT_RULES, Instant(3.0, stopped.utc + 30.0), saved)
    states = {alarm.alarm: alarm.state for alarm in state.alarms(Instant(3.0, stopped.utc + 30.0))}
    assert states["highlights"] == "active-acknowledged" and states["feed"] == "normal"


def test_spots_aims_and_line_up_reach_the_snapshot() -> None:
    from analysis.model.sitter import Spot
    from analysis.settings.aim_settings import AimChoice

    rig = WatchRig()
    spot = Spot(name="bench", kind="watch", x=0.25, y=0.25, width=0.5, height=0.5)
    rig.watch.set_spots((spot,))
    rig.watch.set_aims({"sitter": AimChoice(value=50.0, tolerance=5.0)})
    rig.watch.line_up(True)
    snapshot = rig.play(2)
    assert snapshot.spots == (spot,)
    assert snapshot.reading is not None and snapshot.reading.spots is not None
    assert snapshot.reading.spots["bench"].level == pytest.approx(100 * (90 - 16) / 219, abs=0.5)
    assert [(aim.target, aim.value) for aim in snapshot.aims] == [("sitter", 50.0)]
    assert snapshot.lineup is not None and snapshot.lineup.pattern is None  # type: ignore[attr-defined]
    rig.watch.line_up(False)
    assert rig.play(0.2).lineup is None
