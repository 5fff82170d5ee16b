"""Readings made up for the planner: a sitter, and light at chosen stops, with no picture behind them."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.exposure.aims import level_of
from analysis.model.camera import CameraProfile, NativeIso
from analysis.model.frame import Encoding
from analysis.model.reading import Luma, Noise, PictureArea, Reading, Shares, StopsSpread
from analysis.model.sitter import Aim, SitterReading, SpotReading
from analysis.signal.curves import Curve, curve

LOG = curve("acescct")
CAMERA = CameraProfile(
    name="large sensor",
    snr=2.0,
    natives=(NativeIso(iso=800.0, stops_above=6.0, stops_below=7.0),),
    bits=10,
    range="narrow",
    matrix="bt709",
)
CEILING = level_of(6.0, LOG)


def skin_aim(stops: float = 0.8, target: str = "sitter") -> Aim:
    """An aim so many stops above middle grey, a third wide to each side."""
    return Aim(target=target, value=stops, tolerance=1.0 / 3.0, unit="stops")


def spread(*parts: tuple[float, float, float]) -> StopsSpread:
    """A picture of parts: (percent, from, to) in stops, each evenly spread."""
    edges = -10.0 + np.arange(353) / 16.0
    counts = np.zeros(352)
    for percent, low, high in parts:
        inside = np.clip(edges, low, high)
        counts += percent * np.diff(inside) / (high - low)
    return StopsSpread(low=-10.0, step=1.0 / 16.0, counts=tuple(counts.tolist()))


def reading(
    skin: float, *parts: tuple[float, float, float], background: float | None = None, clipped: float = 0.0
) -> Reading:
    """A 10-bit log reading: the sitter's skin and the parts of the picture, in stops from middle grey."""
    brightest = max(high for _, _, high in parts)
    level = level_of(skin, LOG)
    sitter = SitterReading(
        name="sitter 1",
        main=True,
        state="seen",
        box=(800, 200, 300, 400),
        confidence=0.9,
        level=level,
        low=level - 4.0,
        high=level + 3.0,
        stops=skin,
        clipped=0.0,
    )
    spots = None
    if background is not None:
        spots = {"wall": SpotReading(level=level_of(background, LOG), stops=background, clipped=0.0, kind="background")}
    shares = {"r": None, "g": None, "b": None}
    table = spread(*parts)
    return Reading(
        sequence=0,
        seconds=0.0,
        validity="good",
        encoding=Encoding(bits=10, range="narrow", matrix="bt709", curve="acescct"),
        picture=PictureArea(width=1920, height=1080, active=(0, 0, 1920, 1080)),
        luma=Luma(mean=40, min=10, p1=12, p5=15, p50=40, p95=60, p99=65, max=70),
        clipped=Shares(any=clipped, luma=clipped, level=CEILING - 0.6, by="ceiling", **shares),
        crushed=Shares(any=0.0, luma=0.0, level=0.0, by="narrow", **shares),
        headroom_stops=max(0.0, 6.0 - brightest),
        spread=table,
        peaks=table,
        sitters=(sitter,),
        spots=spots,
        noise=Noise(shadow_snr_db=18.0, shadow_snr_stops=3.0),
    )


def reading_on(
    how: Curve, bits: int, skin: float, *parts: tuple[float, float, float], background: float | None = None,
    snr: float = 3.0,
) -> Reading:  # fmt: skip
    """The same on another curve and depth; the sensor is full at +6 stops, where the curve does not end before."""
    made = reading(skin, *parts, background=background)
    level, wall = level_of(skin, how), background is not None and level_of(background, how)
    change = msgspec.structs.replace
    assert made.clipped is not None
    return change(
        made,
        encoding=change(made.encoding, bits=bits, curve=how.name),
        sitters=tuple(change(each, level=level, low=level - 4.0, high=level + 3.0) for each in made.sitters or ()),
        spots={name: change(each, level=wall) for name, each in made.spots.items()} if made.spots else None,
        clipped=change(made.clipped, level=min(100.0, level_of(6.0, how) - 0.6)),
        noise=Noise(shadow_snr_db=6.02 * snr, shadow_snr_stops=snr),
    )


OUTDOORS = ((50.0, -4.0, 1.0), (50.0, 2.5, 4.9))
"""The boat in shade, the lake bright behind it: 1.1 stops below the clip."""
INDOORS = ((100.0, -5.0, 1.8),)
"""The boathouse with its doors shut."""
