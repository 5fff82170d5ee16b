"""Whom or what a plan is for: the main sitter, a spot the operator points to, or the middle of the picture."""

from __future__ import annotations

import msgspec

from analysis.exposure.aims import ANY_SITTER, aim_for, stops_of
from analysis.model.errors import UsageError
from analysis.model.reading import Reading
from analysis.model.sitter import Aim, SitterReading, Spot, SpotReading
from analysis.signal.curves import Curve

MIDDLE = "the middle"
"""The middle of the picture's levels, planned to middle grey: a card, or a picture without anybody in it."""
_MIDDLE_AIM = Aim(target=MIDDLE, value=0.0, tolerance=1.0 / 3.0, unit="stops")
_WHERE = "plan"
_CHOOSE = "choose what to plan for"


class Subject(msgspec.Struct, frozen=True, kw_only=True):
    """What is planned for, read as a sitter, and the aims with its own among them."""

    sitter: SitterReading
    aims: tuple[Aim, ...]


def choices(reading: Reading | None, spots: tuple[Spot, ...]) -> tuple[str, ...]:
    """The names of what may be planned for: sitters, spots that may not clip, the middle.

    >>> choices(None, (Spot(name="cheek", kind="watch", x=0, y=0, width=1, height=1),))
    ('cheek', 'the middle')
    """
    sitters = sorted(each.name for each in (reading.sitters or ())) if reading is not None else []
    return (*sitters, *(spot.name for spot in spots if spot.kind != "let go"), MIDDLE)


def subject_of(
    reading: Reading, aims: tuple[Aim, ...], curve: Curve, target: str | None = None, spots: tuple[Spot, ...] = ()
) -> Subject:
    """What to plan for: ``target`` by its name, else the main sitter, else the first spot to watch that has an aim.

    A spot the operator chose and gave no aim is held to the sitter's, since that is what one points to.
    Raises UsageError in one line that says what is missing and what to do.
    """
    if target is None:
        return _by_itself(reading, aims, spots)
    sitter = next((each for each in reading.sitters or () if each.name == target), None)
    if sitter is not None:
        return _sitter(sitter, aims)
    read = (reading.spots or {}).get(target)
    if read is not None:
        return _spot(target, read, aims, reading, spots)
    if target == MIDDLE:
        return _middle(reading, aims, curve)
    raise UsageError(f"{target} is not in the picture", _WHERE, _CHOOSE)


def _by_itself(reading: Reading, aims: tuple[Aim, ...], spots: tuple[Spot, ...]) -> Subject:
    seen = reading.sitters or ()
    read = [each for each in seen if each.level is not None and each.stops is not None]
    main = next((each for each in read if each.main), read[0] if read else None)
    if main is not None:
        return _sitter(main, aims)
    for name, spot in (reading.spots or {}).items():
        if spot.kind == "watch" and aim_for(name, aims) is not None and spot.stops is not None:
            return _spot(name, spot, aims, reading, spots)
    lost = next((each for each in seen if each.state in {"too dark", "clipped"}), None)
    if lost is not None:
        way = "brighter" if lost.state == "too dark" else "darker"
        raise UsageError(f"{lost.name} is {lost.state}", _WHERE, f"go {way} until the skin can be read")
    what = "faces are not looked for" if reading.sitters is None else "no face is seen"
    raise UsageError(what, _WHERE, f"place a spot on the skin, then {_CHOOSE}")


def _sitter(sitter: SitterReading, aims: tuple[Aim, ...]) -> Subject:
    if sitter.level is None or sitter.stops is None:
        raise UsageError(f"{sitter.name} cannot be read", _WHERE, _CHOOSE)
    if aim_for(sitter.name, aims) is None:
        raise UsageError(f"there is no aim for {sitter.name}", _WHERE, "write [aims.sitter] in your settings")
    return Subject(sitter=sitter, aims=aims)


def _spot(name: str, read: SpotReading, aims: tuple[Aim, ...], reading: Reading, spots: tuple[Spot, ...]) -> Subject:
    own = aim_for(name, aims)
    aim = own or aim_for(ANY_SITTER, aims)
    if aim is None:
        raise UsageError(f"there is no aim for {name}", _WHERE, "write [aims.sitter] in your settings")
    if read.stops is None:
        raise UsageError(f"the spot {name} is too dark to be read", _WHERE, _CHOOSE)
    left, top, wide, high = reading.picture.active
    place = next((spot for spot in spots if spot.name == name), None)
    box = (0, 0, 0, 0)
    if place is not None:
        x, y = left + round(place.x * wide), top + round(place.y * high)
        box = (x, y, round(place.width * wide), round(place.height * high))
    sitter = SitterReading(
        name=name,
        main=True,
        state="seen",
        box=box,
        confidence=1.0,
        level=read.level,
        low=read.level,
        high=read.level,
        stops=read.stops,
        clipped=read.clipped,
    )
    return Subject(sitter=sitter, aims=aims if own is not None else (*aims, _for(name, aim)))


def _middle(reading: Reading, aims: tuple[Aim, ...], curve: Curve) -> Subject:
    level = reading.luma.p50 if reading.luma is not None else None
    stops = None if level is None else stops_of(level, curve)
    if level is None or stops is None:
        raise UsageError("the middle of the picture is too dark to be read", _WHERE, "go brighter")
    sitter = SitterReading(
        name=MIDDLE,
        main=True,
        state="seen",
        box=(0, 0, 0, 0),
        confidence=1.0,
        level=level,
        low=level,
        high=level,
        stops=stops,
        clipped=0.0,
    )
    return Subject(sitter=sitter, aims=(*(aim for aim in aims if aim.target != MIDDLE), _MIDDLE_AIM))


def _for(name: str, aim: Aim) -> Aim:
    return msgspec.structs.replace(aim, target=name)
