"""The alarm rules as the operator's settings leave them."""

from __future__ import annotations

from typing import Any

import msgspec

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.model.errors import SettingsError
from analysis.settings.schema import AlarmLimits, AlarmSettings

_KEYS = tuple(key for key in AlarmLimits.__struct_fields__ if key != "enabled")


def alarm_rules(settings: AlarmSettings) -> tuple[AlarmRule, ...]:
    """The rules that are enabled, each with the operator's limits in place of its own.

    A limit set beyond the default clear level takes the clear level with it, in the same
    proportion, so that one number is enough to change. An alarm set to latch does not clear by
    itself. Raises SettingsError for limits that contradict each other, and for limits of an
    alarm that has none.

    >>> alarm_rules(AlarmSettings(highlights=AlarmLimits(limit=0.5)))[1].clear
    0.3
    """
    chosen = ((rule, settings.of(rule.name)) for rule in DEFAULT_RULES)
    return tuple(_rule(rule, limits) for rule, limits in chosen if limits.enabled)


def _rule(rule: AlarmRule, limits: AlarmLimits) -> AlarmRule:
    given: dict[str, Any] = {key: value for key in _KEYS if (value := getattr(limits, key)) is not None}
    if "limit" in given and "clear" not in given and rule.limit and rule.clear is not None:
        nearer = min if rule.when == "above" else max
        given["clear"] = nearer(rule.clear, given["limit"] * rule.clear / rule.limit)
    if "off_delay" in given:
        # A calm is never shorter than what an ordinary return takes.
        given.setdefault("calm", max(rule.calm, given["off_delay"]))
    if given.get("latching"):
        given.setdefault("self_clearing", False)
    try:
        if rule.limit is None and {"limit", "clear"} & set(given):
            raise ValueError(f"{rule.name} is there or not there; it has no limit to set")
        return msgspec.structs.replace(rule, **given)
    except ValueError as error:
        raise SettingsError(str(error), f"alarms.{rule.name}", "see configs/default.toml") from None
