"""Measured things as words: stops, ends of the signal, noise, flicker, tolerance, sitters."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.exposure.aims import Band, Distance
from analysis.measure.mains import any_angle_safe, safe_angles
from analysis.model.reading import ClipSource, Flicker, Noise, SignalEnd, Tolerance
from analysis.model.sitter import SitterReading, SpotReading
from tui.wording import NOTHING, level, share


def stops(value: float | None, signed: bool = True) -> str:
    """Stops with one decimal.

    >>> stops(1.234), stops(-0.32), stops(-0.02), stops(2.1, signed=False), stops(None)
    ('+1.2', '-0.3', '0.0', '2.1', '–')
    """
    if value is None:
        return NOTHING
    text = f"{value:+.1f}" if signed else f"{value:.1f}"
    return "0.0" if text in {"+0.0", "-0.0"} else text


_SET_BY: dict[ClipSource, str] = {
    "narrow": "end of range",
    "full": "end of range",
    "asked": "asked",
    "profile": "camera profile",
    "ceiling": "ceiling found",
    "floor": "floor found",
}


def set_by(source: ClipSource) -> str:
    """Who said from which level on it counts.

    >>> set_by("ceiling"), set_by("asked")
    ('ceiling found', 'asked')
    """
    return _SET_BY[source]


def where_found(end: SignalEnd) -> str:
    """The channels of an end of the signal, short; nothing when luma has it too.

    >>> where_found(SignalEnd(level=94.0, share=1.0, channels=("r", "g")))
    'RG'
    """
    return "" if "luma" in end.channels else "".join(name.upper() for name in end.channels)


def noise_words(noise: Noise | None) -> tuple[str, str]:
    """Shadow signal-to-noise as a figure, and what it is of or why there is none.

    >>> noise_words(Noise(shadow_snr_stops=5.23, shadow_snr_db=31.5, ire=0.8))
    ('5.2', 'stops, noise 0.80 IRE')
    >>> noise_words(Noise(refused="the picture moves"))
    ('–', 'the picture moves')
    """
    if noise is None:
        return NOTHING, ""
    if noise.shadow_snr_stops is not None:
        return stops(noise.shadow_snr_stops, signed=False), "stops" + _of_luma(noise)
    return NOTHING, noise.refused or (f"no stops{_of_luma(noise)}" if noise.ire is not None else "")


def _of_luma(noise: Noise) -> str:
    return "" if noise.ire is None else f", noise {noise.ire:.2f} IRE"


def flicker_words(flicker: Flicker | None) -> list[str]:
    """A mains beat in words, piece by piece.

    >>> flicker_words(Flicker(hz=4.0, stops=0.031, kind="bands"))
    ['4.0 Hz', '0.03 st', 'bands']
    >>> flicker_words(Flicker(hz=None, stops=0.0, kind="none")), flicker_words(None)
    (['none seen'], ['not known yet'])
    """
    if flicker is None:
        return ["not known yet"]
    if flicker.hz is None:
        return ["none seen"]
    kind = "bands" if flicker.kind == "bands" else "whole picture"
    return [f"{flicker.hz:.1f} Hz", f"{flicker.stops:.2f} st", kind]


def angle_words(rate: float | None, mains_hz: float) -> str:
    """Shutter angles in degrees that show no beat at a frame rate, the least four of them.

    >>> angle_words(25.0, 50.0), angle_words(25.0, 60.0), angle_words(23.976, 50.0), angle_words(None, 50.0)
    ('any angle', '75 150 225 300', '86.3 172.6 258.9 345.3', '–')
    """
    if rate is None or rate <= 0:
        return NOTHING
    if any_angle_safe(rate, mains_hz):
        return "any angle"
    angles = safe_angles(rate, mains_hz)
    return " ".join(f"{angle:.1f}".removesuffix(".0") for angle in angles[:4]) or "no angle"


def tolerance_words(tolerance: Tolerance | None) -> list[str]:
    """What lies outside the preferred range of R 103, piece by piece.

    >>> from analysis.model.reading import Tolerance
    >>> tolerance_words(Tolerance(any=0.3, luma=0.0, r=0.3, g=0.0, b=0.0, within=True, estimated=True))
    ['0.30 % outside', 'within 1 %', 'estimated']
    """
    if tolerance is None:
        return [NOTHING]
    pieces = [f"{share(tolerance.any)} % outside", "within 1 %" if tolerance.within else "BEYOND 1 %"]
    return [*pieces, "estimated"] if tolerance.estimated else pieces


def sitter_state(sitter: SitterReading) -> str:
    """What a figure of this sitter is worth, in words; empty while the face is seen."""
    return {"seen": "", "held": "held, not seen now", "too dark": "TOO DARK", "clipped": "CLIPPED"}[sitter.state]


def nobody(sitters: Iterable[SitterReading]) -> str:
    """Why no sitter's level stands in large figures."""
    return "no main sitter" if tuple(sitters) else "no face"


def distance_words(distance: Distance | None) -> str:
    """The distance to the middle of the aim, with an arrow that says which way it lies; a dot where it is within.

    >>> distance_words(Distance(ire=-4.0, stops=-0.3, thirds=-1, within=False))
    '▼ 1/3 stop under'
    >>> distance_words(Distance(ire=-4.0, stops=-0.3, thirds=-1, within=True))
    '● 1/3 stop under'
    """
    if distance is None:
        return ""
    words = distance.words
    mark = "●" if distance.within or words == "on aim" else "▲" if "over" in words else "▼"
    return f"{mark} {words}"


def side_words(ratio: float | None) -> str:
    """Which side of a face, as seen, is brighter and by how many stops.

    >>> side_words(0.93), side_words(-1.2), side_words(0.01), side_words(None)
    ('left +0.9', 'right +1.2', 'sides even', '')
    """
    if ratio is None:
        return ""
    text = f"{abs(ratio):.1f}"
    return "sides even" if text == "0.0" else f"{'left' if ratio > 0 else 'right'} +{text}"


def aim_words(band: Band | None) -> str:
    """An aim as a band in IRE.

    >>> aim_words(Band(low=45.2, centre=50.0, high=55.0))
    'aim 45-55'
    """
    return "" if band is None else f"aim {band.low:.0f}-{band.high:.0f}"


def spot_words(spot: SpotReading) -> list[str]:
    """A spot's level, stops and clipped share, piece by piece.

    >>> spot_words(SpotReading(level=97.0, stops=5.21, clipped=12.0, kind="let go"))
    ['97.0 IRE', '+5.2', 'clip 12.0 %']
    """
    pieces = [f"{level(spot.level)} IRE"]
    if spot.stops is not None:
        pieces.append(stops(spot.stops))
    if spot.clipped > 0:
        pieces.append(f"clip {share(spot.clipped)} %")
    return pieces
