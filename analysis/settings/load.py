"""Reads the operator's TOML; every mistake is one line with the place and the nearest right word."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from analysis.model.errors import SettingsError
from analysis.settings.aim_settings import parse_aims
from analysis.settings.guard_settings import check_guard
from analysis.settings.nearest import nearest
from analysis.settings.schema import AlarmSettings, Settings
from analysis.settings.text_files import parse_toml, read_text


def operator_file(env: Mapping[str, str]) -> Path:
    """Where the operator's own configuration is looked for (XDG base directories)."""
    base = env.get("XDG_CONFIG_HOME") or str(Path(env.get("HOME", "~")).expanduser() / ".config")
    return Path(base) / "stopkeeper" / "settings.toml"


def load(path: Path | None, env: Mapping[str, str] | None = None) -> Settings:
    """Settings from ``path``, or from the operator's own file if there is one, or the defaults.

    Raises SettingsError when a file that was asked for cannot be read, or anything in it is wrong.
    """
    if path is None:
        path = operator_file(os.environ if env is None else env)
        if not path.is_file():
            return Settings()
    return parse(read_text(path), str(path))


def parse(text: str, where: str) -> Settings:
    """Settings from TOML text; ``where`` names the file in errors.

    >>> parse("[alarms.highlights]\\nlimit = 2.5", "example").alarms.highlights.limit
    2.5
    """
    raw = parse_toml(text, where)
    aims = parse_aims(raw.pop("aims", {}), where)
    _refuse_unknown(raw, Settings, where, "")
    try:
        settings = msgspec.convert(raw, Settings)
    except msgspec.ValidationError as error:
        raise SettingsError(_plain(str(error)), where, "see configs/default.toml for every key") from None
    _check_values(settings, where)
    return msgspec.structs.replace(settings, aims=aims)


def _refuse_unknown(raw: dict[str, Any], kind: type[msgspec.Struct], where: str, prefix: str) -> None:
    hints = {field.encode_name: field.type for field in msgspec.structs.fields(kind)}
    for key, value in raw.items():
        name = f"{prefix}{key}"
        if key not in hints:
            raise SettingsError(f"unknown key {name}", where, nearest(key, hints))
        field = hints[key]
        if isinstance(field, type) and issubclass(field, msgspec.Struct):
            if not isinstance(value, dict):
                raise SettingsError(f"{name} must be a table", where, f"write [{name}]")
            _refuse_unknown(value, field, where, f"{name}.")


def _plain(message: str) -> str:
    """msgspec's message with the path as an operator writes it."""
    head, _, path = message.partition(" - at `$.")
    return f"{path.rstrip('`')}: {head}" if path else message


_POSITIVE = {
    "feed.width", "feed.height", "feed.rate", "feed.open_seconds", "feed.read_seconds",
    "screen.rate", "screen.max_rate", "sound.mute_minutes",
}  # fmt: skip


def _check_values(settings: Settings, where: str) -> None:
    check_guard(settings.guard, where)
    for name in sorted(_POSITIVE):
        table, key = name.split(".")
        value = getattr(getattr(settings, table), key)
        if value is not None and value <= 0:
            raise SettingsError(f"{name} is {value:g}", where, "it must be above zero")
    if settings.screen.rate > 30:
        raise SettingsError(f"screen.rate is {settings.screen.rate:g}", where, "30 updates a second is the most")
    if settings.sound.mute_minutes > 60:
        raise SettingsError(f"sound.mute_minutes is {settings.sound.mute_minutes:g}", where, "60 minutes is the most")
    for alarm in (field.encode_name for field in msgspec.structs.fields(AlarmSettings)):
        limits = settings.alarms.of(alarm)
        for key in ("limit", "clear", "on_delay", "off_delay", "repeat"):
            value = getattr(limits, key)
            if value is not None and value < 0:
                raise SettingsError(f"alarms.{alarm}.{key} is {value:g}", where, "it must not be negative")
        if limits.priority is not None and limits.priority not in (1, 2, 3):
            raise SettingsError(f"alarms.{alarm}.priority is {limits.priority}", where, "use 1 (gravest), 2 or 3")
