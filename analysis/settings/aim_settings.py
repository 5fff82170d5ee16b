"""What the operator writes about aims: one table a sitter or spot.

For example::

    [aims.sitter]              # every sitter without a table of their own
    complexion = "medium"      # light, medium or dark: the level by common practice or BT.2408
    mood = "high key"          # high key, natural or low key: +1/3, 0, -1/3 stop

    [aims."sitter 2"]
    value = 42                 # the operator's own, in IRE of the monitored encoding
    tolerance = 4

    [aims.window]
    value = 2.5
    unit = "stops"             # from middle grey
    tolerance = 0.5
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import get_args, get_type_hints

import msgspec

from analysis.exposure.aims import ANY_SITTER, is_sitter
from analysis.exposure.skin import MOODS, Mood, skin_aim
from analysis.measure.spot_edit import printable, usable_name
from analysis.model.errors import SettingsError, UsageError
from analysis.model.sitter import Aim, AimUnit, Complexion
from analysis.settings.nearest import nearest
from analysis.signal.curves import Curve

MOST_AIMS = 64
TOLERANCE: dict[AimUnit, float] = {"ire": 5.0, "stops": 1.0 / 3.0}
"""Tolerance of an aim whose value alone was written; common practice, no published source."""
_VALUES: dict[AimUnit, tuple[float, float]] = {"ire": (-10.0, 110.0), "stops": (-12.0, 12.0)}
_WIDEST: dict[AimUnit, float] = {"ire": 50.0, "stops": 6.0}
_MOST_BIAS = 3.0


class AimChoice(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One table of ``[aims]``; what is left out is None.

    ``complexion`` is the operator's word for a sitter and gives the value by itself; a ``value`` of the
    operator's own stands before it. ``bias_stops`` and ``mood`` move the aim; only one of them may be given.
    """

    complexion: Complexion | None = None
    value: float | None = None
    tolerance: float | None = None
    unit: AimUnit | None = None
    mood: Mood | None = None
    bias_stops: float | None = None

    @property
    def bias(self) -> float:
        """Stops by which the aim is moved."""
        return MOODS[self.mood] if self.mood is not None else (self.bias_stops or 0.0)


Aims = dict[str, AimChoice]


def parse_aims(raw: object, where: str, prefix: str = "aims") -> Aims:
    """The tables of ``[aims]`` by target, from parsed TOML; ``where`` names the file in errors.

    Raises SettingsError in one line for anything that is wrong, unknown keys with the nearest known one.

    >>> parse_aims({"sitter": {"complexion": "dark"}}, "my.toml")["sitter"].complexion
    'dark'
    >>> parse_aims({"sitter": {"tolerence": 3}}, "my.toml")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: my.toml: unknown key aims.sitter.tolerence; did you mean "tolerance"?
    """
    if not isinstance(raw, dict):
        raise SettingsError(f"{prefix} must be a table", where, f"write [{prefix}.sitter]")
    if len(raw) > MOST_AIMS:
        raise SettingsError(f"there are {len(raw)} aims", where, f"{MOST_AIMS} are the most")
    found: Aims = {}
    for target, table in raw.items():
        name = f"{prefix}.{_quoted(target)}"
        word = _target(target, name, where)
        if word in found:
            raise SettingsError(f"{name} is written twice", where, "keep one of them")
        found[word] = _choice(table, word, name, where)
    return found


def _target(target: str, name: str, where: str) -> str:
    word = " ".join(target.split())
    if is_sitter(word):
        return word.casefold()
    try:
        return usable_name(word)
    except UsageError as error:
        raise SettingsError(f"{name} is {error.what}", where, error.todo) from None


def _choice(table: object, target: str, name: str, where: str) -> AimChoice:
    if not isinstance(table, dict):
        raise SettingsError(f"{name} must be a table", where, f"write [{name}]")
    known = get_type_hints(AimChoice)
    known = {key: known[key] for key in AimChoice.__struct_fields__}
    for key in table:
        if key not in known:
            raise SettingsError(f"unknown key {name}.{printable(key)}", where, nearest(key, known))
    try:
        choice = msgspec.convert(table, AimChoice)
    except msgspec.ValidationError as error:
        head, _, path = str(error).partition(" - at `$.")
        key, head = path.rstrip("`"), printable(head)
        raise SettingsError(f"{name}.{key}: {head}" if key else f"{name}: {head}", where, _words_for(key)) from None
    check_choice(choice, target, name, where)
    return choice


def _words_for(key: str) -> str:
    words: Mapping[str, tuple[str, ...]] = {
        "complexion": get_args(Complexion),
        "unit": get_args(AimUnit),
        "mood": get_args(Mood),
    }
    return f"use {', '.join(words[key])}" if key in words else "write a number"


def check_choice(choice: AimChoice, target: str, name: str, where: str) -> None:
    """Refuse what contradicts itself or lies beyond reason. Raises SettingsError."""
    for key in ("value", "tolerance", "bias_stops"):
        value = getattr(choice, key)
        if value is not None and not isfinite(value):
            raise SettingsError(f"{name}.{key} is {value}", where, "write a number")
    unit = choice.unit or "ire"
    if choice.value is None:
        if choice.complexion is None:
            raise SettingsError(f"{name} has no value", where, "give value, or complexion for a sitter")
        if choice.unit is not None:
            raise SettingsError(f"{name}.unit has no value to go with", where, "give value, or leave unit out")
    else:
        _between(f"{name}.value", choice.value, *_VALUES[unit], where)
    if choice.complexion is not None and not is_sitter(target):
        raise SettingsError(f"{name}.complexion: only a sitter has one", where, "give value instead")
    if choice.tolerance is not None:
        if choice.tolerance <= 0.0:
            raise SettingsError(f"{name}.tolerance is {choice.tolerance:g}", where, "it must be above zero")
        _between(f"{name}.tolerance", choice.tolerance, 0.0, _WIDEST[unit], where)
    if choice.mood is not None and choice.bias_stops is not None:
        raise SettingsError(f"{name} has both mood and bias_stops", where, "keep one of them")
    if choice.bias_stops is not None:
        _between(f"{name}.bias_stops", choice.bias_stops, -_MOST_BIAS, _MOST_BIAS, where)


def _between(name: str, value: float, low: float, high: float, where: str) -> None:
    if not low <= value <= high:
        raise SettingsError(f"{name} is {value:g}", where, f"use {low:g} to {high:g}")


def _quoted(target: str) -> str:
    """The name as TOML has it, quoted where it needs to be; cut where it is absurd."""
    short = printable(" ".join(target.split()))
    return short if short and all(c.isascii() and (c.isalnum() or c in "-_") for c in short) else f'"{short}"'


def aim_of(target: str, choice: AimChoice, curve: Curve | None) -> Aim:
    """The aim that a choice means in the encoding that is watched; a complexion's value depends on it.

    >>> aim_of("sitter", AimChoice(complexion="light", mood="high key"), None).bias_stops == 1 / 3
    True
    """
    if choice.value is None:
        usual = skin_aim(choice.complexion, curve, target, choice.bias)
        return usual if choice.tolerance is None else msgspec.structs.replace(usual, tolerance=choice.tolerance)
    unit = choice.unit or "ire"
    tolerance = TOLERANCE[unit] if choice.tolerance is None else choice.tolerance
    return Aim(target=target, value=choice.value, tolerance=tolerance, unit=unit, bias_stops=choice.bias)


def aims_of(choices: Aims, curve: Curve | None) -> tuple[Aim, ...]:
    """All aims, in the encoding that is watched: make them anew when the curve changes.

    Where nothing is said of sitters, theirs is as wide as all complexions together: none is guessed.

    >>> aims = aims_of({"window": AimChoice(value=2.5, unit="stops")}, None)
    >>> [(aim.target, aim.value, aim.tolerance) for aim in aims][1]
    ('sitter', 50.0, 10.0)
    """
    aims = tuple(aim_of(target, choice, curve) for target, choice in choices.items())
    return aims if ANY_SITTER in choices else (*aims, skin_aim(None, curve))
