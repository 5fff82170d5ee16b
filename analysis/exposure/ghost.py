"""Where the trace would lie with other settings: an outline of the picture that a way predicts.

Every level goes to its light through the curve, is moved, and comes back; what reaches the end of the signal stays
there. A key moves only the levels of the sitter, in the sitter's columns. Luma is taken as a neutral grey's, which
is exact where the curve is a logarithm or a power of light, and near it elsewhere.
"""

from __future__ import annotations

from math import log2

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.aims import FAINTEST, level_of, stops_of
from analysis.exposure.control_words import key_stops_between, short_moves
from analysis.exposure.key_power import Dimmer
from analysis.exposure.predict import Outlook
from analysis.exposure.series import aperture_stops, exact_aperture
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.plan import Plan
from analysis.model.reading import Reading, View
from analysis.model.sitter import SitterReading
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.levels import percent, top_code

Floats = npt.NDArray[np.float32]

LOWEST, HIGHEST = 0.01, 0.99
"""Parts of a column that lie below its lower and its upper edge: noise and single glints draw no outline."""
WORTH = 0.005
"""Part of a column that has to lie at the end of the signal before its truth counts as hidden."""
AT_END = 0.6
"""IRE below the end of the signal where rounding and noise leave what is clipped."""
SKIN_MARGIN = 1.0
"""IRE around the sitter's own levels that move with the key."""


class Shift(msgspec.Struct, frozen=True, kw_only=True):
    """How a picture is moved: ``camera_stops`` of all light, ``key_stops`` more of the sitter's skin.

    ``end`` is the level in IRE at which the signal then stops; ``hidden_from`` the level now from which light may be
    brighter than it reads.
    """

    camera_stops: float
    key_stops: float
    end: float
    hidden_from: float


class Ghost(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The outline of a predicted trace, in IRE: ``low`` and ``high`` edge of every column of the view.

    NaN where a column holds nothing. ``hidden`` marks columns of which the upper edge may lie higher, since
    light is clipped there now. ``skin`` is the sitter's predicted level and ``skin_at`` the first and last part of the
    picture's width they take; None without a sitter. ``label`` says which settings it is of.
    """

    label: str
    low: Floats
    high: Floats
    hidden: npt.NDArray[np.bool_]
    skin: float | None = None
    skin_at: tuple[float, float] | None = None


def camera_stops(now: Controls, to: Controls) -> float:
    """Stops by which the whole picture gets brighter from some settings to others; the key has no part in it.

    >>> camera_stops(Controls(nd_stops=6, iso=800), Controls(nd_stops=8, iso=1600))
    -1.0
    """
    stops = now.nd_stops - to.nd_stops + log2(to.iso / now.iso) + log2(to.shutter_angle / now.shutter_angle)
    if now.t_stop is not None and to.t_stop is not None and now.t_stop != to.t_stop:
        stops -= aperture_stops(exact_aperture(now.t_stop), exact_aperture(to.t_stop))
    return stops


def keyed_stops(now: Controls, to: Controls, dimmer: Dimmer | None = None) -> float:
    """Stops by which the sitter's skin gets brighter by the key alone, of whose light it has a share.

    >>> round(keyed_stops(Controls(key_percent=50, key_share=0.5), Controls(key_percent=100, key_share=0.5)), 3)
    0.585
    """
    key = key_stops_between(now, to, dimmer)
    return log2(max(1.0 - now.key_share + now.key_share * 2.0**key, FAINTEST))


def shift_of(
    reading: Reading,
    now: Controls,
    to: Controls,
    curve: Curve,
    *,
    limits: ControlLimits | None = None,
    camera: CameraProfile | None = None,
) -> Shift:
    """How a measured picture would be moved from some settings to others."""
    assert reading.clipped is not None, "a reading that was not measured"
    outlook = Outlook(reading, now, curve, camera=camera, limits=limits)
    before, after = (float(each) for each in outlook.ends(np.array([now.iso, to.iso])))
    return Shift(
        camera_stops=camera_stops(now, to),
        key_stops=keyed_stops(now, to, limits.dimmer if limits is not None else None),
        end=_end(reading, curve, before, after),
        hidden_from=_end(reading, curve, before, before) - AT_END,
    )


def _end(reading: Reading, curve: Curve, before: float, after: float) -> float:
    """Where the signal stops, in IRE, where light counts as clipped from ``after`` and now from ``before`` (stops)."""
    assert reading.clipped is not None
    bits, span = reading.encoding.bits, reading.encoding.range
    # Narrow range leaves the last codes to the interface: 254 of 8 bits, 1019 of 10 (BT.709-6, item 4.6).
    code = top_code(bits) - (max(1, 2 ** (bits - 8)) if span == "narrow" else 0)
    last = percent(code, bits, span)
    if reading.ceiling is not None:
        # Counting begins a little below the ceiling; both move together.
        stands = stops_of(reading.ceiling.level, curve)
        return min(last, reading.ceiling.level if stands is None else level_of(stands + after - before, curve))
    counted = stops_of(reading.clipped.level, curve)
    # Where the sensor is not full before the count begins, the signal goes on to the end of its codes.
    return last if counted is None or after >= counted - 1e-6 else min(last, level_of(after, curve))


def moved_levels(levels: npt.NDArray[np.float64], stops: float, end: float, curve: Curve) -> npt.NDArray[np.float64]:
    """Levels in IRE after so many stops more of light; none above ``end``.

    Below the light that the curve knows, levels stay: there is only noise and the foot of the signal.

    >>> from analysis.signal.curves import curve
    >>> moved_levels(np.array([0.0, 40.9, 59.5]), -1.0, 100.0, curve("bt709")).round(1).tolist()
    [0.0, 27.3, 40.9]
    """
    light = np.asarray(curve.decode(levels / 100.0), np.float64)
    after = 100.0 * np.asarray(curve.encode(light * 2.0**stops), np.float64)
    return np.asarray(np.minimum(np.where(light > FAINTEST * MIDDLE_GREY, after, levels), end))


def ghost(
    view: View, reading: Reading, shift: Shift, curve: Curve, label: str = "", sitter: SitterReading | None = None
) -> Ghost:
    """The outline of a view after a shift; ``sitter`` is whom the key lights."""
    counts = np.asarray(view.trace, np.float64)
    columns, bins = counts.shape
    edges = view.low + view.step * np.arange(bins + 1)
    middles = (edges[:-1] + edges[1:]) / 2.0
    whole = moved_levels(middles, shift.camera_stops, shift.end, curve)
    low, high = _edges(counts, whole)
    at = _columns(sitter, reading, columns)
    if at is not None and sitter is not None and abs(shift.key_stops) > 1e-6:
        first, last = at
        keyed = _keyed(middles, whole, shift, sitter, curve)
        low[first:last], high[first:last] = _edges(counts[first:last], keyed)
    total = np.maximum(counts.sum(axis=1), 1e-9)
    at_end = counts[:, middles >= shift.hidden_from].sum(axis=1) / total >= WORTH
    hidden = at_end & (high < shift.end - view.step)
    skin = None
    if sitter is not None and sitter.level is not None:
        by = shift.camera_stops + shift.key_stops
        skin = float(moved_levels(np.array([sitter.level]), by, max(shift.end, sitter.level), curve)[0])
    return Ghost(
        label=label,
        low=low.astype(np.float32),
        high=high.astype(np.float32),
        hidden=hidden,
        skin=skin,
        skin_at=None if at is None or skin is None else (at[0] / columns, at[1] / columns),
    )


def ghost_of(
    view: View,
    reading: Reading,
    way: Plan,
    now: Controls,
    curve: Curve,
    *,
    limits: ControlLimits | None = None,
    camera: CameraProfile | None = None,
    sitter: SitterReading | None = None,
) -> Ghost:
    """The outline of what a way predicts, named after its settings."""
    shift = shift_of(reading, now, way.controls, curve, limits=limits, camera=camera)
    return ghost(view, reading, shift, curve, ", ".join(short_moves(now, way.controls)), sitter)


def _keyed(
    middles: npt.NDArray[np.float64],
    whole: npt.NDArray[np.float64],
    shift: Shift,
    sitter: SitterReading,
    curve: Curve,
) -> npt.NDArray[np.float64]:
    """Where levels go in the sitter's columns: those of the skin with the key, all others with the camera alone."""
    if sitter.low is None or sitter.high is None:
        return whole
    skin = (middles >= sitter.low - SKIN_MARGIN) & (middles <= sitter.high + SKIN_MARGIN)
    return np.where(skin, moved_levels(middles, shift.camera_stops + shift.key_stops, shift.end, curve), whole)


def _edges(
    counts: npt.NDArray[np.float64], levels: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Lower and upper edge of columns of counts whose bins lie at these levels; NaN where there is nothing."""
    order = np.argsort(levels, kind="stable")
    sums = np.cumsum(counts[:, order], axis=1)
    total = sums[:, -1]
    found = []
    for part in (LOWEST, HIGHEST):
        place = (sums < total[:, None] * part - 1e-9).sum(axis=1)
        found.append(np.where(total > 0.0, levels[order][np.minimum(place, levels.size - 1)], np.nan))
    return found[0], found[1]


def _columns(sitter: SitterReading | None, reading: Reading, columns: int) -> tuple[int, int] | None:
    """First and one past the last column of a sitter; None without one, or one that takes no place."""
    if sitter is None or sitter.box[2] <= 0:
        return None
    left, _, wide, _ = reading.picture.active
    first = int(np.clip(round((sitter.box[0] - left) / wide * columns), 0, columns - 1))
    last = int(np.clip(round((sitter.box[0] + sitter.box[2] - left) / wide * columns), first + 1, columns))
    return first, last
