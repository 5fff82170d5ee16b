"""What ``stopkeeper reckon`` finds, as an object for a program and as lines for a person."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2
from typing import Any

from analysis.exposure import arithmetic, key_power, series
from analysis.exposure.aims import third_words, thirds
from analysis.exposure.plan_words import LAMPS, SUN
from analysis.model.errors import UsageError
from tui.cli.reckon_asked import KeyAsked, number, time_given

Told = tuple[dict[str, Any], list[str]]
FILTERS = (1, 2, 3, 4, 5, 6, 7, 8, 10)
"""ND in whole stops that filters come in; common practice, no published source."""


def filters_told(filters: Sequence[tuple[str, float]]) -> Told:
    """Each filter, and all of them together: stops and densities add, factors multiply."""
    rows = [{"filter": text, **_filter(stops)} for text, stops in filters]
    together = _filter(sum(stops for _, stops in filters))
    lines = [f"{row['filter']}: {_filter_words(row)}" for row in rows]
    if len(rows) > 1:
        lines.append(f"together: {_filter_words(together)}")
    return {"filters": rows, "together": together}, lines


def _filter(stops: float) -> dict[str, float]:
    return {
        "stops": round(stops, 4),
        "density": round(series.density(stops), 4),
        "factor": round(series.factor(stops), 4),
        "percent": round(series.transmittance(stops), 6),
    }


def _filter_words(row: dict[str, Any]) -> str:
    percent = f"{row['percent']:.3g} % of the light"
    factor = f"{row['factor']:.0f}" if row["factor"] >= 1000.0 else f"{row['factor']:.4g}"
    return f"{row['stops']:.2f} stops, density {row['density']:.2f}, factor {factor}, {percent}"


def shutter_told(seconds: float, rate: float, mains: float | None) -> Told:
    """Angle and time, and whether lamps on that mains stay steady."""
    angle = arithmetic.shutter_angle(seconds, rate)
    if angle > 360.0 + 1e-6:
        what = f"{seconds:g} s is longer than a frame at {rate:g}"
        raise UsageError(what, "shutter", f"use 1/{rate:g} or shorter")
    found: dict[str, Any] = {
        "angle": round(angle, 3), "seconds": round(seconds, 7), "one_over": round(1.0 / seconds, 3),
        "nominal": series.speed_name(seconds), "rate": rate,
    }  # fmt: skip
    lines = [f"{angle:.4g} degrees at {rate:g} is 1/{1.0 / seconds:.4g} s (nominal {found['nominal']})"]
    if mains is not None:
        steady = arithmetic.steady_angles(rate, mains)
        left = arithmetic.ripple_left(seconds, mains)
        found |= {"steady_angles": [round(each, 2) for each in steady], "ripple_left": round(left, 4)}
        is_steady = "steady" if left < 0.005 else f"{100.0 * left:.1f} % of a lamp's ripple is left"
        named = ", ".join(f"{each:.2f}".rstrip("0").rstrip(".") for each in steady)
        lines.append(f"on {mains:g} Hz mains: {is_steady}; steady angles: {named or 'none'}")
    return found, lines


def series_told(kind: str, per_stop: int) -> Told:
    """A series, nominal beside exact."""
    makers = {"aperture": series.aperture_series, "iso": series.iso_series, "time": series.speed_series}
    rows = [{"nominal": nominal, "exact": round(exact, 4)} for nominal, exact in makers[kind](per_stop)]
    before = "1/" if kind == "time" else ""
    lines = [f"{before}{row['nominal']:<8g} exactly {before}{row['exact']:.5g}" for row in rows]
    return {"series": kind, "per_stop": per_stop, "values": rows}, lines


def between_told(kind: str, before: str, after: str) -> Told:
    """Stops of light gained from one setting to another."""
    if kind == "time":
        one, other = time_given(before, "BEFORE"), time_given(after, "AFTER")
        stops = log2(other / one)
    else:
        one, other = number(before, "BEFORE"), number(after, "AFTER")
        if kind == "aperture":
            stops = -series.aperture_stops(series.exact_aperture(one), series.exact_aperture(other))
        elif kind == "iso":
            stops = log2(series.exact_iso(other) / series.exact_iso(one))
        elif kind == "distance":
            stops = arithmetic.distance_stops(one, other)
        else:
            stops = log2(other / one)
    found = {"kind": kind, "before": one, "after": other, "stops": round(stops, 4), "ratio": round(2.0**stops, 4)}
    lines = [f"{before} to {after}: {_signed(stops)} ({stops:+.2f}), {2.0**stops:.4g} times the light"]
    if kind in {"distance", "key"} and stops > 0.0:
        found["caution"] = LAMPS
        lines.append(f"Caution: {LAMPS}")
    return found, lines


def light_told(t_stop: float, iso: float, seconds: float, nd: float, have: float | None) -> Told:
    """Light that a setting needs, and how far what is there is off."""
    lens = series.exact_aperture(t_stop)
    needs = arithmetic.lux(lens, series.exact_iso(iso), seconds, nd)
    candles = arithmetic.footcandles(lens, series.exact_iso(iso), seconds, nd)
    found: dict[str, Any] = {"lux": round(needs, 1), "footcandles": round(candles, 2), "seconds": round(seconds, 7)}
    set_ = f"T{t_stop:g}, ISO {iso:g}, 1/{1.0 / seconds:.4g} s" + (f", ND {nd:g}" if nd else "")
    lines = [f"{set_}: {needs:.0f} lux ({candles:.3g} footcandles)"]
    if have is not None:
        off = log2(have / needs)
        found |= {"have_lux": have, "off_stops": round(off, 3)}
        side = "more than it needs" if off > 0 else "short"
        lines.append(f"{have:g} lux is {third_words(thirds(off))} {side}" if thirds(off) else f"{have:g} lux is enough")
        if off < -1.0 / 6.0:
            found["caution"] = LAMPS
            lines.append(f"Caution: {LAMPS}")
    return found, lines


def sun_told(t_stop: float, iso: float, seconds: float) -> Told:
    """ND that full sun needs, and the filters next to it."""
    stops = arithmetic.sunny_nd(series.exact_aperture(t_stop), series.exact_iso(iso), seconds)
    found: dict[str, Any] = {"nd_stops": round(stops, 3), "density": round(series.density(max(stops, 0.0)), 3)}
    set_ = f"T{t_stop:g}, ISO {iso:g}, 1/{1.0 / seconds:.4g} s in full sun"
    if not thirds(stops):
        lines = [f"{set_}: no ND, it fits as it is"]
    elif stops < 0.0:
        lines = [f"{set_}: no ND, it is {third_words(thirds(stops))} short of light"]
    else:
        near = min(FILTERS, key=lambda each: abs(each - stops))
        left = stops - near
        found["nearest_filter"] = near
        rest = f", leaves {third_words(thirds(left))} {'over' if left > 0 else 'under'}" if thirds(left) else ""
        lines = [
            f"{set_}: {stops:.2f} stops of ND (density {series.density(stops):.2f})",
            f"nearest filter: ND {near} stops (density {series.density_name(near):g}){rest}",
        ]
    found["caution"] = SUN
    return found, [*lines, f"Caution: {SUN}"]


def key_told(asked: KeyAsked) -> Told:
    """Stops of another power and distance; or the power, and the distance, for so many stops."""
    if asked.stops is not None:
        return _key_for(asked, asked.stops)
    by_power = by_distance = 0.0
    lines = []
    if asked.power is not None and asked.to_power is not None:
        by_power = key_power.key_stops(asked.power, asked.to_power, asked.dimmer)
        lines.append(f"{asked.power:g} to {asked.to_power:g} %: {_signed(by_power)} ({by_power:+.2f})")
    if asked.distance is not None and asked.to_distance is not None:
        by_distance = arithmetic.distance_stops(asked.distance, asked.to_distance)
        lines.append(f"{asked.distance:g} to {asked.to_distance:g} away: {_signed(by_distance)} ({by_distance:+.2f})")
    whole = by_power + by_distance
    if len(lines) > 1:
        lines.append(f"together: {_signed(whole)} ({whole:+.2f})")
    return _with_caution({"stops": round(whole, 4)}, lines, whole > 0.0)


def _key_for(asked: KeyAsked, stops: float) -> Told:
    found: dict[str, Any] = {"stops": stops}
    lines = []
    if asked.power is not None:
        power = key_power.key_power(asked.power, stops, asked.dimmer)
        found["power"] = round(power, 2)
        short = f": {log2(power / 100.0):.2f} stops more than there is" if power > 100.0 + 1e-9 else ""
        lines.append(f"{_signed(stops)}: from {asked.power:g} to {power:.3g} %{short}")
    if asked.distance is not None:
        place = arithmetic.distance_for(asked.distance, stops)
        found["distance"] = round(place, 4)
        lines.append(f"{_signed(stops)}: from {asked.distance:g} to {place:.3g} away")
    return _with_caution(found, lines, stops > 0.0)


def _with_caution(found: dict[str, Any], lines: list[str], raised: bool) -> Told:
    if raised:
        found["caution"] = LAMPS
        lines = [*lines, f"Caution: {LAMPS}"]
    return found, lines


def _signed(stops: float) -> str:
    count = thirds(stops)
    return f"{third_words(count)} {'more' if count > 0 else 'less'}" if count else "the same, to a third"
