"""The series a photographer counts in: apertures, ISO and shutter times by thirds; filters in stops and densities.

Everything is computed with exact powers of two and shown by its nominal name: a nominal f/11 is exactly 11.31.
"""

from __future__ import annotations

from math import log2, log10

DENSITY_OF_A_STOP = log10(2.0)
"""Optical density that halves the light: 0.30103."""

_APERTURES = (
    1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10,
    11, 13, 14, 16, 18, 20, 22, 25, 29, 32,
)  # fmt: skip
_ISO = (
    100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000,
    10000, 12800,
)  # fmt: skip
_SPEEDS = (
    1, 1.3, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500,
    640, 800, 1000,
)  # fmt: skip

_BY_HALVES = (
    1, 1.2, 1.4, 1.7, 2, 2.4, 2.8, 3.3, 4, 4.8, 5.6, 6.7, 8, 9.5, 11, 13, 16, 19, 22, 27, 32,
)  # fmt: skip
_ISO_BY_HALVES = (100, 140, 200, 280, 400, 560, 800, 1100, 1600, 2200, 3200, 4500, 6400, 9000, 12800)
_SPEEDS_BY_HALVES = (
    1, 1.5, 2, 3, 4, 6, 8, 10, 15, 20, 30, 45, 60, 90, 125, 180, 250, 350, 500, 750, 1000,
)  # fmt: skip
# The nominal names by halves are common practice, from memory: no published source at hand.


def density(stops: float) -> float:
    """Optical density of a filter that takes so many stops.

    >>> round(density(6.0), 2)
    1.81
    """
    return stops * DENSITY_OF_A_STOP


def density_name(stops: float) -> float:
    """The density as filters are marked, by the rule of 0.3 a stop.

    >>> density_name(6.0), density_name(10.0), density_name(1 / 3)
    (1.8, 3.0, 0.1)
    """
    return round(0.3 * stops, 1)


def stops_of_density(density: float) -> float:
    """Stops that a filter of this optical density takes: D / log10(2).

    >>> round(stops_of_density(0.9), 3)
    2.99
    """
    return density / DENSITY_OF_A_STOP


def factor(stops: float) -> float:
    """How many times less light a filter of so many stops lets through.

    >>> factor(3.0)
    8.0
    """
    return float(2.0**stops)


def stops_of_factor(factor: float) -> float:
    """Stops of a filter that divides the light by ``factor``. Raises ValueError unless it is above zero.

    >>> stops_of_factor(64.0)
    6.0
    """
    return log2(_above_zero(factor, "a factor"))


def transmittance(stops: float) -> float:
    """Percent of the light that a filter of so many stops lets through.

    >>> transmittance(2.0)
    25.0
    """
    return float(100.0 * 2.0**-stops)


def filter_stops(text: str) -> float:
    """A filter as it is written on its ring, in stops: a density with its point, a factor without one.

    Camera practice: ``0.9`` is a density and ``8`` a factor, and both are the same filter. Raises ValueError for
    what is neither.

    >>> round(filter_stops("0.9"), 2), filter_stops("8"), filter_stops("ND64")
    (2.99, 3.0, 6.0)
    """
    word = text.strip().upper().removeprefix("ND").strip()
    value = float(word)
    if value < 0.0 or value > 1e6:
        raise ValueError(f"{text} is not a filter")
    return stops_of_density(value) if "." in word else stops_of_factor(value)


def stacked(*densities: float) -> float:
    """Stops of filters one behind the other, from their densities, which add.

    >>> round(stacked(0.3, 0.6, 0.9), 2)
    5.98
    """
    return stops_of_density(sum(densities))


def aperture(thirds: int) -> float:
    """The exact f or T number so many thirds of a stop down from 1.

    >>> round(aperture(9), 3), aperture(18)
    (2.828, 8.0)
    """
    return float(2.0 ** (thirds / 6.0))


def aperture_series(per_stop: int = 3) -> tuple[tuple[float, float], ...]:
    """(nominal, exact) f or T numbers from 1 to 32, in thirds of a stop or so many ``per_stop``: 1, 2 or 3.

    >>> [nominal for nominal, _ in aperture_series(1)][:5], aperture_series(2)[1]
    ([1.0, 1.4, 2.0, 2.8, 4.0], (1.2, 1.189207115002721))
    """
    return _series(_APERTURES, _BY_HALVES, per_stop, 1.0, 0.5)


def iso_series(per_stop: int = 3) -> tuple[tuple[float, float], ...]:
    """(nominal, exact) ISO from 100 to 12800, in thirds of a stop or so many ``per_stop``: 1, 2 or 3."""
    return _series(_ISO, _ISO_BY_HALVES, per_stop, 100.0, 1.0)


def speed_series(per_stop: int = 3) -> tuple[tuple[float, float], ...]:
    """(nominal, exact) parts of a second from 1/1 to 1/1000, as denominators, in thirds or so many ``per_stop``."""
    return _series(_SPEEDS, _SPEEDS_BY_HALVES, per_stop, 1.0, 1.0)


def _series(
    thirds: tuple[float, ...], halves: tuple[float, ...], per_stop: int, first: float, power: float
) -> tuple[tuple[float, float], ...]:
    """Nominal values with their exact ones, ``first`` times powers of two. Raises ValueError but for 1, 2 and 3."""
    if per_stop not in (1, 2, 3):
        raise ValueError("series go by whole, half or third stops")
    nominal = halves if per_stop == 2 else thirds if per_stop == 3 else thirds[::3]
    return tuple((float(name), first * 2.0 ** (power * step / per_stop)) for step, name in enumerate(nominal))


def aperture_name(number: float) -> str:
    """The nominal name of an f or T number, to the nearest third; beyond the series as it is.

    >>> aperture_name(11.314), aperture_name(2.8), aperture_name(0.7)
    ('11', '2.8', '0.7')
    """
    return _name(number, aperture_series(), 2.0)


def iso_name(iso: float) -> str:
    """The nominal name of an ISO, to the nearest third; beyond the series as it is.

    >>> iso_name(634.96), iso_name(2000), iso_name(25600)
    ('640', '2000', '25600')
    """
    return _name(iso, iso_series(), 1.0)


def speed_name(seconds: float) -> str:
    """A shutter time as it is written on a dial, to the nearest third; beyond the series as it is.

    >>> speed_name(1 / 128), speed_name(0.02), speed_name(1 / 3000)
    ('1/125', '1/50', '1/3000')
    """
    return f"1/{_name(1.0 / _above_zero(seconds, 'a time'), speed_series(), 1.0)}"


def exact_aperture(nominal: float) -> float:
    """The exact number that a nominal f or T number stands for; another one as it is.

    >>> round(exact_aperture(5.6), 3), exact_aperture(0.95)
    (5.657, 0.95)
    """
    return dict(aperture_series()).get(nominal, nominal)


def exact_iso(nominal: float) -> float:
    """The exact ISO that a nominal one stands for; another one as it is.

    >>> round(exact_iso(640), 1), exact_iso(800)
    (635.0, 800.0)
    """
    return dict(iso_series()).get(nominal, nominal)


def aperture_stops(wide: float, small: float) -> float:
    """Stops of light lost from one f or T number to another: 2 log2(small / wide).

    >>> aperture_stops(2.0, 4.0)
    2.0
    """
    return 2.0 * log2(_above_zero(small, "an aperture") / _above_zero(wide, "an aperture"))


def _name(value: float, series: tuple[tuple[float, float], ...], per_double: float) -> str:
    """The nominal value whose exact one lies within a sixth of a stop, else the value."""
    at = log2(_above_zero(value, "it"))
    near, exact = min(series, key=lambda pair: abs(log2(pair[1]) - at))
    chosen = near if per_double * abs(log2(exact) - at) <= 1.0 / 6.0 else value
    return f"{chosen:.5g}"


def _above_zero(value: float, what: str) -> float:
    if not value > 0.0:
        raise ValueError(f"{what} must be above zero, not {value:g}")
    return value
