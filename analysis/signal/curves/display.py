"""Display-referred and broadcast curves: BT.709, sRGB, HLG and PQ."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.floating[Any]]

HLG_A = 0.17883277
HLG_B = 1.0 - 4.0 * HLG_A
HLG_C = 0.5 - HLG_A * float(np.log(4.0 * HLG_A))

PQ_M1 = 2610 / 16384
PQ_M2 = 2523 / 4096 * 128
PQ_C1 = 3424 / 4096
PQ_C2 = 2413 / 4096 * 32
PQ_C3 = 2392 / 4096 * 32
PQ_PEAK = 10000.0

HLG_DISPLAY_PEAK = 1000.0
HLG_SYSTEM_GAMMA = 1.2


def bt709_oetf(light: FloatArray) -> FloatArray:
    """Signal V of linear light (ITU-R BT.709-6 item 1.2), carried on above 1 and below 0.

    The power law goes on above nominal white, so super-white codes keep their meaning; the
    straight part goes on below black. Any shape; the shape is kept.
    """
    light = np.asarray(light)
    power = 1.099 * np.power(np.maximum(light, 0.018), 0.45) - 0.099
    return np.where(light < 0.018, 4.5 * light, power)


def bt709_inverse(signal: FloatArray) -> FloatArray:
    """Linear light of signal V: the inverse of :func:`bt709_oetf` (BT.709-6 item 1.2).

    The published constants leave a step of 0.0002 at the join; a signal that falls into the
    step reads as the join itself, so the inverse never decreases.
    """
    signal = np.asarray(signal)
    power = np.power((np.maximum(signal, 0.081) + 0.099) / 1.099, 1.0 / 0.45)
    return np.where(signal < 0.081, signal / 4.5, np.maximum(power, 0.018))


def srgb_encode(light: FloatArray) -> FloatArray:
    """Signal of linear light (IEC 61966-2-1), carried on above 1 and below 0."""
    light = np.asarray(light)
    power = 1.055 * np.power(np.maximum(light, 0.0031308), 1.0 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, power)


def srgb_decode(signal: FloatArray) -> FloatArray:
    """Linear light of signal (IEC 61966-2-1; WCAG 2.2, relative luminance)."""
    signal = np.asarray(signal)
    power = np.power((np.maximum(signal, 0.04045) + 0.055) / 1.055, 2.4)
    return np.where(signal <= 0.04045, signal / 12.92, power)


def hlg_oetf(scene: FloatArray) -> FloatArray:
    """HLG signal of the standard's own scene light E (ITU-R BT.2100 Table 5).

    E is 1/12 at half signal and 1 at nominal peak; negative light mirrors the square root.
    """
    scene = np.asarray(scene)
    root = np.sign(scene) * np.sqrt(3.0 * np.abs(scene))
    log = HLG_A * np.log(np.maximum(12.0 * scene - HLG_B, 1e-9)) + HLG_C
    return np.where(scene <= 1.0 / 12.0, root, log)


def hlg_inverse(signal: FloatArray) -> FloatArray:
    """The standard's scene light E of an HLG signal (ITU-R BT.2100 Table 5)."""
    signal = np.asarray(signal)
    square = np.sign(signal) * signal * signal / 3.0
    exponential = (np.exp((np.maximum(signal, 0.5) - HLG_C) / HLG_A) + HLG_B) / 12.0
    return np.where(signal <= 0.5, square, exponential)


def pq_inverse_eotf(luminance: FloatArray) -> FloatArray:
    """PQ signal of display luminance in cd/m2 (SMPTE ST 2084; ITU-R BT.2100 Table 4)."""
    y = np.power(np.maximum(np.asarray(luminance), 0.0) / PQ_PEAK, PQ_M1)
    return np.power((PQ_C1 + PQ_C2 * y) / (1.0 + PQ_C3 * y), PQ_M2)


def pq_eotf(signal: FloatArray) -> FloatArray:
    """Display luminance in cd/m2 of a PQ signal (SMPTE ST 2084; ITU-R BT.2100 Table 4)."""
    root = np.power(np.maximum(np.asarray(signal), 0.0), 1.0 / PQ_M2)
    return PQ_PEAK * np.power(np.maximum(root - PQ_C1, 0.0) / (PQ_C2 - PQ_C3 * root), 1.0 / PQ_M1)


# ITU-R BT.2408 puts diffuse white at 75 % HLG, which is 203 cd/m2 on a 1000 cd/m2 display and
# 58 % PQ. That one rule ties both to scene light; an 18 % card then lies at 38 % in either.
REFERENCE_WHITE = float(hlg_inverse(np.array(0.75)))


def hlg_from_scene(light: FloatArray) -> FloatArray:
    """HLG signal of scene light where white is 1.0 (BT.2100 Table 5, BT.2408 reference white)."""
    return hlg_oetf(np.asarray(light) * REFERENCE_WHITE)


def scene_from_hlg(signal: FloatArray) -> FloatArray:
    """Scene light of an HLG signal, white at 1.0: the inverse of :func:`hlg_from_scene`."""
    return hlg_inverse(signal) / REFERENCE_WHITE


def pq_from_scene(light: FloatArray) -> FloatArray:
    """PQ signal of scene light where white is 1.0, through the reference rendering.

    Display light is 1000 (E)^1.2 cd/m2 with E = 0.26496 x light (BT.2100 HLG OOTF at its
    reference display, as BT.2408 Table 1 uses it). Light below zero reads as zero.
    """
    scene = np.maximum(np.asarray(light), 0.0) * REFERENCE_WHITE
    return pq_inverse_eotf(HLG_DISPLAY_PEAK * np.power(scene, HLG_SYSTEM_GAMMA))


def scene_from_pq(signal: FloatArray) -> FloatArray:
    """Scene light of a PQ signal, white at 1.0: the inverse of :func:`pq_from_scene`."""
    scene: FloatArray = np.power(pq_eotf(signal) / HLG_DISPLAY_PEAK, 1.0 / HLG_SYSTEM_GAMMA)
    return scene / REFERENCE_WHITE
