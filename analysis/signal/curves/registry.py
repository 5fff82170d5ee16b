"""The curves by name."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping

import msgspec
import numpy as np

from analysis.model.errors import SettingsError, UsageError
from analysis.signal.curves import display, log
from analysis.signal.curves.display import FloatArray

MIDDLE_GREY = 0.18
"""Linear light of an 18 % card, in the language of every curve here."""


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """A transfer curve: ``encode`` turns linear light into signal V, ``decode`` turns it back.

    Both take and return floating arrays of any shape. ``source`` names the document.
    """

    name: str
    encode: Callable[[FloatArray], FloatArray]
    decode: Callable[[FloatArray], FloatArray]
    source: str

    @property
    def middle(self) -> float:
        """Signal V of an 18 % grey card.

        >>> round(curve("acescct").middle, 7)
        0.4135884
        """
        return float(self.encode(np.array(MIDDLE_GREY)))


def _same(values: FloatArray) -> FloatArray:
    return np.asarray(values)


_CURVES = {
    each.name: each
    for each in (
        Curve(name="bt709", encode=display.bt709_oetf, decode=display.bt709_inverse, source="ITU-R BT.709-6, item 1.2"),
        Curve(name="srgb", encode=display.srgb_encode, decode=display.srgb_decode, source="IEC 61966-2-1"),
        Curve(
            name="hlg",
            encode=display.hlg_from_scene,
            decode=display.scene_from_hlg,
            source="ITU-R BT.2100 Table 5, white at 75 % as in ITU-R BT.2408",
        ),
        Curve(
            name="pq",
            encode=display.pq_from_scene,
            decode=display.scene_from_pq,
            source="ITU-R BT.2100 Table 4 (SMPTE ST 2084), white at 203 cd/m2 as in ITU-R BT.2408",
        ),
        Curve(name="acescct", encode=log.acescct_encode, decode=log.acescct_decode, source="Academy S-2016-001"),
        Curve(name="acescc", encode=log.acescc_encode, decode=log.acescc_decode, source="Academy S-2014-003"),
        Curve(
            name="cineon",
            encode=log.cineon_encode,
            decode=log.cineon_decode,
            source="Cineon printing density, black 95, white 685, 0.002 density a code at negative gamma 0.6",
        ),
        Curve(name="linear", encode=_same, decode=_same, source="signal proportional to light"),
    )
}


_adopted: dict[str, Curve] = {}
_faults: dict[str, SettingsError] = {}


def adopt(curves: Iterable[Curve], faults: Mapping[str, SettingsError] | None = None) -> None:
    """Know these curves by name beside the built-in ones, in place of those adopted before.

    Called once, at the edge, with what the operator has written down: reading files is not this room's
    business. ``faults`` are names whose file cannot be used and why: that is raised only when one of
    them is asked for, so that a bad file disturbs nobody else. Raises SettingsError for a name that
    is built in.

    >>> adopt([Curve(name="mine", encode=_same, decode=_same, source="an example")])
    >>> curve("mine").source, names()[-1]
    ('an example', 'mine')
    >>> adopt([])
    """
    fresh = {each.name: each for each in curves}
    taken = next((name for name in (*fresh, *(faults or ())) if name in _CURVES), None)
    if taken is not None:
        raise SettingsError("this name belongs to a built-in curve", taken, "give yours another one")
    global _adopted, _faults
    _adopted, _faults = fresh, dict(faults or {})


def built_in() -> tuple[str, ...]:
    """Names of the curves that need no file.

    >>> built_in()
    ('bt709', 'srgb', 'hlg', 'pq', 'acescct', 'acescc', 'cineon', 'linear')
    """
    return tuple(_CURVES)


def names() -> tuple[str, ...]:
    """Names of all curves, in the order a list shows them: built-in ones, then those adopted.

    >>> names()[:3]
    ('bt709', 'srgb', 'hlg')
    """
    return (*_CURVES, *_adopted)


def curve(name: str) -> Curve:
    """The curve of that name; capitals and outer spaces do not matter.

    Raises UsageError naming the nearest known curve, SettingsError where its file cannot be used.

    >>> curve("bt709").source
    'ITU-R BT.709-6, item 1.2'
    >>> curve("bt790")
    Traceback (most recent call last):
    ...
    analysis.model.errors.UsageError: bt790: no such curve; did you mean bt709? known: bt709, srgb, ...
    """
    key = name.strip().casefold()
    found = _CURVES.get(key) or _adopted.get(key)
    if found is not None:
        return found
    if key in _faults:
        fault = _faults[key]
        raise SettingsError(fault.what, fault.where, fault.todo)
    near = difflib.get_close_matches(key, names(), n=1, cutoff=0.0)
    hint = f"did you mean {near[0]}? " if near else ""
    raise UsageError("no such curve", name, f"{hint}known: {', '.join(names())}")
