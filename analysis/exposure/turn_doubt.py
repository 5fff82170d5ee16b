"""How sure the amount of a change is: whether what the picture shows leaves more than a tenth of a stop of doubt."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import numpy as np

from analysis.exposure.turn_compare import Look
from analysis.exposure.turn_kind import Kind

SURE = 0.1
"""Stops of doubt from which on an amount is told as about."""
DIFFERS = 0.055
"""So far apart two findings of one amount may lie."""
TWICE = 2.0
"""Standard errors that count as doubt."""


def weighed(kind: Kind, earlier: Kind | None, before: Iterable[Look], after: Iterable[Look]) -> Kind:
    """The kind with an amount from both times that it was found, and whether that is only about right.

    ``earlier`` is what was found before, None where it was found once; ``before`` and ``after`` are looks at the light
    at rest to either side. A face that clips has lost its brightest part, so at least is the lesser of what is known.
    """
    apart = 0.0
    if earlier is not None and earlier.kind == kind.kind and kind.kind != "whole":
        apart = kind.stops - earlier.stops
        stops = kind.stops - 0.5 * apart
        if kind.at_least or earlier.at_least:
            stops = min(kind.stops, earlier.stops, key=abs)
        sitter = stops if kind.kind in {"sitter", "mixed"} else kind.sitter
        background = stops if kind.kind == "background" else kind.background
        kind = msgspec.structs.replace(kind, stops=stops, sitter=sitter, background=background)
    unsure = abs(apart) > DIFFERS
    if kind.kind in {"sitter", "mixed"}:
        unsure = unsure or TWICE * float(np.hypot(_error(before), _error(after))) > SURE
    return msgspec.structs.replace(kind, about=unsure)


def _error(looks: Iterable[Look]) -> float:
    """The standard error of the middle of a face's light over some looks; 0 where too few show one."""
    found = [look.face.stops for look in looks if look.face is not None]
    # The middle of so many scatters a quarter more than their mean.
    return 1.25 * float(np.std(found, ddof=1)) / float(np.sqrt(len(found))) if len(found) >= 3 else 0.0
