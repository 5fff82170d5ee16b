"""Aims as an operator writes them: every mistake is one line, nothing is guessed."""

from __future__ import annotations

import tomllib

import msgspec
import pytest

from analysis.exposure.aims import aim_for, band
from analysis.model.errors import SettingsError
from analysis.settings.aim_settings import MOST_AIMS, AimChoice, aim_of, aims_of, parse_aims
from analysis.signal.curves import curve


def parsed(text: str) -> dict[str, AimChoice]:
    return parse_aims(tomllib.loads(text)["aims"], "my.toml")


def refused(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parsed(text)
    line = caught.value.line()
    assert "\n" not in line and line.startswith("my.toml: ") and caught.value.exit_code == 2
    return line


def test_tables_by_target() -> None:
    found = parsed(
        """
        [aims.sitter]
        complexion = "medium"
        mood = "high key"
        [aims."Sitter 2"]
        value = 42
        tolerance = 4
        [aims.window]
        value = 2.5
        unit = "stops"
        bias_stops = -0.5
        """
    )
    assert found == {
        "sitter": AimChoice(complexion="medium", mood="high key"),
        "sitter 2": AimChoice(value=42.0, tolerance=4.0),
        "window": AimChoice(value=2.5, unit="stops", bias_stops=-0.5),
    }


@pytest.mark.parametrize(
    "text,says",
    [
        ("aims = 3", "aims must be a table; write [aims.sitter]"),
        ("[aims]\nsitter = 50", "aims.sitter must be a table; write [aims.sitter]"),
        ("[aims.sitter]\nvaleu = 50", 'unknown key aims.sitter.valeu; did you mean "value"?'),
        ("[aims.sitter]\nbias = 1", 'unknown key aims.sitter.bias; did you mean "bias_stops"?'),
        ("[aims.sitter]\nvalue = '50'", "aims.sitter.value: Expected `float | null`, got `str`; write a number"),
        ("[aims.sitter]\ncomplexion = 'fair'", "aims.sitter.complexion: Invalid enum value 'fair'; use light, medium"),
        ("[aims.sitter]\nvalue=1\nunit = 'percent'", "aims.sitter.unit: Invalid enum value 'percent'; use ire, stops"),
        ("[aims.sitter]\nvalue=50\nmood = 'gay'", "aims.sitter.mood: Invalid enum value 'gay'; use high key, natural"),
        ("[aims.sitter]\ntolerance = 5", "aims.sitter has no value; give value, or complexion for a sitter"),
        ("[aims.window]\nmood = 'natural'", "aims.window has no value"),
        ("[aims.window]\ncomplexion = 'dark'", "aims.window.complexion: only a sitter has one; give value instead"),
        ("[aims.sitter]\ncomplexion = 'dark'\nunit = 'stops'", "aims.sitter.unit has no value to go with"),
        ("[aims.sitter]\nvalue = nan", "aims.sitter.value is nan; write a number"),
        ("[aims.sitter]\nvalue = 50\ntolerance = inf", "aims.sitter.tolerance is inf; write a number"),
        ("[aims.sitter]\nvalue = 500", "aims.sitter.value is 500; use -10 to 110"),
        ("[aims.sky]\nvalue = 50\nunit = 'stops'", "aims.sky.value is 50; use -12 to 12"),
        ("[aims.sitter]\nvalue = 50\ntolerance = 0", "aims.sitter.tolerance is 0; it must be above zero"),
        ("[aims.sky]\nvalue = 2\ntolerance = 20\nunit = 'stops'", "aims.sky.tolerance is 20; use 0 to 6"),
        ("[aims.sitter]\nvalue = 50\nbias_stops = 4", "aims.sitter.bias_stops is 4; use -3 to 3"),
        ("[aims.sitter]\nvalue=50\nbias_stops=1\nmood='natural'", "aims.sitter has both mood and bias_stops"),
        ('[aims."sitter 2"]\nvalue = 900', 'aims."sitter 2".value is 900'),
        ('[aims."a/b"]\nvalue = 50', 'aims."a/b" is not a usable name for a spot; use 1 to 24'),
        ('[aims.""]\nvalue = 50', 'aims."" is not a usable name'),
        ('[aims.sitter]\nvalue = 50\n[aims."Sitter"]\nvalue = 40', "aims.Sitter is written twice; keep one of them"),
    ],
)
def test_mistakes_are_one_line(text: str, says: str) -> None:
    assert says in refused(text)


@pytest.mark.parametrize(
    "text",
    [
        '[aims."\\u001B[31mred"]\nvalue = 50',
        '[aims.sitter]\n"\\u001B[31m" = 50',
        '[aims.sitter]\ncomplexion = "\\u001B[31m"',
    ],
)
def test_nothing_written_reaches_the_terminal_as_a_command(text: str) -> None:
    assert refused(text).isprintable()


def test_there_are_only_so_many() -> None:
    tables = "\n".join(f"[aims.spot{n}]\nvalue = 50" for n in range(MOST_AIMS + 1))
    assert f"{MOST_AIMS} are the most" in refused(tables)


def test_a_complexion_means_what_the_encoding_makes_of_it() -> None:
    """Common practice (no published source) in BT.709; Report ITU-R BT.2408 Table 2 (from memory) in HLG and PQ."""
    choice = parsed("[aims.sitter]\ncomplexion = 'dark'")["sitter"]
    assert aim_of("sitter", choice, curve("bt709")).value == 40.0
    for name, low, high in (("hlg", 25.0, 45.0), ("pq", 30.0, 40.0)):
        found = band(aim_of("sitter", choice, curve(name)), curve(name))
        assert (found.low, found.high) == (low, high)


def test_the_operators_own_value_stands_before_the_complexions() -> None:
    own = aim_of("sitter 2", AimChoice(complexion="light", value=47.0), curve("bt709"))
    assert (own.target, own.value, own.tolerance, own.unit) == ("sitter 2", 47.0, 5.0, "ire")
    wider = aim_of("sitter", AimChoice(complexion="light", tolerance=8.0), curve("bt709"))
    assert (wider.value, wider.tolerance) == (50.0, 8.0)


def test_a_mood_is_a_bias() -> None:
    assert aim_of("sitter", AimChoice(complexion="light", mood="high key"), None).bias_stops == pytest.approx(1 / 3)
    assert aim_of("sitter", AimChoice(value=50.0, mood="low key"), None).bias_stops == pytest.approx(-1 / 3)
    assert aim_of("window", AimChoice(value=2.0, unit="stops", bias_stops=0.7), None).bias_stops == 0.7
    assert AimChoice(value=1.0).bias == 0.0


def test_stops_have_a_tolerance_of_their_own() -> None:
    aim = aim_of("window", AimChoice(value=2.0, unit="stops"), None)
    assert aim.unit == "stops" and aim.tolerance == pytest.approx(1 / 3)


def test_every_sitter_has_an_aim_and_no_spot_without_one() -> None:
    choices = parsed('[aims."sitter 2"]\nvalue = 42\n[aims.window]\nvalue = 90')
    aims = aims_of(choices, curve("bt709"))
    assert aim_for("sitter 2", aims).value == 42.0 and aim_for("window", aims).value == 90.0
    unsaid = aim_for("sitter 1", aims)
    assert (unsaid.value - unsaid.tolerance, unsaid.value + unsaid.tolerance) == (40.0, 60.0)
    assert aim_for("card", aims) is None
    said = aims_of(parsed("[aims.sitter]\ncomplexion = 'dark'"), curve("bt709"))
    assert len(said) == 1 and aim_for("sitter 5", said).value == 40.0


def test_nothing_written_is_nothing() -> None:
    assert parse_aims({}, "my.toml") == {}


def test_choices_travel_as_json() -> None:
    for choice in (AimChoice(complexion="dark", mood="low key"), AimChoice(value=1.5, unit="stops", tolerance=0.2)):
        assert msgspec.json.decode(msgspec.json.encode(choice), type=AimChoice) == choice
    assert msgspec.json.encode(AimChoice(value=50.0)) == b'{"value":50.0}', "what is left out stays out"
