"""A change of an alarm as other programs get it: one JSON object, the same for a log, a hook and a POST."""

from __future__ import annotations

from typing import Any

import msgspec

from analysis.model.alarm import AlarmChange, named_state

LONGEST_REASON = 1000
"""Characters; a reason holds numbers and a few words, but what a feed says of itself is not ours to bound."""


def change_object(change: AlarmChange) -> dict[str, Any]:
    """The change with the keys ``alarm occurrence from to priority reason at seconds``, in this order.

    ``at`` is RFC 3339 UTC. A shelved, suppressed or out-of-service alarm is named by that (ISA-18.2's states G, H
    and I), so shelving shows as a change although the state beneath it stays. ``seconds`` is how long the alarm had
    been in the state it left.

    >>> from analysis.model.instant import Instant
    >>> change = AlarmChange(alarm="feed", occurrence=2, before="normal", after="active-unacknowledged", priority=1,
    ...     reason="feed lost", at=Instant(5.0, 0.5), seconds=12.25)
    >>> list(change_object(change).values())
    ['feed', 2, 'normal', 'active-unacknowledged', 1, 'feed lost', '1970-01-01T00:00:00.500Z', 12.25]
    """
    return {
        "alarm": change.alarm,
        "occurrence": change.occurrence,
        "from": named_state(change.before, change.quiet_before),
        "to": named_state(change.after, change.quiet),
        "priority": change.priority,
        "reason": change.reason[:LONGEST_REASON],
        "at": change.at.text(),
        "seconds": round(change.seconds, 3),
    }


def is_hidden(change: AlarmChange) -> bool:
    """Whether an alarm changed beneath its shelf or suppression only: its name stays, so nobody need be told.

    >>> from analysis.model.instant import Instant
    >>> change = AlarmChange(alarm="one-channel", occurrence=2, before="normal", after="active-unacknowledged",
    ...     priority=3, reason="", at=Instant(5.0, 0.5), seconds=1.0,
    ...     quiet_before=("suppressed",), quiet=("suppressed",))
    >>> is_hidden(change), is_hidden(msgspec.structs.replace(change, quiet=()))
    (True, False)
    """
    named = named_state(change.before, change.quiet_before), named_state(change.after, change.quiet)
    return bool(change.quiet_before) and bool(change.quiet) and named[0] == named[1]


def change_line(change: AlarmChange) -> bytes:
    """The object as one line of JSON, with its end of line."""
    return msgspec.json.encode(change_object(change)) + b"\n"
