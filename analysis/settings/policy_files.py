"""Policies in TOML: those that ship, and the operator's own in ``policies`` beside the settings."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from pathlib import Path

import msgspec

from analysis.exposure.policy import Policy, Weights
from analysis.model.errors import SettingsError, UsageError
from analysis.settings.load import operator_file
from analysis.settings.nearest import nearest
from analysis.settings.places import shipped
from analysis.settings.text_files import parse_toml, read_text


def policy_folders(env: Mapping[str, str] | None = None) -> tuple[Path, ...]:
    """Where policies lie, the operator's own first."""
    return operator_file(os.environ if env is None else env).parent / "policies", shipped("configs") / "policies"


def policy_names(env: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """The names of all policies there are."""
    return tuple(sorted({path.stem for folder in policy_folders(env) for path in folder.glob("*.toml")}))


def load_policy(name: str, env: Mapping[str, str] | None = None, where: str = "--policy") -> Policy:
    """The policy of that name, or of that path; ``where`` named it. Raises UsageError or SettingsError in one line.

    >>> load_policy("open-sky", {}).iso_below_at_risk
    0.0
    """
    path = Path(name)
    if path.suffix != ".toml":
        found = [folder / f"{name}.toml" for folder in policy_folders(env) if name in _stems(folder)]
        if not found:
            raise UsageError(f"no policy {name}", where, nearest(name, policy_names(env)))
        path = found[0]
    return parse_policy(read_text(path), str(path))


def parse_policy(text: str, where: str) -> Policy:
    """The policy of a TOML text; ``where`` names the file in errors.

    >>> parse_policy("name = 'x'\\ntitle = ''\\nwhy = ''\\n[weights]\\naim = -1", "x.toml")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: x.toml: weights.aim is -1; it must not be negative
    """
    raw = parse_toml(text, where)
    weights = raw.get("weights", {})
    for table, known, prefix in (
        (raw, Policy, ""),
        (weights if isinstance(weights, dict) else {}, Weights, "weights."),
    ):
        for key in table:
            if key not in known.__struct_fields__:
                raise SettingsError(f"unknown key {prefix}{key}", where, nearest(key, known.__struct_fields__))
    try:
        policy = msgspec.convert(raw, Policy)
    except msgspec.ValidationError as error:
        head, _, at = str(error).partition(" - at `$.")
        raise SettingsError(f"{at.rstrip('`')}: {head}" if at else head, where, "see configs/policies") from None
    numbers = {name: getattr(policy, name) for name in ("iso_below_native", "iso_below_at_risk", "most_clipped")}
    numbers |= {f"weights.{name}": getattr(policy.weights, name) for name in Weights.__struct_fields__}
    for name, value in {**numbers, "least_headroom": policy.least_headroom}.items():
        if not math.isfinite(value) or (value < 0.0 and name != "weights.iso_down"):
            raise SettingsError(f"{name} is {value:g}", where, "it must not be negative")
    return policy


def _stems(folder: Path) -> set[str]:
    return {path.stem for path in folder.glob("*.toml")}
