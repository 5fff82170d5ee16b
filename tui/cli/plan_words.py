"""A plan as lines for a person, and as the JSON object for a program."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import msgspec

from analysis.exposure.control_words import relative_moves
from analysis.exposure.plan_words import costs_in_words, doubt, gains_in_words
from analysis.exposure.policy import Policy, Suggestion
from analysis.model.controls import Controls
from analysis.model.plan import Plan, Planned, Predicted
from tui.cli.read import rounded

_WIDE = 100
_IN_COSTS = ("clipped_at_most", "crushed_at_least", "background_stops")


UNTOLD = "nobody told what is set, so ways are told as steps; tell it with --controls, or --nd, --iso and the like"


def words(planned: Planned, policy: Policy, suggested: Suggestion, said: bool = True) -> list[str]:
    """The plan for a person: where things are, the ways, what is missing and what to mind.

    Where nobody ``said`` what is set, moves are steps from wherever the controls are.
    """
    now = planned.now
    lines = [
        f"now: {_controls(now.controls) if said else UNTOLD}",
        f"     sitter {_level(now.sitter_level)}, clipped {now.clipped:.2f} %",
        f"policy: {policy.name} ({policy.title}); {suggested.why}",
    ]
    if planned.missing:
        lines += ["", f"No way reaches the aim: {planned.missing}."]
    for number, way in enumerate(planned.plans, 1):
        moves = way.moves if said else relative_moves(now.controls, way.controls)
        lines += ["", *_way(number, way, moves, now.controls, planned.missing is not None)]
    for caution in planned.cautions:
        lines += ["", *textwrap.wrap(f"Caution: {caution}", _WIDE)]
    return lines


def _way(number: int, way: Plan, moves: Sequence[str], now: Controls, nearest: bool) -> list[str]:
    head = "nearest" if nearest else f"{number}"
    first, *rest = moves
    lines = [f"{head}. {first}", *(f"   {move}" for move in rest)]
    lines.append(f"   gives {_predicted(way.predicted, doubt(now, way.controls, way.costs))}")
    ranged = _ranged(way.predicted)
    lines.append(f"   costs {costs_in_words(way.costs, ranged)}")
    gains = gains_in_words(way.costs, ranged)
    if gains:
        lines.append(f"   gains {gains}")
    if not nearest:
        lines += textwrap.wrap(way.reason, _WIDE, initial_indent="   ", subsequent_indent="   ")
    return lines


def _predicted(found: Predicted, why: str) -> str:
    least = "at least " if found.at_least else ""
    parts = [f"sitter {'at least ' if found.sitter_at_least else ''}{_level(found.sitter_level)}"]
    if found.sitter_stops is not None:
        parts[0] += f" ({found.sitter_stops:+.2f} stops)"
    if _ranged(found):
        parts.append(f"clipped {found.clipped:.2f} to {found.clipped_at_most:.2f} % ({why})")
    else:
        parts.append(f"clipped {least}{found.clipped:.2f} %")
    if found.crushed > found.crushed_at_least + 0.05:
        parts.append(f"crushed {found.crushed_at_least:.2f} to {found.crushed:.2f} %, hidden by the floor now")
    else:
        parts.append(f"crushed {found.crushed:.2f} %")
    if found.headroom_stops is not None:
        parts.append(f"headroom {found.headroom_stops:.1f} stops")
    if found.shadow_snr_stops is not None:
        parts.append(f"shadows {found.shadow_snr_stops:.1f} stops above noise")
    if found.background_stops is not None:
        parts.append(f"background {found.background_stops:+.2f} stops")
    return ", ".join(parts)


def _ranged(found: Predicted) -> bool:
    """Whether the clipped share is told as a range."""
    return found.clipped_at_most > found.clipped + 0.05


def _controls(now: Controls) -> str:
    parts = [f"ND {now.nd_stops:g} stops", f"ISO {now.iso:g}"]
    if now.t_stop is not None:
        parts.append(f"T{now.t_stop:g}")
    parts.append(f"{now.shutter_angle:g} degrees at {now.rate:g}")
    if now.key_percent is not None:
        parts.append(f"key {now.key_percent:g} %")
    if now.key_distance is not None:
        parts.append(f"at {now.key_distance:g} from the sitter")
    return ", ".join(parts)


def _level(level: float | None) -> str:
    return "not read" if level is None else f"{level:.1f} IRE"


def as_object(planned: Planned, suggested: Suggestion, said: bool = True) -> dict[str, Any]:
    """The plan as its JSON object. ``costs`` is in the units of its names and holds what bounds the prediction too.

    Where nobody ``said`` what is set, controls are counted from assumed ones: only their differences mean something.
    """
    plans = []
    for way in planned.plans:
        predicted = msgspec.to_builtins(way.predicted)
        predicted.pop("sitter_at_least")
        costs = msgspec.to_builtins(way.costs) | {name: predicted.pop(name) for name in _IN_COSTS}
        plans.append(
            {
                "controls": _controls_object(way.controls),
                "moves": list(way.moves),
                "predicted": predicted,
                "costs": costs,
                "reason": way.reason,
            }
        )
    now = planned.now
    whole = {
        "now": {
            "controls": _controls_object(now.controls),
            "sitter_level": now.sitter_level,
            "clipped": now.clipped,
        },
        "policy": planned.policy,
        "plans": plans,
        "why": suggested.why,
        "missing": planned.missing,
        "cautions": list(planned.cautions),
        "said": said,
    }
    found = rounded(whole)
    assert isinstance(found, dict)
    return found


def _controls_object(controls: Controls) -> dict[str, Any]:
    names = ["nd_stops", "iso", "t_stop", "shutter_angle", "key_percent"]
    if controls.key_distance is not None:
        names.append("key_distance")
    return {name: getattr(controls, name) for name in names}
