"""What is set, and what is to be moved, in few words: for a line of a screen, and where nobody has said what is set."""

from __future__ import annotations

from math import log2

from analysis.exposure.aims import third_words, thirds
from analysis.exposure.arithmetic import distance_stops
from analysis.exposure.key_power import Dimmer, key_light
from analysis.exposure.plan_words import CLIPS, NEXT_STEP
from analysis.exposure.series import aperture_stops, exact_aperture, speed_name
from analysis.model.controls import Controls
from analysis.model.plan import Planned


def set_words(now: Controls) -> tuple[str, ...]:
    """What is set, a word for each control that was told of.

    >>> set_words(Controls(nd_stops=6, iso=800, t_stop=2.8))
    ('ND 6', 'ISO 800', 'T2.8', '180°')
    >>> set_words(Controls(key_percent=60, key_distance=2))[-2:]
    ('key 60 %', 'at 2')
    """
    told = [f"ND {plain(now.nd_stops)}", f"ISO {now.iso:g}"]
    if now.t_stop is not None:
        told.append(f"T{now.t_stop:g}")
    told.append(f"{now.shutter_angle:g}°")
    if now.key_percent is not None:
        told.append(f"key {plain(now.key_percent)} %")
    if now.key_distance is not None:
        told.append(f"at {plain(now.key_distance)}")
    return tuple(told)


def short_moves(now: Controls, to: Controls) -> tuple[str, ...]:
    """Only what is to be set anew, as it will be; ``stay`` where nothing is.

    >>> short_moves(Controls(nd_stops=6, iso=800), Controls(nd_stops=8, iso=2000)), short_moves(Controls(), Controls())
    (('ND 8', 'ISO 2000'), ('stay',))
    """
    told = []
    if to.nd_stops != now.nd_stops:
        told.append(f"ND {plain(to.nd_stops)}")
    if to.t_stop != now.t_stop and to.t_stop is not None:
        told.append(f"T{to.t_stop:g}")
    if to.shutter_angle != now.shutter_angle:
        told.append(f"{to.shutter_angle:g}°")
    if to.iso != now.iso:
        told.append(f"ISO {to.iso:g}")
    if to.key_distance != now.key_distance and to.key_distance is not None:
        told.append(f"key at {plain(to.key_distance)}")
    if to.key_percent != now.key_percent and to.key_percent is not None:
        told.append(f"key {plain(to.key_percent)} %")
    return tuple(told) or ("stay",)


def relative_moves(now: Controls, to: Controls, dimmer: Dimmer | None = None) -> tuple[str, ...]:
    """What is to be moved, in stops from wherever it is: true whatever is set.

    >>> relative_moves(Controls(nd_stops=4, iso=800), Controls(nd_stops=6, iso=2000))
    ('2 stops more ND', 'ISO up 1 1/3 stops')
    >>> relative_moves(Controls(), Controls())
    ('stay',)
    """
    told = []
    if to.nd_stops != now.nd_stops:
        told.append(f"{_size(to.nd_stops - now.nd_stops)} {'more' if to.nd_stops > now.nd_stops else 'less'} ND")
    if to.t_stop is not None and now.t_stop is not None and to.t_stop != now.t_stop:
        by = aperture_stops(exact_aperture(now.t_stop), exact_aperture(to.t_stop))
        told.append(f"{'close' if by > 0 else 'open'} by {_size(by)}")
    if to.shutter_angle != now.shutter_angle:
        by = log2(to.shutter_angle / now.shutter_angle)
        told.append(f"shutter {_size(by)} {'longer' if by > 0 else 'shorter'}")
    if to.iso != now.iso:
        by = log2(to.iso / now.iso)
        told.append(f"ISO {'up' if by > 0 else 'down'} {_size(by)}")
    key = key_stops_between(now, to, dimmer)
    if abs(key) > 1e-6:
        told.append(f"key {'up' if key > 0 else 'down'} {_size(key)}")
    return tuple(told) or ("stay",)


def relative_missing(planned: Planned) -> str | None:
    """What is missing, without the numbers of controls that nobody has told of."""
    if planned.missing is None or not planned.plans:
        return planned.missing
    off = planned.plans[0].costs.off_aim_stops
    if not thirds(off):
        return planned.missing
    size, _, step = third_words(thirds(off)), *planned.missing.partition(NEXT_STEP)[1:]
    size = f"at least {size}" if planned.missing.startswith("at least ") else size
    if step:
        return f"{size} {'short' if off < 0 else 'over'}{NEXT_STEP}{step}"
    if off < 0 and CLIPS in planned.missing:
        return f"{size} short even so{CLIPS}"
    return f"{size} {'short even so: more light' if off < 0 else 'over even so: less light'}"


def shutter_words(now: Controls) -> str:
    """The angle with its time.

    >>> shutter_words(Controls(shutter_angle=180, rate=25))
    '180° 1/50'
    """
    return f"{now.shutter_angle:g}° {speed_name(now.seconds)}"


def key_stops_between(now: Controls, to: Controls, dimmer: Dimmer | None = None) -> float:
    """Stops of key light gained by its power and its distance; 0 where it does not move or nobody told of it.

    >>> key_stops_between(Controls(key_percent=50), Controls(key_percent=25))
    -1.0
    >>> key_stops_between(Controls(key_distance=2), Controls(key_distance=1))
    2.0
    """
    stops = 0.0
    if now.key_percent is not None and to.key_percent is not None and now.key_percent != to.key_percent:
        dim, bright = (max(key_light(each, dimmer or None), 1e-6) for each in (now.key_percent, to.key_percent))
        stops += log2(bright / dim)
    if now.key_distance is not None and to.key_distance is not None and now.key_distance != to.key_distance:
        stops += distance_stops(now.key_distance, to.key_distance)
    return stops


def plain(value: float) -> str:
    """A number to two decimals, without trailing zeros.

    >>> plain(6.0), plain(3.3333), plain(50.0)
    ('6', '3.33', '50')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _size(stops: float) -> str:
    return third_words(thirds(stops)) if thirds(stops) else "a little"
