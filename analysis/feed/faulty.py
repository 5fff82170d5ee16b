"""A feed that breaks on purpose, so that an operator (and a test) can see what the watch does then."""

from __future__ import annotations

import threading
from typing import Literal, get_args

import msgspec
import numpy as np

from analysis.feed.clock import Clock
from analysis.feed.source import Source
from analysis.model.errors import FeedCorrupt, FeedGone, UsageError
from analysis.model.feed import SourceKind
from analysis.model.frame import Picture, Plane
from analysis.settings.nearest import nearest
from analysis.signal.layouts import layout, plane_shapes

FaultName = Literal[
    "vanish",
    "hang",
    "hang-open",
    "repeat",
    "still",
    "black",
    "slate",
    "reshape",
    "corrupt",
    "damaged",
    "short",
    "empty",
    "oversize",
    "float",
    "burst",
    "back",
    "jump",
    "stuck",
    "slow",
]
FAULTS: tuple[str, ...] = get_args(FaultName)
_KINDS: tuple[str, ...] = get_args(SourceKind)


class Fault(msgspec.Struct, frozen=True, kw_only=True):
    """One fault: from frame ``at`` (from 0), for ``count`` frames (None: for ever), on every ``every``-th.

    ``value`` is seconds for ``back``, ``jump`` and ``slow``. ``vanish`` ends the source; ``hang``
    and ``hang-open`` block until released; ``repeat`` gives the last picture with its old stamps,
    ``still`` with new ones; ``black`` and ``slate`` replace the picture; ``reshape`` halves its
    width; ``corrupt`` marks it, ``damaged`` raises instead; ``short``, ``empty``, ``oversize`` and
    ``float`` hand over planes that are not what they say; ``burst`` holds ``count`` pictures back
    and then gives them all at once; ``stuck`` stamps stand still while pictures change.
    """

    name: FaultName
    at: int = 0
    count: int | None = None
    every: int = 1
    value: float = 0.0

    def strikes(self, frame: int) -> bool:
        """Whether frame number ``frame`` is hit.

        >>> [Fault(name="black", at=2, count=3, every=2).strikes(n) for n in range(7)]
        [False, False, True, False, True, False, False]
        """
        past = frame - self.at
        return past >= 0 and (self.count is None or past < self.count) and past % self.every == 0


def fault_from(query: dict[str, str], where: str) -> tuple[Fault, SourceKind, dict[str, str]]:
    """The fault that an address asks for, as what kind of source, and the query of the scene underneath.

    ``as=`` says what the feed pretends to be, a camera unless told otherwise, because each kind is
    judged differently. Raises UsageError for an unknown fault or kind or a number that is none.

    >>> fault_from({"fault": "vanish", "at": "300", "rate": "25"}, "faulty:boathouse")[1:]
    ('camera', {'rate': '25'})
    """
    kind = query.get("as", "camera")
    if kind not in _KINDS:
        raise UsageError(f"unknown kind of source {kind!r}", where, f"known: {', '.join(_KINDS)}")
    name = query.get("fault", "vanish")
    if name not in FAULTS:
        raise UsageError(f"unknown fault {name!r}", where, nearest(name, FAULTS))
    numbers: dict[str, float] = {}
    for key in ("at", "count", "every", "value"):
        if key in query:
            try:
                numbers[key] = float(query[key]) if key == "value" else int(query[key])
            except ValueError:
                raise UsageError(f"{key}={query[key]} is not a number", where, f"write {key}=100") from None
    if numbers.get("every", 1) < 1 or numbers.get("at", 0) < 0 or numbers.get("count", 1) < 1:
        raise UsageError("every and count begin at 1, at begins at 0", where, "use larger numbers")
    fault = msgspec.convert({"name": name, **numbers}, Fault)
    own = {"as", "fault", "at", "count", "every", "value"}
    return fault, msgspec.convert(kind, SourceKind), {key: value for key, value in query.items() if key not in own}


class FaultySource:
    """Wraps any source and breaks it by a script. ``release`` frees whatever hangs; ``hanging`` says that it does."""

    def __init__(
        self, inner: Source, script: tuple[Fault, ...], address: str, clock: Clock, kind: SourceKind | None = None
    ) -> None:
        self.kind, self.address, self.approximate = kind or inner.kind, address, inner.approximate
        self.release, self.hanging = threading.Event(), threading.Event()
        self._inner, self._script, self._clock = inner, script, clock
        self._count = 0
        self._last: Picture | None = None
        self._held: list[Picture] = []
        self._never = threading.Event()

    def open(self) -> None:
        """Open the source underneath, or hang."""
        if self._has("hang-open", 0):
            self._hang()
        self._inner.open()

    def read(self) -> Picture:
        """The next picture, as the script spoils it. Raises FeedGone and FeedCorrupt by script too."""
        if self._held:
            return self._held.pop(0)
        number = self._count
        self._count += 1
        if self._has("vanish", number):
            raise FeedGone("the device is gone", self.address, "plug it in again")
        if self._has("hang", number):
            self._hang()
        slow = self._has("slow", number)
        if slow:
            self._clock.wait(self._never, slow.value)
        picture = self._inner.read()
        burst = self._has("burst", number)
        if burst and burst.at == number:
            self._held = [self._inner.read() for _ in range((burst.count or 100) - 1)]
        return self._spoil(picture, number)

    def close(self) -> None:
        """Free what hangs and close the source underneath."""
        self.release.set()
        self._inner.close()

    def _hang(self) -> None:
        self.hanging.set()
        self.release.wait()

    def _has(self, name: FaultName, number: int) -> Fault | None:
        return next((fault for fault in self._script if fault.name == name and fault.strikes(number)), None)

    def _spoil(self, picture: Picture, number: int) -> Picture:
        for fault in self._script:
            if fault.strikes(number):
                picture = self._spoiled(picture, fault)
        if self._last is None or not any(self._has(name, number) for name in ("repeat", "still")):
            self._last = msgspec.structs.replace(picture, planes=tuple(plane.copy() for plane in picture.planes))
        return picture

    def _spoiled(self, picture: Picture, fault: Fault) -> Picture:
        replace = msgspec.structs.replace
        last = self._last if self._last is not None else picture
        match fault.name:
            case "repeat":
                return replace(last, planes=tuple(plane.copy() for plane in last.planes))
            case "still":
                stamps = {"source_sequence": picture.source_sequence, "source_seconds": picture.source_seconds}
                return replace(last, planes=tuple(plane.copy() for plane in last.planes), **stamps)
            case "black":
                return replace(picture, planes=_flat(picture, 0.0))
            case "slate":
                return replace(picture, planes=_flat(picture, 0.45))
            case "reshape":
                return _narrower(picture)
            case "corrupt":
                return replace(picture, corrupt=True)
            case "damaged":
                raise FeedCorrupt("damaged by script", self.address, "nothing to do")
            case "short":
                return replace(picture, planes=tuple(plane[: plane.shape[0] // 2].copy() for plane in picture.planes))
            case "empty":
                return replace(picture, planes=tuple(plane[:0].copy() for plane in picture.planes))
            case "oversize":
                return replace(picture, planes=tuple(np.vstack([plane, plane]) for plane in picture.planes))
            case "float":
                # What no source should ever hand over: the type says uint8 or uint16.
                wrong = tuple(np.full(plane.shape, np.nan) for plane in picture.planes)
                return replace(picture, planes=wrong)
            case "back" | "jump":
                sign = -1.0 if fault.name == "back" else 1.0
                return replace(picture, source_seconds=(picture.source_seconds or 0.0) + sign * (fault.value or 3600.0))
            case "stuck":
                return replace(picture, source_sequence=last.source_sequence, source_seconds=last.source_seconds)
            case _:
                return picture


def _flat(picture: Picture, level: float) -> tuple[Plane, ...]:
    """Planes of one even grey: ``level`` 0 is black, 1 white, by the range of the encoding."""
    how = layout(picture.format.layout)
    narrow = picture.format.encoding.range == "narrow"
    low, high = (16 << (how.depth - 8), 235 << (how.depth - 8)) if narrow else (0, (1 << how.depth) - 1)
    grey = round(low + level * (high - low)) << how.shift
    middle = (1 << (how.depth - 1)) << how.shift
    planes = tuple(np.full(plane.shape, grey, plane.dtype) for plane in picture.planes)
    if how.kind == "ycbcr":
        for where in how.components[1:]:
            planes[where.plane][:, where.offset :: where.step] = middle
    return planes


def _narrower(picture: Picture) -> Picture:
    """The left half of a picture, as a picture of that size."""
    how = layout(picture.format.layout)
    width = max(4, picture.format.width // 8 * 4)
    shapes = plane_shapes(how, width, picture.format.height)
    planes = tuple(plane[:, : shape[1]].copy() for plane, shape in zip(picture.planes, shapes, strict=True))
    return msgspec.structs.replace(picture, planes=planes, format=msgspec.structs.replace(picture.format, width=width))
