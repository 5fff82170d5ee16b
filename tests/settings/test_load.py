"""Configuration: every mistake is one line that names the place and the way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.model.errors import SettingsError
from analysis.settings.load import load, operator_file, parse
from analysis.settings.places import shipped
from analysis.settings.schema import Settings


def refused(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parse(text, "my.toml")
    line = caught.value.line()
    assert "\n" not in line and line.startswith("my.toml: ")
    assert caught.value.exit_code == 2
    return line


def test_nothing_written_means_defaults() -> None:
    assert parse("", "x") == Settings()


def test_values_reach_their_place() -> None:
    settings = parse(
        """
        [feed]
        address = "/dev/video2"
        range = "full"
        width = 1280
        [alarms.highlights]
        limit = 2
        clear = 1.5
        [sound]
        outlet = "bell"
        [screen]
        glyphs = "ascii"
        """,
        "x",
    )
    assert settings.feed.address == "/dev/video2"
    assert settings.feed.range == "full" and settings.feed.width == 1280
    assert settings.alarms.highlights.limit == 2.0 and settings.alarms.highlights.clear == 1.5
    assert settings.alarms.shadows.limit is None
    assert settings.sound.outlet == "bell" and settings.screen.glyphs == "ascii"


@pytest.mark.parametrize(
    "text,says",
    [
        ("[alarms.highlight]\nlimit=1", 'unknown key alarms.highlight; did you mean "highlights"?'),
        ("[alarms.highlights]\nlimits=1", 'unknown key alarms.highlights.limits; did you mean "limit"?'),
        ("[zzzz]\na=1", "unknown key zzzz; known: alarms, feed, meter, screen, sound"),
        ("feed = 3", "feed must be a table; write [feed]"),
        ("[feed]\nrange='wide'", "feed.range: Invalid enum value 'wide'"),
        ("[feed]\nwidth='wide'", "feed.width: Expected `int | null`, got `str`"),
        ("[feed]\nrate=-1", "feed.rate is -1; it must be above zero"),
        ("[screen]\nrate=500", "screen.rate is 500; 30 updates a second is the most"),
        ("[sound]\nmute_minutes=90", "sound.mute_minutes is 90; 60 minutes is the most"),
        ("[alarms.feed]\npriority=9", "alarms.feed.priority is 9; use 1 (gravest), 2 or 3"),
        ("[alarms.shadows]\non_delay=-1", "alarms.shadows.on_delay is -1; it must not be negative"),
        ("[feed\n", "not valid TOML"),
    ],
)
def test_mistakes_are_told_in_one_line(text: str, says: str) -> None:
    assert says in refused(text)


def test_asked_file_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="No such file"):
        load(tmp_path / "none.toml")


def test_own_file_may_be_missing_and_is_found_by_xdg(tmp_path: Path) -> None:
    env = {"XDG_CONFIG_HOME": str(tmp_path)}
    assert load(None, env) == Settings()
    path = operator_file(env)
    path.parent.mkdir(parents=True)
    path.write_text("[sound]\noutlet = 'off'\n")
    assert load(None, env).sound.outlet == "off"


def test_not_text(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="not UTF-8 text"):
        load(path)


def test_a_picture_given_by_mistake_is_not_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "clip.mov"
    path.write_bytes(bytes(2 << 20))
    with pytest.raises(SettingsError, match="too large"):
        load(path)


def test_a_folder_given_by_mistake(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="Is a directory"):
        load(tmp_path)


def test_shipped_defaults_say_what_the_program_does() -> None:
    """The documented file and the program's own defaults must not drift apart."""
    from analysis.alarm.defaults import DEFAULT_RULES

    settings = load(shipped("configs") / "default.toml")
    assert settings.sound == Settings().sound and settings.screen == Settings().screen
    assert settings.meter == Settings().meter and settings.feed == Settings().feed
    for rule in DEFAULT_RULES:
        limits = getattr(settings.alarms, rule.name)
        for key in ("limit", "clear", "on_delay", "off_delay", "priority"):
            written = getattr(limits, key)
            if written is not None:
                assert written == getattr(rule, key), f"{rule.name}.{key}"
