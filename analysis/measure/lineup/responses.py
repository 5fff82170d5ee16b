"""How a grey scale can have been made: even steps of signal, even steps of light, or steps of one stop."""

from __future__ import annotations

from math import hypot, log
from typing import Any, Literal

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.measure.lineup.fit import Level
from analysis.measure.lineup.hypotheses import Written, scale
from analysis.model.frame import Range
from analysis.signal.curves import MIDDLE_GREY, curve, names

Floats = npt.NDArray[np.floating[Any]]

FITS = 2.5
"""Greatest difference in codes of 8 bit at which a response fits: the tolerance and half a code of rounding."""
Made = Literal["signal", "light", "stops"]
_WAYS: tuple[Written, ...] = ("narrow", "full", "squeezed")
_DARKEST = np.arange(-14.0, 8.0, 0.02)
_OTHER_RANGE, _OTHER_CURVE, _SQUEEZED = 1.0, 1.0, 4.0
_PER_CODE = 3.0
_GAINS, _LIFT = (0.8, 1.2), 0.12
_GAINS_SQUEEZED, _LIFT_SQUEEZED = (0.95, 1.05), 0.03
"""How far the level of a ramp may be off: a grey gradient between any two levels is no line-up signal."""


class Response(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One way in which grey levels at even distances fit.

    ``curve`` is None for even steps of signal, which say nothing about a curve. ``level`` is the gain and lift
    that fit (even steps of signal only), ``off`` how far the codes lie from those without gain and lift.
    ``left`` is the greatest difference that stays, ``declared`` the codes of 8 bit that the levels should have
    in the declared range, and through the declared curve where one is declared.
    """

    made: Made
    written: Written
    curve: str | None
    level: Level | None
    off: float
    left: float
    cost: float
    declared: Floats


def responses(found: Floats, bits: int, declared: Range, declared_curve: str | None) -> list[Response]:
    """Even steps of signal or of light from black to white, the best first; ``found`` are codes of 8 bit."""
    even = np.linspace(0.0, 1.0, found.size)
    ranked = []
    for way in _WAYS:
        one = _signal(found, even, way, bits, declared)
        if one is not None:
            ranked.append(one)
        for name in names():
            ranked.append(_light(found, even, way, bits, declared, name, declared_curve))
    return sorted(ranked, key=lambda each: each.cost)


def stepped(found: Floats, bits: int, declared: Range, declared_curve: str | None) -> list[Response]:
    """Steps of one stop through each curve, wherever they begin."""
    ranked = []
    stops = np.arange(found.size)
    for name in names():
        signal = curve(name).encode(MIDDLE_GREY * np.exp2(_DARKEST[:, None] + stops[None, :]))
        for way in ("narrow", "full"):
            size = scale(way, bits)
            apart = np.abs(np.clip(size.black + size.span * signal, 0.0, size.top) - found).max(axis=1)
            index = int(apart.argmin())
            light = MIDDLE_GREY * np.exp2(_DARKEST[index] + stops)
            left = float(apart[index])
            ranked.append(
                Response(
                    made="stops",
                    written=way,
                    curve=name,
                    level=None,
                    off=left,
                    left=left,
                    cost=_PER_CODE * left + _prior(way, declared, name, declared_curve) + _OTHER_CURVE,
                    declared=_codes(light, bits, declared, declared_curve or name),
                )
            )
    return ranked


def _signal(found: Floats, even: Floats, way: Written, bits: int, declared: Range) -> Response | None:
    size = scale(way, bits)
    kept = (found > 0.25) & (found < size.top - 0.25)
    if kept.sum() < 3:
        return None
    gain, lift = np.polyfit(even[kept], (found[kept] - size.black) / size.span, 1)
    gains, most = (_GAINS_SQUEEZED, _LIFT_SQUEEZED) if way == "squeezed" else (_GAINS, _LIFT)
    if not (gains[0] < gain < gains[1] and abs(lift) < most):
        return None
    fitted = np.clip(size.black + size.span * (gain * even + lift), 0.0, size.top)
    ideal = size.black + size.span * even
    left = float(np.abs(fitted - found).max())
    away = hypot(100.0 * log(gain), 100.0 * lift)
    own = scale(declared, bits)
    return Response(
        made="signal",
        written=way,
        curve=None,
        level=Level(gain=float(gain), lift=float(lift), colour=float(gain)),
        off=float(np.abs(ideal - found).max()),
        left=left,
        cost=away + _PER_CODE * left + _prior(way, declared, None, None),
        declared=own.black + own.span * even,
    )


def _light(
    found: Floats, even: Floats, way: Written, bits: int, declared: Range, name: str, declared_curve: str | None
) -> Response:
    size = scale(way, bits)
    signal = curve(name).encode(even)
    left = float(np.abs(np.clip(size.black + size.span * signal, 0.0, size.top) - found).max())
    return Response(
        made="light",
        written=way,
        curve=name,
        level=None,
        off=left,
        left=left,
        cost=_PER_CODE * left + _prior(way, declared, name, declared_curve),
        declared=_codes(even, bits, declared, declared_curve or name),
    )


def _codes(light: Floats, bits: int, declared: Range, name: str) -> Floats:
    own = scale(declared, bits)
    found: Floats = np.clip(own.black + own.span * curve(name).encode(light), 0.0, own.top)
    return found


def _prior(way: Written, declared: Range, name: str | None, declared_curve: str | None) -> float:
    cost = _SQUEEZED if way == "squeezed" else 0.0 if way == declared else _OTHER_RANGE
    return cost + (0.0 if name in (None, declared_curve) else _OTHER_CURVE)


def conversion(levels: Floats, found: Floats, bits: int) -> tuple[str, str] | None:
    """The curves between which a picture was converted, when grey levels of its signal answer to that.

    ``levels`` are parts of the range as drawn, ``found`` codes of 8 bit.

    >>> codes = 16 + 219 * curve("acescct").encode(curve("bt709").decode(np.array([0.0, 0.15, 0.4, 0.75, 1.0])))
    >>> conversion(np.array([0.0, 0.15, 0.4, 0.75, 1.0]), codes, 8)
    ('bt709', 'acescct')
    """
    tried = []
    for source in names():
        light = curve(source).decode(levels)
        for target in names():
            signal = curve(target).encode(light)
            for way in _WAYS[:2] if target != source else ():
                size = scale(way, bits)
                apart = np.abs(np.clip(size.black + size.span * signal, 0.0, size.top) - found)
                tried.append((float(apart.max()), source, target))
    left, source, target = min(tried)
    return (source, target) if left <= FITS else None
