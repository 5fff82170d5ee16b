"""What an address says: ``scene:boathouse?iso=800&nd=2&lamp=on`` to controls."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Mapping
from typing import Any, get_args

import msgspec

from analysis.feed.scene import complexion, stage
from analysis.feed.scene.controls import Doors, LampPlace, SceneControls, Sensor
from analysis.feed.scene.develop import LUMA, USUAL_LAYOUT, layout
from analysis.feed.source import FeedOptions
from analysis.model.errors import UsageError
from analysis.signal.curves import curve

BEST_RATE = 25.0
DEFAULT_SIZE = 1280, 720


def parse(name: str, query: Mapping[str, str], options: FeedOptions) -> SceneControls:
    """Controls of a scene address. What the address leaves open, ``options`` decides, then the defaults.

    Raises UsageError naming the nearest scene, parameter or value.

    >>> parse("boathouse", {"iso": "1600", "lamp": "on"}, FeedOptions()).iso
    1600.0
    >>> parse("boathouse", {"iso": "800", "shuter": "90"}, FeedOptions())
    Traceback (most recent call last):
    ...
    analysis.model.errors.UsageError: scene:boathouse: no parameter shuter; did you mean shutter?
    """
    if name not in stage.NAMES:
        near = difflib.get_close_matches(name, stage.NAMES, n=1, cutoff=0.0)[0]
        raise UsageError("no such scene", f"scene:{name}", f"did you mean scene:{near}?")
    where = f"scene:{name}"
    for key in query:
        if key not in PARAMETERS:
            near = difflib.get_close_matches(key, PARAMETERS, n=1, cutoff=0.0)[0]
            raise UsageError(f"no parameter {key}", where, f"did you mean {near}?")
    read = {key: _value(where, key, text) for key, text in query.items()}
    size = read.get("size") or (options.width or DEFAULT_SIZE[0], options.height or DEFAULT_SIZE[1])
    sensor = Sensor(**{field: read[key] for key, field in _SENSOR.items() if key in read})
    direct = {field: read[key] for key, field in _DIRECT.items() if key in read}
    if isinstance(direct.get("lamp"), float):
        power = float(direct["lamp"])
        direct |= {"lamp": power > 0.0, "lamp_power": power}
    direct.setdefault("rate", options.rate or BEST_RATE)
    direct.setdefault("curve", curve(options.curve).name if options.curve else "bt709")
    direct.setdefault("range", options.range or "narrow")
    direct.setdefault("matrix", options.matrix if options.matrix in LUMA else "bt709")
    chosen = _layout(where, read.get("layout") or options.layout, read.get("bits"))
    if layout(chosen).packing == "packed" and size[0] % 2:
        raise UsageError(f"{chosen} needs an even width, not {size[0]}", where, "use a planar layout such as yuv422p")
    return SceneControls(width=size[0], height=size[1], layout=chosen, sensor=sensor, **direct).checked()


def _layout(where: str, name: str | None, bits: int | None) -> str:
    if name is None:
        return USUAL_LAYOUT[bits or 8]
    found = layout(name)
    if bits is not None and bits != found.bits:
        raise UsageError(f"layout={name} has {found.bits} bits, not {bits}", where, "leave one of the two out")
    return found.name


def _value(where: str, key: str, text: str) -> Any:
    try:
        return PARAMETERS[key](text)
    except UsageError:
        raise
    except ValueError:
        raise UsageError(f"{key}={text} is not understood", where, f"use {_FORMS[PARAMETERS[key]]}") from None


def _switch(text: str) -> bool:
    return {"on": True, "off": False}[_one_of(text, ("on", "off"))]


def _lamp(text: str) -> bool | float:
    return float(text) if re.fullmatch(r"\d+(\.\d+)?", text) else _switch(text)


def _sun(text: str) -> str:
    return _one_of(text, ("auto", "on", "off"))


def _lamp_at(text: str) -> str:
    return _one_of(text, get_args(LampPlace))


def _doors(text: str) -> str:
    return _one_of(text, get_args(Doors))


def _range(text: str) -> str:
    return _one_of(text, ("narrow", "full"))


def _matrix(text: str) -> str:
    return _one_of(text, tuple(LUMA))


def _bits(text: str) -> int:
    return int(_one_of(text, tuple(str(bits) for bits in USUAL_LAYOUT)))


def _one_of(text: str, known: tuple[str, ...]) -> str:
    if text not in known:
        raise ValueError(text)
    return text


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,5})x(\d{1,5})", text)
    if found is None:
        raise ValueError(text)
    return int(found[1]), int(found[2])


def _curve(text: str) -> str:
    return curve(text).name


def _layout_name(text: str) -> str:
    return layout(text).name


def _complexion(text: str) -> str:
    complexion.reflectance(text)
    return text


def _turns(text: str) -> tuple[tuple[float, float], ...]:
    pairs = [part.split(":") for part in text.split(",")]
    if any(len(pair) != 2 for pair in pairs):
        raise ValueError(text)
    return tuple((_number(at), _number(stops)) for at, stops in pairs)


def _times(text: str) -> tuple[float, ...]:
    return tuple(_number(part) for part in text.split(","))


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


_FORMS: dict[Callable[[str], Any], str] = {
    _switch: "on or off",
    _lamp: "on, off or a power such as 0.5",
    _sun: "auto, on or off",
    _lamp_at: "bench or key",
    _doors: "open or shut",
    _range: "narrow or full",
    _matrix: ", ".join(LUMA),
    _bits: "8, 10 or 12",
    _size: "a size such as 1280x720",
    _number: "a number",
    _turns: "seconds:stops with commas between, such as 8:-2,20:2",
    _times: "seconds with commas between, such as 10,30",
    int: "a whole number",
}

PARAMETERS: dict[str, Callable[[str], Any]] = {
    "size": _size,
    "rate": _number,
    "layout": _layout_name,
    "bits": _bits,
    "range": _range,
    "matrix": _matrix,
    "curve": _curve,
    "ceiling": _number,
    "nd": _number,
    "iso": _number,
    "native": _number,
    "t": _number,
    "shutter": _number,
    "headroom": _number,
    "full_well": _number,
    "read_noise": _number,
    "lamp": _lamp,
    "lamp_at": _lamp_at,
    "distance": _number,
    "lake": _number,
    "doors": _doors,
    "complexion": _complexion,
    "clouds": _switch,
    "sun": _sun,
    "sway": _switch,
    "noise": _switch,
    "seed": int,
    "begin": _number,
    "turns": _turns,
    "switch": _times,
}
"""Every parameter of a scene address and how its value is read."""

_SENSOR = {"native": "native_iso", "headroom": "headroom", "full_well": "full_well", "read_noise": "read_noise"}
_OWN_NAMES = {"t": "t_stop", "distance": "lamp_distance"}
_ELSEWHERE = {*_SENSOR, "size", "layout", "bits"}
_DIRECT = {key: _OWN_NAMES.get(key, key) for key in PARAMETERS if key not in _ELSEWHERE}


def stated(made: msgspec.Struct, query: Mapping[str, str], options: FeedOptions) -> dict[str, Any]:
    """Which parts of the encoding the operator states otherwise than the address renders them.

    A curve, range or matrix that is asked for beside an address that sets its own is the
    operator's word on how to read the codes; the codes stay as the address says.
    """
    out: dict[str, Any] = {}
    for part in ("curve", "range", "matrix"):
        asked = getattr(options, part)
        if asked is None or asked == "rgb":
            continue
        out[f"{part}_from"] = options.said
        if part in query and asked != getattr(made, part):
            out[part] = curve(asked).name if part == "curve" else asked
    return out
