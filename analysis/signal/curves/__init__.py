"""Transfer curves: how a camera writes scene light into signal, as closed forms.

Every curve speaks one language, so that the arithmetic of stops is the same for all:
*linear* light is relative to the scene, with an 18 % grey card at 0.18 and a perfect white
in the same light at 1.0; *V* is the normalised signal, 0 at black and 1 at nominal white
(level in IRE = 100 V). No curve clips: above 1 and below 0 each goes on by its own
formula, because narrow-range codes reach from -7 to 109 IRE.

    >>> import numpy as np
    >>> bt709 = curve("bt709")
    >>> float(np.round(bt709.encode(np.array(0.18)), 6))
    0.409008
    >>> float(np.round(np.log2(bt709.decode(np.array(0.594959)) / 0.18), 4))
    1.0
"""

from __future__ import annotations

from analysis.signal.curves.registry import MIDDLE_GREY, Curve, adopt, built_in, curve, names

__all__ = ["MIDDLE_GREY", "Curve", "adopt", "built_in", "curve", "names"]
