"""From a bracket of a grey card to a camera's own curve, its clip level, its noise and its usable stops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.card import StepReading, signed
from analysis.model.camera import CameraProfile, NativeIso, Response
from analysis.model.errors import Unmeasurable
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.curves.table import StopsTable, slopes

FEWEST_STEPS = 4
_STANDS_STILL = 0.15
"""A rise of less than this part of the rise below it is none: the signal has stopped."""
_DOUBTFUL = 0.75
_FLOOR_CODES = 0.25
"""Codes a stop below which darkness no longer shows."""
_SLACK_CODES = 1.5
_ODD_STOPS = 0.35
"""Stops by which one step may lie off the curve through the others before its filter is doubted."""
_DRIFT_STOPS = 0.1
_NEAR_CURVE_STOPS = 0.15
_NEUTRAL = 0.05
_QUANTISED = 1.0 / math.sqrt(12.0)
Doubles = npt.NDArray[np.float64]


class Characterised(msgspec.Struct, frozen=True, kw_only=True):
    """The profile, and what its reader should know of how it came about."""

    profile: CameraProfile
    notes: tuple[str, ...]


def characterise(
    steps: Sequence[StepReading],
    *,
    name: str,
    iso: float,
    snr: float = 2.0,
    known: Sequence[Curve] = (),
    measured: str | None = None,
) -> Characterised:
    """The profile of a camera from a bracket in any order; step 0 is the card at middle grey.

    The curve is the level of every step at which the signal still rises. The clip level is where it
    stops. Signal-to-noise of a step is its light over its noise, noise brought to light by the slope of the
    curve (the incremental gain of ISO 15739); usable stops reach from where that ratio is ``snr`` to
    the clip. Noise below what rounding to codes makes (1/sqrt(12) code) counts as that much; steps without
    noise give the curve and the clip alone. ``known`` are curves to compare with.

    Raises Unmeasurable, in one line, for a bracket that contradicts itself or is too small.
    """
    ordered = sorted(steps, key=lambda step: step.stops)
    _check_form(ordered)
    stops, levels = np.array([s.stops for s in ordered]), np.array([s.level for s in ordered])
    code = ordered[0].code
    _check_order(stops, levels, code)
    first, last, clip = _ends(ordered, stops, levels)
    if last - first + 1 < FEWEST_STEPS:
        raise Unmeasurable(
            f"only {max(0, last - first + 1)} of the steps lie between black and the clip", "the bracket",
            f"add steps: {FEWEST_STEPS} or more are needed, better one a stop",
        )  # fmt: skip
    rising, light, level = ordered[first : last + 1], stops[first : last + 1], levels[first : last + 1]
    if not light[0] <= 0.0 <= light[-1]:
        raise Unmeasurable("middle grey lies outside the steps that rise", "the bracket", "begin with step 0")
    slope = slopes(light, level)
    _check_steps(rising, light, level, slope)
    ratio = _ratios(rising, slope)
    below, below_open = (float(light[0]), True) if ratio is None else _lowest(light, ratio, snr)
    above = _reach(light, level, clip, stops[last + 1]) if clip is not None else float(light[-1])
    clear = np.full(len(light), True) if ratio is None else ratio >= snr
    nearest = _nearest(light[clear], level[clear], known)
    form = ordered[0]
    profile = CameraProfile(
        name=name,
        snr=snr,
        natives=(
            NativeIso(
                iso=iso,
                stops_above=round(above, 3),
                stops_below=round(-below, 3),
                above_at_least=clip is None,
                below_at_least=below_open,
            ),
        ),
        bits=form.bits,
        range=form.encoding.range,
        matrix=form.encoding.matrix,
        clip_percent=None if clip is None else round(100.0 * clip, 3),
        noise_percent=None if rising[0].noise is None else round(100.0 * rising[0].noise, 4),
        curve=nearest[0] if nearest else None,
        curve_within=round(nearest[1], 3) if nearest else None,
        curve_offset=round(nearest[2], 3) if nearest else None,
        response=Response(
            stops=tuple(round(float(value), 4) for value in light),
            percent=tuple(round(100.0 * float(value), 4) for value in level),
            noise_percent=tuple(round(100.0 * step.noise, 4) for step in rising if step.noise is not None),
            snr=() if ratio is None else tuple(round(float(value), 3) for value in ratio),
        ),
        measured=measured,
    )
    notes = _notes(ordered, light, clip is None, below_open, ratio is None)
    return Characterised(profile=profile, notes=notes)


def _check_form(ordered: Sequence[StepReading]) -> None:
    if len(ordered) < FEWEST_STEPS:
        raise Unmeasurable(f"{len(ordered)} steps make no bracket", "the bracket", f"give {FEWEST_STEPS} or more")
    for one, two in pairwise(ordered):
        if two.stops - one.stops < 0.05:
            raise Unmeasurable(f"step {signed(two.stops)} is given twice", "the bracket", "give every step once")
        if (one.encoding, one.bits) != (two.encoding, two.bits):
            raise Unmeasurable(
                f"steps {signed(one.stops)} and {signed(two.stops)} differ in depth, range or matrix", "the bracket",
                "use one setting of the feed for all",
            )  # fmt: skip


def _check_order(stops: Doubles, levels: Doubles, code: float) -> None:
    fallen = np.flatnonzero(np.diff(levels) < -_SLACK_CODES * code)
    if fallen.size:
        i = int(fallen[0])
        raise Unmeasurable(
            f"step {signed(stops[i + 1])} is darker ({100 * levels[i + 1]:.1f} IRE) than step {signed(stops[i])}"
            f" ({100 * levels[i]:.1f} IRE)", "the bracket", "check the filters, and that the light did not change",
        )  # fmt: skip


def _ends(ordered: Sequence[StepReading], stops: Doubles, levels: Doubles) -> tuple[int, int, float | None]:
    """First and last step at which the signal rises, and the level (signal) where it stops."""
    code, rates = ordered[0].code, np.diff(levels) / np.diff(stops)
    first = 0
    while first < len(rates) and rates[first] < _FLOOR_CODES * code:
        first += 1
    last = len(levels) - 1
    if first >= last:
        return first, last, None
    steepest = float(rates[max(first, last - 4) :].max())
    if rates[-1] > max(_STANDS_STILL * steepest, _FLOOR_CODES * code) and not _full(ordered, rates):
        # A last step that rises much less may be full already: without one more beyond it nobody can say.
        doubtful = last - first >= 2 and rates[-1] < _DOUBTFUL * rates[-2]
        return first, last - 1 if doubtful else last, None
    clip = float(levels[-1])
    margin = max(code, 0.03 * steepest)
    while last >= first and levels[last] > clip - margin:
        last -= 1
    return first, last, clip


def _ratios(rising: Sequence[StepReading], slope: Doubles) -> Doubles | None:
    """Signal-to-noise of each step as a factor, None where noise was not measured."""
    noise = [step.noise for step in rising if step.noise is not None]
    if len(noise) < len(rising):
        return None
    if max(noise) == 0.0:
        todo = "use a feed that neither repeats nor smooths its frames, or --without-noise"
        raise Unmeasurable("no step shows any noise, so noise cannot be measured", "the bracket", todo)
    heard = np.maximum(np.array(noise), rising[0].code * _QUANTISED)
    return np.asarray(slope / (math.log(2.0) * heard))


def _full(ordered: Sequence[StepReading], rates: Doubles) -> bool:
    """Whether the brightest step alone is full: it rises less than the one below, and its noise has collapsed."""
    top, under = ordered[-1], ordered[-2]
    if top.noise is None or under.noise is None:
        return False
    return bool(under.noise > 0.3 * under.code and top.noise < 0.25 * under.noise and rates[-1] < 0.9 * rates[-2])


def _check_steps(rising: Sequence[StepReading], light: Doubles, level: Doubles, slope: Doubles) -> None:
    """Refuse light that changes within a step, and a step that is not where its filter says."""
    for step, rate in zip(rising, slope, strict=True):
        # The mean of a few hundred pixels wanders by its noise; that is no drift.
        if step.drift - (step.noise or 0.0) > max(_DRIFT_STOPS * float(rate), _SLACK_CODES * step.code):
            said = f"the light changes by {step.drift / float(rate):.2f} stops while it is read"
            todo = "use steady light, and a shutter that suits the mains"
            raise Unmeasurable(said, f"step {signed(step.stops)}", todo)
    gaps = _gaps(light, level)
    if max(gaps, default=0.0) > 1.0:
        # A wrong step makes its neighbours look wrong too: it is the one without which the others agree.
        worst = min(
            range(1, len(light) - 1), key=lambda i: max(_gaps(np.delete(light, i), np.delete(level, i)), default=0)
        )
        found = _read_by_others(light, level, worst)
        said = f"it reads as {found:+.1f} stops against its neighbours"
        raise Unmeasurable(said, f"step {signed(light[worst])}", "check its filter, and that the light did not change")


def _gaps(light: Doubles, level: Doubles) -> list[float]:
    """How far each inner step lies off the curve through the others, as a part of what is let pass."""
    return [
        abs(_read_by_others(light, level, i) - light[i])
        / (_ODD_STOPS * max(1.0, float(light[i + 1] - light[i - 1]) / 2.0))
        for i in range(2, len(light) - 2)
    ]


def _read_by_others(light: Doubles, level: Doubles, i: int) -> float:
    table = StopsTable(np.delete(light, i), np.delete(level, i))
    return float(np.log2(max(float(table.decode(np.array(level[i]))), 1e-9) / MIDDLE_GREY))


def _lowest(light: Doubles, ratio: Doubles, snr: float) -> tuple[float, bool]:
    """The stop at which the ratio falls below ``snr``, and whether the bracket ends before that."""
    if ratio[-1] < snr:
        raise Unmeasurable(
            f"even the brightest step has a signal-to-noise ratio of only {ratio[-1]:.1f}", "the bracket",
            "light the card more, or ask for less with --snr",
        )  # fmt: skip
    for i in range(len(light) - 1, 0, -1):
        if ratio[i - 1] < snr:
            share = math.log(ratio[i] / snr) / math.log(ratio[i] / max(float(ratio[i - 1]), 1e-6))
            return float(light[i] - share * (light[i] - light[i - 1])), False
    return float(light[0]), True


def _reach(light: Doubles, level: Doubles, clip: float, next_stop: float) -> float:
    """The stop at which the curve, gone on as it rose last, meets the clip; not beyond the first step that is full."""
    rates = np.diff(level) / np.diff(light)
    growth = float(np.clip(rates[-1] / rates[-2], 0.5, 2.0))
    return float(min(light[-1] + (clip - level[-1]) / (rates[-1] * growth), next_stop))


def _nearest(light: Doubles, level: Doubles, known: Sequence[Curve]) -> tuple[str, float, float] | None:
    """Name of the nearest known curve, largest difference in stops, and how far up the camera was exposed."""
    best: tuple[str, float, float] | None = None
    for curve in known:
        read = np.asarray(curve.decode(level))
        if len(light) < FEWEST_STEPS or not np.all(np.isfinite(read) & (read > 0.0)):
            continue
        gap = np.log2(read / MIDDLE_GREY) - light
        offset = float((gap.max() + gap.min()) / 2.0)
        within = float(np.abs(gap - offset).max())
        if within <= _NEAR_CURVE_STOPS and (best is None or within < best[1]):
            best = curve.name, within, offset
    return best


def _notes(
    ordered: Sequence[StepReading], light: Doubles, unclipped: bool, below_open: bool, noiseless: bool
) -> tuple[str, ...]:
    notes = []
    if unclipped:
        notes.append(f"the clip was not reached: the stops above are at least {light[-1]:+g}; add brighter steps")
    if noiseless:
        notes.append(f"noise was not measured: the stops below are those of the darkest step, {-light[0]:g}")
    elif below_open:
        notes.append(f"the noise was not reached: the stops below are at least {-light[0]:g}; add darker steps")
    grey = min(ordered, key=lambda step: abs(step.stops))
    if grey.rgb is not None and max(grey.rgb) - min(grey.rgb) > _NEUTRAL:
        red, green, blue = (100.0 * value for value in grey.rgb)
        notes.append(f"the card is not neutral (R {red:.0f} G {green:.0f} B {blue:.0f} IRE): balance white and repeat")
    return tuple(notes)
