"""Faults in words: what is wrong with the codes, and what to set."""

from __future__ import annotations

from analysis.measure.lineup.fit import Level
from analysis.measure.lineup.hypotheses import Written
from analysis.measure.lineup.result import Fault, What
from analysis.model.frame import Matrix, Origin

STANDARD: dict[Matrix, str] = {"bt709": "BT.709", "bt601": "BT.601", "bt2020": "BT.2020", "rgb": "R'G'B'"}
"""Matrices as people write them."""

_FROM: dict[Origin, str] = {"tag": "the feed's own tag", "asked": "asked for", "assumed": "assumed"}
_ENDS = {"narrow": "black at 16 and white at 235", "full": "black at 0 and white at 255"}
_OUTPUT = {"narrow": "narrow (video) range", "full": "full (data) range"}
_GAIN, _LIFT, _TINT = 0.01, 0.005, 0.012


def range_fault(found: Written, declared: Written, origin: Origin) -> Fault:
    """Codes are written in another range than the feed declares."""
    if found == "squeezed":
        return Fault(
            what="range",
            detail="narrow range was made narrow once more: black near 30 and white near 218 (8-bit codes)",
            set=f"capture device or converter: input {_OUTPUT['narrow']}; or camera output: {_OUTPUT['full']}",
        )
    return Fault(
        what="range",
        detail=f"{_ENDS[found]} (8-bit codes) where {declared} range is declared ({_FROM[origin]})",
        set=f"--range {found}; or camera output: {_OUTPUT[declared]}",
    )


def matrix_fault(found: Matrix, declared: Matrix, origin: Origin) -> Fault:
    """Colours are coded with another matrix than the feed declares."""
    return Fault(
        what="matrix",
        detail=f"colours are coded with {STANDARD[found]} where {STANDARD[declared]} is declared ({_FROM[origin]})",
        set=f"--matrix {found}; or camera or converter: {STANDARD[declared]} colour",
    )


def crossed_fault(right: Matrix, used: Matrix) -> Fault:
    """R'G'B' that were decoded with the wrong matrix on their way."""
    return Fault(
        what="matrix",
        detail=f"colours coded with {STANDARD[right]} were turned into R'G'B' with {STANDARD[used]} on their way here",
        set=f"capture device or converter: {STANDARD[right]} colour; or camera output: {STANDARD[used]} colour",
    )


def level_fault(level: Level, left: str | None, off: str) -> Fault:
    """Gain, lift or saturation is off; ``left`` says what they do not explain, ``off`` what is furthest off at all.

    >>> level_fault(Level(gain=0.95, lift=0.05, colour=0.95), None, "").detail
    'black is lifted by 5.0 IRE and gain is 5.0 % low'
    """
    parts, todo = [], []
    if abs(level.lift) >= _LIFT:
        up = level.lift > 0
        parts.append(f"black is {'lifted' if up else 'lowered'} by {abs(100 * level.lift):.1f} IRE")
        todo.append(f"{'lower' if up else 'raise'} black (set-up, pedestal) by {abs(100 * level.lift):.1f} IRE")
    if abs(level.gain - 1.0) >= _GAIN:
        up = level.gain > 1
        parts.append(f"gain is {abs(100 * (level.gain - 1)):.1f} % {'high' if up else 'low'}")
        change = abs(100 * (1 / level.gain - 1))
        todo.append(f"{'lower' if up else 'raise'} the output level by {change:.1f} %")
    tint = level.colour / level.gain
    if abs(tint - 1.0) >= _TINT:
        up = tint > 1
        parts.append(f"colour is {abs(100 * (tint - 1)):.1f} % {'strong' if up else 'weak'}")
        todo.append(f"{'lower' if up else 'raise'} saturation by {abs(100 * (1 / tint - 1)):.1f} %")
    if left is not None:
        parts.append(left)
    if not todo:
        parts = parts or [off]
        todo.append("switch off every look, table, hue, knee or clip setting between the pattern and here")
    return Fault(what="level", detail=" and ".join(parts), set=f"camera or converter: {', '.join(todo)}")


def cut_fault(name: str) -> Fault:
    """The step below black has the code of black."""
    return Fault(
        what="level",
        detail=f"the {name} step lies at black: what is below black is cut off on the way",
        set="camera or converter: switch off the legal-range limiter, or set narrow (video) range throughout",
    )


def bent_fault(apart: float, name: str, between: tuple[str, str] | None) -> Fault:
    """Grey steps of a bars picture do not lie on one line: a curve was applied to the picture."""
    like = f", as if {between[0]} had been turned into {between[1]}" if between else ""
    return Fault(
        what="curve",
        detail=f"the greys do not rise in a straight line: {name} is {apart:+.0f} codes (8 bit) off it{like}",
        set="camera output: bars without viewing table or log conversion, or switch it off in the converter; "
        "then line up again",
    )


def response_fault(scale: str, fitting: tuple[str, ...], declared: str | None, origin: Origin) -> Fault:
    """A grey scale answers to other curves than the feed declares, or to none.

    >>> response_fault("grey steps (11)", ("acescct",), None, "assumed").set
    '--curve acescct'
    """
    said = f"{declared} is declared ({_FROM[origin]})" if declared else "no curve is declared"
    if not fitting:
        return Fault(
            what="curve",
            detail=f"the {scale} does not run from black to white along any curve known here; {said}",
            set="camera output: the pattern without a look; or --curve NAME, once the camera's own curve is known",
        )
    return Fault(
        what="curve",
        detail=f"the {scale} runs along {' or '.join(fitting)}; {said}",
        set=f"--curve {fitting[0]}" + (f"; or camera output: {declared}" if declared else ""),
    )


def unclear_fault(what: What, first: str, second: str) -> Fault:
    """Two explanations fit alike."""
    return Fault(
        what=what,
        detail=f"not clear: {first} or {second} explain the bars about equally well",
        set="compare with another pattern, such as multi-pattern bars, before setting anything",
    )
