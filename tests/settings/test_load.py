"""Configuration: every mistake is one line that names the place and the way out."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from analysis.alarm.rule import AlarmRule
from analysis.model.errors import SettingsError
from analysis.settings.load import load, operator_file, parse
from analysis.settings.places import shipped
from analysis.settings.rules import alarm_rules
from analysis.settings.schema import AlarmSettings, Settings


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
        ("[zzzz]\na=1", "unknown key zzzz; known: aims, alarms, feed, "),
        ("feed = 3", "feed must be a table; write [feed]"),
        ("[feed]\nrange='wide'", "feed.range: Invalid enum value 'wide'"),
        ("[feed]\nwidth='wide'", "feed.width: Expected `int | null`, got `str`"),
        ("[feed]\nrate=-1", "feed.rate is -1; it must be above zero"),
        ("[screen]\nrate=500", "screen.rate is 500; 30 updates a second is the most"),
        ("[sound]\nmute_minutes=90", "sound.mute_minutes is 90; 60 minutes is the most"),
        ("[alarms.feed]\npriority=9", "alarms.feed.priority is 9; use 1 (gravest), 2 or 3"),
        ("[alarms.skin-lo]\nlimit=1", 'unknown key alarms.skin-lo; did you mean "skin-low"?'),
        ("[alarms.skin_low]\nlimit=1", 'unknown key alarms.skin_low; did you mean "skin-low"?'),
        ("[alarms.disk]\nrepeat=-1", "alarms.disk.repeat is -1; it must not be negative"),
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
        limits = settings.alarms.of(rule.name)
        assert limits.enabled
        for key in ("limit", "clear", "on_delay", "off_delay", "priority", "self_clearing", "often", "words", "advice"):
            assert getattr(limits, key) == getattr(rule, key), f"{rule.name}.{key}"
    assert alarm_rules(settings.alarms) == alarm_rules(Settings().alarms) == DEFAULT_RULES


def test_every_alarm_can_be_set_and_no_others() -> None:
    from analysis.alarm.defaults import DEFAULT_RULES

    known = [field.encode_name for field in msgspec.structs.fields(AlarmSettings)]
    assert sorted(known) == sorted(rule.name for rule in DEFAULT_RULES)
    for name in known:
        settings = parse(f"[alarms.{name}]\nenabled = false", "x")
        left = {rule.name for rule in alarm_rules(settings.alarms)}
        assert left == set(known) - {name}


def changed_rule(text: str, alarm: str) -> AlarmRule:
    return next(rule for rule in alarm_rules(parse(text, "x").alarms) if rule.name == alarm)


def test_one_number_is_enough_to_move_a_limit_either_way() -> None:
    assert changed_rule("[alarms.skin-low]\nlimit = 0.25", "skin-low").clear == pytest.approx(0.15)
    assert changed_rule("[alarms.skin-low]\nlimit = 0.8", "skin-low").clear == 0.3
    # The disk's rises as the number falls: its clear level lies above.
    assert changed_rule("[alarms.disk]\nlimit = 20", "disk").clear == pytest.approx(25.0)
    assert changed_rule("[alarms.disk]\nlimit = 1", "disk").clear == 2.5


def test_latching_and_repeat_reach_the_rule() -> None:
    rule = changed_rule("[alarms.highlights]\nlatching = true\nrepeat = 30", "highlights")
    assert rule.latching and not rule.self_clearing and rule.repeat_seconds == 30.0
    assert changed_rule("[alarms.feed]\nrepeat = 0", "feed").repeat_seconds is None
    assert changed_rule("", "feed").repeat_seconds == 60.0
    assert changed_rule("[alarms.shadows]\npriority = 1", "shadows").repeat_seconds == 60.0


def test_coming_and_going_words_and_advice_reach_the_rule() -> None:
    rule = changed_rule("[alarms.highlights]\noften = 5\ncalm = 120\nwords = 'sky gone'\nadvice = 'ND'", "highlights")
    assert (rule.often, rule.calm, rule.words, rule.advice) == (5, 120.0, "sky gone", "ND")
    assert changed_rule("[alarms.highlights]\noften = 0", "highlights").often == 0
    assert changed_rule("[alarms.feed]\noften = 4", "feed").often == 4
    slow = changed_rule("[alarms.highlights]\noff_delay = 900", "highlights")
    assert (slow.off_delay, slow.calm) == (900.0, 900.0), "one number is enough"


@pytest.mark.parametrize(
    "text,says",
    [
        ("[alarms.dark]\noften = 1", "dark: often 1 is neither 0 (every rise is told) nor 2 or more"),
        ("[alarms.dark]\ncalm = 1", "dark: calm 1 is shorter than off_delay 2"),
        ("[alarms.dark]\nwords = ''", "dark: name and words must say something"),
        ("[alarms.dark]\nlimit = 3", "alarms.dark: dark is there or not there; it has no limit to set"),
        ("[alarms.disk]\nlimit = 3\nclear = 1", "alarms.disk: disk: clear 1 is below limit 3"),
        ("[alarms.highlights]\nclear = 9", "alarms.highlights: highlights: clear 9 is above limit 1"),
        ("[alarms.noise]\nlatching=true\nself_clearing=true", "an alarm that latches cannot clear by itself"),
    ],
)
def test_limits_that_contradict_each_other_are_told(text: str, says: str) -> None:
    with pytest.raises(SettingsError) as caught:
        alarm_rules(parse(text, "x").alarms)
    assert says in caught.value.line()


def test_speech_and_notifications_are_chosen_by_themselves_and_can_be_changed() -> None:
    assert (Settings().sound.speech, Settings().sound.notify) == ("auto", "auto")
    changed = parse("[sound]\nspeech = 'asked'\nnotify = 'osc99'", "x").sound
    assert (changed.speech, changed.notify) == ("asked", "osc99")
    assert "sound.speech" in refused("[sound]\nspeech = 'loud'")
    assert "sound.notify" in refused("[sound]\nnotify = 'osc8'")
