"""Policies in TOML: the three that ship, the operator's own, and one line for everything that is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.exposure.policy import BUILT_LIGHT, EVEN_LIGHT, OPEN_SKY
from analysis.model.errors import SettingsError, UsageError
from analysis.settings.places import shipped
from analysis.settings.policy_files import load_policy, parse_policy, policy_names

HEAD = "name = 'x'\ntitle = 't'\nwhy = 'w'\n"


def test_three_policies_ship_and_explain_themselves() -> None:
    assert set(policy_names({})) == {OPEN_SKY, EVEN_LIGHT, BUILT_LIGHT}
    for name in policy_names({}):
        policy = load_policy(name, {})
        assert policy.name == name and policy.title and policy.why
        text = (shipped("configs") / "policies" / f"{name}.toml").read_text()
        assert "Common practice, no published source" in text
        assert sum(line.startswith("#") for line in text.splitlines()) >= 5


def test_what_the_practices_say() -> None:
    """Common practice, no published source: native and above with highlights at risk, half of native at the least."""
    sky, even, built = (load_policy(name, {}) for name in (OPEN_SKY, EVEN_LIGHT, BUILT_LIGHT))
    assert sky.iso_below_at_risk == 0.0 and even.iso_below_native == 1.0
    assert even.weights.iso_down < 0.0 < sky.weights.iso_down  # less noise is a gain where nothing can be lost
    assert built.background_first and built.key_moves and not sky.key_moves


def test_the_operators_own_stands_before_one_that_ships(tmp_path: Path) -> None:
    folder = tmp_path / "stopkeeper" / "policies"
    folder.mkdir(parents=True)
    (folder / "open-sky.toml").write_text(HEAD.replace("'x'", "'open-sky'") + "most_clipped = 3.0")
    assert load_policy("open-sky", {"XDG_CONFIG_HOME": str(tmp_path)}).most_clipped == 3.0
    assert load_policy(str(folder / "open-sky.toml"), {}).most_clipped == 3.0
    with pytest.raises(UsageError, match='did you mean "open-sky"'):
        load_policy("open-sy", {})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = 'x'", "missing required field"),
        (HEAD + "most_cliped = 1", 'did you mean "most_clipped"?'),
        (HEAD + "[weights]\naims = 1", 'did you mean "aim"?'),
        (HEAD + "most_clipped = -1", "must not be negative"),
        (HEAD + "least_headroom = nan", "must not be negative"),
        (HEAD + "[weights]\nnoise = inf", "weights.noise is inf"),
        (HEAD + "weights = 3", "weights"),
        (HEAD + "background_first = 'yes'", "background_first"),
        ("name = ", "not valid TOML"),
    ],
)
def test_everything_wrong_is_one_line(text: str, words: str) -> None:
    with pytest.raises(SettingsError) as raised:
        parse_policy(text, "own.toml")
    line = raised.value.line()
    assert line.startswith("own.toml: ") and words in line and "\n" not in line
