"""The ghost against the truth: the trace that is predicted and the trace that is rendered with those settings."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analysis.exposure.aims import level_of
from analysis.exposure.ghost import Shift, camera_stops, ghost, ghost_of, keyed_stops, moved_levels, shift_of
from analysis.model.controls import ControlLimits, Controls
from analysis.model.reading import SignalEnd, View
from analysis.signal.curves import curve
from tests.exposure.outdoors import CAMERA, INDOORS, LOG, OUTDOORS, reading
from tests.tui.deciding import moment

STEP = 0.5


def flat(*levels: float, columns: int = 24) -> View:
    """A view whose columns each hold these levels in equal parts."""
    trace = np.zeros((columns, 236), np.float32)
    for level in levels:
        trace[:, int((level + 8.0) / STEP)] = 100.0
    small = np.zeros((4, 4, 3), np.uint8)
    return View(trace=trace, trace_rgb=None, low=-8.0, step=STEP, small=small)


def plain(stops: float = 0.0, key: float = 0.0, end: float = 109.0, hidden: float = 108.0) -> Shift:
    return Shift(camera_stops=stops, key_stops=key, end=end, hidden_from=hidden)


@pytest.mark.parametrize("coding", ["acescct", "bt709", "hlg"])
@pytest.mark.parametrize(("nd", "to"), [(3.0, 2.0), (2.0, 3.0), (3.0, 4.0), (4.0, 2.0)])
def test_the_ghost_lies_where_the_trace_is_rendered(coding: str, nd: float, to: float) -> None:
    """A stop and two, up and down, where nothing clips: within a bin before and a bin after, carried by the curve."""
    seen, view, file, camera = moment(curve=coding, nd=nd)
    after = moment(curve=coding, nd=to)[1]
    how = curve(coding)
    now = file.controls
    shift = shift_of(seen, now, msgspec.structs.replace(now, nd_stops=to), how, camera=camera)
    predicted = ghost(view, seen, shift, how)
    true = ghost(after, seen, plain(), how)
    open_ = ~predicted.hidden & (true.high < min(shift.end, 100.0) - 1.0) & (predicted.high < shift.end - 1.0)
    assert open_.mean() > 0.5, "the check must be of something"
    apart = np.abs(predicted.high - true.high)[open_]
    assert np.median(apart) <= view.step + 1e-4, apart
    before = ghost(view, seen, plain(), how).high.astype(np.float64)
    bin_before = moved_levels(before + view.step, shift.camera_stops, 109.0, how)
    bin_before -= moved_levels(before, shift.camera_stops, 109.0, how)
    assert (apart <= (view.step + np.abs(bin_before))[open_] + 1e-4).mean() > 0.95, apart
    # The lower edge is noise above the floor, which a change of light does not scale: held where it lies well above.
    low = open_ & (true.low > 25.0) & (predicted.low > 25.0)
    assert (np.abs(predicted.low - true.low)[low] <= 4.0 * view.step).all()


def test_a_column_goes_through_the_curve() -> None:
    # Recommendation ITU-R BT.709-6, item 1.2: V = 1.099 L^0.45 - 0.099. 18 % gives 40.9 IRE, 36 % gives 59.5.
    seen = msgspec.structs.replace(reading(0.0, *INDOORS), sitters=())
    found = ghost(flat(40.9), seen, plain(1.0), curve("bt709"))
    assert np.allclose(found.high, 59.5, atol=STEP)
    assert np.allclose(found.low, 59.5, atol=STEP)
    assert not found.hidden.any()


def test_a_log_curve_moves_every_level_alike() -> None:
    # ACEScct (S-2016-001): above its toe one stop is 1 / 17.52 of the signal, 5.71 IRE.
    levels = np.array([30.0, 50.0, 60.0])
    assert np.allclose(moved_levels(levels, 2.0, 109.0, LOG) - levels, 2 * 100 / 17.52, atol=0.01)


def test_nothing_passes_the_end_and_nothing_is_invented_below_light() -> None:
    levels = np.array([-5.0, 0.0, 95.0])
    moved = moved_levels(levels, 3.0, 98.0, curve("bt709"))
    assert moved.tolist() == [-5.0, 0.0, 98.0]
    # A linear code below black is no light: it stays where it is, whichever way things go.
    assert moved_levels(levels, -3.0, 98.0, curve("bt709"))[:2].tolist() == [-5.0, 0.0]


def test_a_key_moves_only_the_sitter_in_the_sitters_columns() -> None:
    seen = reading(0.0, *INDOORS)
    sitter = seen.sitters[0]
    view = flat(sitter.level, 70.0, columns=192)
    found = ghost(view, seen, plain(key=-1.0), LOG, sitter=sitter)
    first, last = 80, 110  # 800 and 300 more of 1920 pixels, ten to a column
    assert np.allclose(np.delete(found.low, np.s_[first:last]), sitter.level, atol=STEP)
    assert np.allclose(found.low[first:last], sitter.level - 100 / 17.52, atol=STEP)
    assert np.allclose(found.high, 70.0, atol=STEP), "the wall behind is not lit by the key"
    assert found.skin == pytest.approx(sitter.level - 100 / 17.52, abs=0.01)
    assert found.skin_at == pytest.approx((first / 192, last / 192))


def test_a_key_that_is_a_part_of_the_light() -> None:
    # Half the light doubled is one and a half times the light: log2(1.5).
    now = Controls(key_percent=50.0, key_share=0.5)
    assert keyed_stops(now, msgspec.structs.replace(now, key_percent=100.0)) == pytest.approx(np.log2(1.5))
    assert keyed_stops(now, now) == 0.0


def test_stops_of_the_camera_add_up() -> None:
    now = Controls(nd_stops=6.0, iso=800.0, t_stop=2.8, shutter_angle=180.0)
    to = Controls(nd_stops=4.0, iso=400.0, t_stop=4.0, shutter_angle=90.0, key_percent=90.0)
    assert camera_stops(now, to) == pytest.approx(2.0 - 1.0 - 1.0 - 1.0)
    assert camera_stops(now, msgspec.structs.replace(now, t_stop=None)) == 0.0


def test_what_is_clipped_now_may_lie_higher() -> None:
    seen = reading(0.0, *OUTDOORS, clipped=3.0)
    top = level_of(6.0, LOG)
    seen = msgspec.structs.replace(seen, ceiling=SignalEnd(level=top, share=3.0, channels=("luma",)))
    view = flat(40.0, top)
    now = Controls(nd_stops=6.0)
    darker = shift_of(seen, now, Controls(nd_stops=8.0), LOG, camera=CAMERA)
    found = ghost(view, seen, darker, LOG)
    assert found.hidden.all()
    assert np.allclose(found.high, top - 2 * 100 / 17.52, atol=STEP)
    brighter = shift_of(seen, now, Controls(nd_stops=4.0), LOG, camera=CAMERA)
    found = ghost(view, seen, brighter, LOG)
    assert not found.hidden.any(), "it stays at the end of the signal, and that is known"
    assert np.allclose(found.high, top, atol=STEP)


def test_less_iso_takes_the_clip_down_and_brings_nothing_back() -> None:
    seen = reading(0.0, *OUTDOORS, clipped=3.0)
    top = level_of(6.0, LOG)
    seen = msgspec.structs.replace(seen, ceiling=SignalEnd(level=top, share=3.0, channels=("luma",)))
    shift = shift_of(seen, Controls(iso=800.0), Controls(iso=400.0), LOG, camera=CAMERA)
    assert shift.end == pytest.approx(top - 100 / 17.52, abs=0.1)
    found = ghost(flat(40.0, top), seen, shift, LOG)
    assert not found.hidden.any()
    assert np.allclose(found.high, shift.end, atol=STEP)


def test_without_a_ceiling_the_signal_goes_on_to_the_end_of_its_codes() -> None:
    seen, _, file, _ = moment(curve="bt709", nd=3.0)
    seen = msgspec.structs.replace(seen, ceiling=None)
    shift = shift_of(seen, file.controls, file.controls, curve("bt709"))
    # 10-bit narrow range, BT.709-6 item 4.6: codes 4 to 1019; (1019 - 64) / 876 is 109.0 IRE.
    assert shift.end == pytest.approx(109.02, abs=0.01)
    assert shift.camera_stops == 0.0


def test_empty_columns_have_no_outline() -> None:
    view = flat(40.0)
    view.trace[5] = 0.0
    found = ghost(view, reading(0.0, *INDOORS), plain(1.0), LOG)
    assert np.isnan(found.low[5])
    assert np.isnan(found.high[5])
    assert np.isfinite(np.delete(found.high, 5)).all()


def test_a_ghost_is_named_after_its_settings() -> None:
    seen, view, file, camera = moment(nd=1.0)
    from analysis.exposure.plan import plan
    from tests.tui.deciding import AIM, POLICIES

    planned = plan(seen, file.controls, POLICIES["open-sky"], LOG, (AIM,), limits=ControlLimits(), camera=camera)
    found = ghost_of(view, seen, planned.plans[0], file.controls, LOG, camera=camera, sitter=seen.sitters[0])
    assert found.label.startswith("ND ")
    assert found.skin == pytest.approx(planned.plans[0].predicted.sitter_level, abs=0.2)
    assert found.high.shape == found.low.shape == found.hidden.shape == (view.trace.shape[0],)
