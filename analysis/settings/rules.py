"""The alarm rules as the operator's settings leave them."""

from __future__ import annotations

from typing import Any

import msgspec

from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.rule import AlarmRule
from analysis.model.errors import SettingsError
from analysis.settings.schema import AlarmLimits, AlarmSettings


def alarm_rules(settings: AlarmSettings) -> tuple[AlarmRule, ...]:
    """The rules that are enabled, each with the operator's limits in place of its own.

    A limit set below the default clear level takes the clear level down with it, in the same
    proportion, so that one number is enough to change. Raises SettingsError for limits that
    contradict each other.

    >>> alarm_rules(AlarmSettings(highlights=AlarmLimits(limit=0.5)))[1].clear
    0.3
    """
    chosen = ((rule, getattr(settings, rule.name)) for rule in DEFAULT_RULES)
    return tuple(_rule(rule, limits) for rule, limits in chosen if limits.enabled)


def _rule(rule: AlarmRule, limits: AlarmLimits) -> AlarmRule:
    given: dict[str, Any] = {
        key: value
        for key in ("limit", "clear", "on_delay", "off_delay", "priority", "self_clearing")
        if (value := getattr(limits, key)) is not None
    }
    if "limit" in given and "clear" not in given and rule.limit and rule.clear is not None:
        given["clear"] = min(rule.clear, given["limit"] * rule.clear / rule.limit)
    try:
        return msgspec.structs.replace(rule, **given)
    except ValueError as error:
        raise SettingsError(str(error), f"alarms.{rule.name}", "see configs/default.toml") from None
