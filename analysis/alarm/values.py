"""What a reading says to the alarms of the picture, by their names; what was not measured is left out."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.alarm.reason import with_more
from analysis.model.reading import Reading
from analysis.model.sitter import SpotReading

_SEEN = ("seen", "held", "clipped")


def reading_values(reading: Reading) -> dict[str, float]:
    """The values that one reading holds by itself: shares, skin and spots that clip, flicker, noise.

    Aims, holds and trends need more than a reading; whoever keeps those adds ``skin-high``, ``skin-low``,
    ``drift-up``, ``drift-down`` and ``headroom``. Empty unless the reading's validity is good. A sitter that is not
    there, and noise or flicker that could not be measured, are missing, not zero.
    """
    if reading.validity != "good":
        return {}
    values: dict[str, float | None] = {
        "highlights": _highlights(reading),
        "shadows": reading.crushed.luma if reading.crushed else None,
        "one-channel": _one_channel(reading),
        "skin-clipped": _skin_clipped(reading),
        "spot-clipped": _spot_clipped(reading),
        "flicker": reading.flicker.stops if reading.flicker else None,
        "noise": reading.noise.shadow_snr_db if reading.noise else None,
    }
    return {name: value for name, value in values.items() if value is not None}


def beyond_aim(above: float | None) -> dict[str, float]:
    """The two skin alarms' values from how many stops the skin lies above the middle of its aim (below: negative).

    >>> beyond_aim(-0.7)
    {'skin-high': -0.7, 'skin-low': 0.7}
    """
    return {} if above is None else {"skin-high": above, "skin-low": -above}


def spots_beyond_aim(above: Iterable[float]) -> dict[str, float]:
    """The two spot alarms' values from how many stops each spot with an aim lies above it: the worst either way.

    >>> spots_beyond_aim([0.2, -0.9])
    {'spot-high': 0.2, 'spot-low': 0.9}
    """
    told = tuple(above)
    return {"spot-high": max(told), "spot-low": -min(told)} if told else {}


def beyond_hold(stops: float) -> dict[str, float]:
    """The two drift alarms' values from how many stops the picture lies above its hold (below: negative).

    >>> beyond_hold(0.4)
    {'drift-up': 0.4, 'drift-down': -0.4}
    """
    return {"drift-up": stops, "drift-down": -stops}


def highlight_words(reading: Reading) -> str:
    """What a share of clipped highlights does not say by itself: one colour alone, and spots let go that clip too.

    Spots that were let go may clip, a lamp or a window; they are not counted among the picture's highlights.
    """
    spots = [f"{name} {spot.clipped * spot.share / 100.0:.1f} %" for name, spot in _let_go(reading) if spot.clipped > 0]
    let_go = f"not counting what was let go: {', '.join(spots)}" if spots else ""
    value, alone = _highlights(reading), _one_channel(reading)
    if not value or alone is None or alone < value / 2.0:
        return let_go
    clipped = reading.clipped
    assert clipped is not None
    shares = {"red": clipped.r or 0.0, "green": clipped.g or 0.0, "blue": clipped.b or 0.0}
    return with_more(f"most of it in {max(shares, key=lambda name: shares[name])} alone", let_go)


def _let_go(reading: Reading) -> list[tuple[str, SpotReading]]:
    return [(name, spot) for name, spot in (reading.spots or {}).items() if spot.kind == "let go"]


def _highlights(reading: Reading) -> float | None:
    """The share of the picture that clips, without what was let go."""
    if reading.clipped is None:
        return None
    return max(0.0, reading.clipped.any - sum(spot.clipped * spot.share / 100.0 for _, spot in _let_go(reading)))


def _one_channel(reading: Reading) -> float | None:
    """By how much the worst channel clips more than luma does: a colour lost while the tone is kept."""
    clipped = reading.clipped
    if clipped is None or clipped.r is None or clipped.g is None or clipped.b is None:
        return None
    let_go = sum(spot.coloured * spot.share / 100.0 for _, spot in _let_go(reading))
    return max(0.0, max(clipped.r, clipped.g, clipped.b) - clipped.luma - let_go)


def _skin_clipped(reading: Reading) -> float | None:
    shares = [s.clipped for s in reading.sitters or () if s.main and s.state in _SEEN and s.clipped is not None]
    return max(shares, default=None)


def _spot_clipped(reading: Reading) -> float | None:
    return max((spot.clipped for spot in (reading.spots or {}).values() if spot.kind == "watch"), default=None)
