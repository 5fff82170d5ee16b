"""From a grey scale to a verdict: which way of making it explains it, and what is wrong with the chain."""

from __future__ import annotations

from analysis.measure.lineup import advice
from analysis.measure.lineup.cells import Picture
from analysis.measure.lineup.greys import Greys
from analysis.measure.lineup.responses import FITS, Response, responses, stepped
from analysis.measure.lineup.result import TOLERANCE, BarDifference, Fault, Lineup, difference
from analysis.model.frame import Encoding
from analysis.signal.curves import names
from analysis.signal.levels import percent, quantise, top_code

_MADE = {"signal": "", "light": ", even steps of light", "stops": ", one stop apart"}
_MOST_STOPS = 24
_RAMP_ROWS = 8


def grey_verdict(picture: Picture, greys: Greys) -> Lineup | None:
    """What a grey scale says of the chain; None for one that nothing known explains.

    Even steps of signal tell range and level and say nothing of a curve; even steps of light, and steps of one
    stop, answer to a curve, and are true only through the declared one.
    """
    encoding = picture.encoding
    declared = _known(encoding)
    name = _name(greys)
    ranked = responses(greys.levels, picture.bits, encoding.range, declared)
    if greys.kind == "steps" and greys.levels.size <= _MOST_STOPS:
        ranked += stepped(greys.levels, picture.bits, encoding.range, declared)
    ranked.sort(key=lambda each: each.cost)
    best = ranked[0]
    if best.left > FITS:
        return None
    bars = _differences(picture, greys, best)
    worst = max(abs(value) for bar in bars for value in bar.difference)
    right = worst <= TOLERANCE * picture.unit and best.curve in (None, declared)
    faults = () if right else tuple(_faults(encoding, name, ranked, declared))
    return Lineup(pattern=name + _MADE[best.made], true=right, faults=faults, bars=bars)


def _known(encoding: Encoding) -> str | None:
    """The declared curve by its own name; None when nothing known is declared."""
    name = (encoding.curve or "").strip().casefold()
    return name if name in names() else None


def unexplained(picture: Picture, greys: Greys) -> Lineup:
    """A grey scale that runs along no known curve from black to white."""
    encoding, name = picture.encoding, _name(greys)
    ends = greys.levels[0], greys.levels[-1]
    low, high = (percent(float(code) * picture.unit, picture.bits, encoding.range) for code in ends)
    scale = f"{name} from {low:.0f} to {high:.0f} IRE"
    fault = advice.response_fault(scale, (), _known(encoding), encoding.curve_from)
    return Lineup(pattern=name, true=False, faults=(fault,))


def _name(greys: Greys) -> str:
    return "grey ramp" if greys.kind == "ramp" else f"grey steps ({greys.levels.size})"


def _differences(picture: Picture, greys: Greys, best: Response) -> tuple[BarDifference, ...]:
    """Every step, or a few places of a ramp."""
    top, last = top_code(picture.bits), greys.levels.size - 1
    rows = []
    for index in range(0, last + 1, max(1, last // _RAMP_ROWS) if greys.kind == "ramp" else 1):
        expected = float(min(max(quantise(float(best.declared[index]) * picture.unit), 0), top))
        name = f"{100.0 * index / last:.0f} % of the way" if greys.kind == "ramp" else f"step {index + 1}"
        rows.append(difference(name, (expected,), (float(greys.levels[index]) * picture.unit,)))
    return tuple(rows)


def _faults(encoding: Encoding, name: str, ranked: list[Response], declared: str | None) -> list[Fault]:
    best = ranked[0]
    faults = []
    if best.written != encoding.range:
        faults.append(advice.range_fault(best.written, encoding.range, encoding.range_from))
    if best.curve is not None and best.curve != declared:
        alike = (each.curve for each in ranked if each.left <= FITS and each.made == best.made)
        fitting = tuple(dict.fromkeys(curve for curve in alike if curve is not None))
        faults.append(advice.response_fault(name, fitting, declared, encoding.curve_from))
    if best.level is not None and (best.off > TOLERANCE or not faults):
        faults.append(advice.level_fault(best.level, None, f"one step is {best.off:.1f} codes (8 bit) off"))
    if not faults:
        faults.append(advice.response_fault(name, (), declared, encoding.curve_from))
    return faults
