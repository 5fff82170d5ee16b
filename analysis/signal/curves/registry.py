"""The curves by name."""

from __future__ import annotations

import difflib
from collections.abc import Callable

import msgspec
import numpy as np

from analysis.model.errors import UsageError
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


def names() -> tuple[str, ...]:
    """Names of all curves, in the order a list shows them.

    >>> names()
    ('bt709', 'srgb', 'hlg', 'pq', 'acescct', 'acescc', 'cineon', 'linear')
    """
    return tuple(_CURVES)


def curve(name: str) -> Curve:
    """The curve of that name; capitals and outer spaces do not matter.

    Raises UsageError naming the nearest known curve.

    >>> curve("bt709").source
    'ITU-R BT.709-6, item 1.2'
    >>> curve("bt790")
    Traceback (most recent call last):
    ...
    analysis.model.errors.UsageError: bt790: no such curve; did you mean bt709? known: bt709, srgb, ...
    """
    found = _CURVES.get(name.strip().casefold())
    if found is not None:
        return found
    near = difflib.get_close_matches(name.strip().casefold(), _CURVES, n=1, cutoff=0.0)
    hint = f"did you mean {near[0]}? " if near else ""
    raise UsageError("no such curve", name, f"{hint}known: {', '.join(_CURVES)}")
