"""Skin as measured: median face reflectance by complexion class.

Medians of 4,603 cheek and forehead spectra of the International Skin Spectra Archive
(Y. Lu et al., Scientific Data 2025), grouped by the individual typology angle, rendered
under D65 at 400-700 nm. The chips are R'G'B' in percent of the BT.709 signal with the
exposure that puts an 18 % card at 40.9 %; decoding them gives linear reflectance.
"""

from __future__ import annotations

import difflib

import numpy as np
import numpy.typing as npt

from analysis.model.errors import UsageError
from analysis.signal.curves import curve

CHIPS: dict[str, tuple[float, float, float]] = {
    "very-light": (72.4, 58.2, 52.5),
    "light": (69.7, 54.4, 46.9),
    "intermediate": (66.2, 50.0, 41.5),
    "tan": (61.5, 45.2, 35.8),
    "brown": (53.4, 38.0, 28.0),
    "dark": (36.2, 24.8, 19.6),
}


def names() -> tuple[str, ...]:
    """Complexion classes from lightest to darkest.

    >>> names()[0], names()[-1]
    ('very-light', 'dark')
    """
    return tuple(CHIPS)


def reflectance(name: str) -> npt.NDArray[np.float32]:
    """Linear R, G, B reflectance of a complexion class, shape (3,). Raises UsageError on an unknown name.

    >>> [f"{part:.3f}" for part in reflectance("dark")]
    ['0.145', '0.077', '0.054']
    """
    if name not in CHIPS:
        near = difflib.get_close_matches(name, CHIPS, n=1, cutoff=0.0)[0]
        raise UsageError("no such complexion", name, f"did you mean {near}? known: {', '.join(CHIPS)}")
    return curve("bt709").decode(np.array(CHIPS[name]) / 100.0).astype(np.float32)
