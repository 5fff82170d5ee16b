"""Holds as files: what is kept comes back whole; what is not a hold of this program is refused in one line."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.exposure.match import difference
from analysis.exposure.match_light import pixels_of
from analysis.model.controls import Controls
from analysis.model.errors import SettingsError
from analysis.model.hold import Hold, SmallPicture
from analysis.model.instant import Instant
from analysis.settings.hold_files import (
    LARGEST_SIDE,
    MOST_HOLDS,
    hold_path,
    load_hold,
    load_holds,
    load_named,
    parse_hold,
    save_hold,
    to_json,
)
from analysis.settings.setup_files import usable_file_name
from analysis.settings.text_files import LARGEST
from tests.exposure.outdoors import OUTDOORS, reading

HOLD = Hold(
    name="bench by the doors",
    at=Instant(77.5, 1_790_000_000.25),
    feed="scene:boathouse",
    reading=reading(0.8, *OUTDOORS, background=-1.0),
    picture=SmallPicture(width=4, height=2, rgb=bytes(range(24))),
    controls=Controls(nd_stops=6.0, t_stop=2.8, key_percent=40.0),
)


def changed(**parts: Any) -> str:
    """The file of the hold with some of its keys replaced; a dotted key goes down, None takes it away."""
    raw = json.loads(to_json(HOLD))
    for key, value in parts.items():
        *above, last = key.split("__")
        inner = raw
        for name in above:
            inner = inner[name]
        if value is None:
            del inner[last]
        else:
            inner[last] = value
    return json.dumps(raw)


def refusal(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parse_hold(text, "bench.json")
    line = caught.value.line()
    assert line.startswith("bench.json: ") and "\n" not in line and line.isprintable()
    return line


def test_what_is_kept_comes_back_whole(tmp_path: Path) -> None:
    path = tmp_path / "holds" / "bench.json"
    save_hold(HOLD, path)
    found = load_hold(path)
    assert found.at == Instant(0.0, HOLD.at.utc), "the monotonic clock of another session means nothing"
    assert msgspec.structs.replace(found, at=HOLD.at) == HOLD
    pixels = pixels_of(found.picture)
    assert pixels is not None and pixels.ravel().tolist() == list(range(24))
    same = difference(found.reading, HOLD.reading)
    assert same.sitter is not None and same.sitter.stops == 0.0


def test_the_form_of_the_file() -> None:
    raw = json.loads(to_json(HOLD))
    assert raw["stopkeeper_hold"] == 1
    assert set(raw) == {"stopkeeper_hold", "name", "at", "feed", "reading", "picture", "controls"}
    assert raw["picture"]["rgb"] == "AAECAwQFBgcICQoLDA0ODxAREhMUFRYX"  # RFC 4648, section 4: base64
    assert raw["reading"]["encoding"]["curve"] == "acescct"
    assert to_json(HOLD).endswith("}\n")


def test_a_hold_without_picture_and_controls(tmp_path: Path) -> None:
    bare = Hold(name="bare", at=Instant(0.0, 5.0), feed="", reading=HOLD.reading)
    assert parse_hold(to_json(bare), "bare.json") == bare
    assert parse_hold(changed(picture=None, controls=None), "x").picture is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ("[1, 2]", "not a hold; keep one with k in the watch"),
        ("3", "not a hold"),
        ('{"sequence": 1}', "not a hold"),
        (changed(stopkeeper_hold=2), "a hold of form 2; this program reads form 1"),
        (changed(stopkeeper_hold="one"), "a hold of form one; this program reads form 1"),
        (changed(mood="low"), "unknown key mood"),
        (changed(reading__sharpness=4), "unknown key reading.sharpness"),
        (changed(reading__encoding__gamut="wide"), "unknown key reading.encoding.gamut"),
        (changed(controls__tint=3), "unknown key controls.tint"),
        (changed(name=None), "missing required field `name`"),
        (changed(name="../passwd"), '"../passwd" is not a usable name'),
        (changed(name=""), '"" is not a usable name'),
        (changed(name="x" * 65), "is not a usable name; use 1 to 64 letters"),
        (changed(reading=4), "reading: Expected `object`, got `int`"),
        (changed(reading__validity="superb"), "reading.validity: Invalid enum value 'superb'"),
        (changed(picture__width=5), "picture.rgb has 24 bytes, not those of 5x2"),
        (changed(picture__width=0), "picture of 0x2"),
        (changed(picture__height=LARGEST_SIDE + 1), "320 pixels a side are the most"),
        (changed(picture__rgb="###"), "picture.rgb: Invalid base64 encoded string"),
        (changed(reading__spread__step=0.0), "reading.spread is no table of stops"),
        (changed(reading__spread__counts=[0.0] * 3000), "reading.spread is no table of stops"),
        (changed(reading__peaks__counts=[]), "reading.peaks is no table of stops"),
        (changed(reading__picture__active=[0, 0, 0, 0]), "reading.picture has no size"),
        (changed(feed="a\x1b[2Jb"), "feed is no address"),
        (changed(feed="x" * 2000), "feed is no address"),
    ],
)
def test_what_is_wrong_is_one_line(text: str, words: str) -> None:
    assert words in refusal(text)


def test_a_crowd_beyond_all_bounds_is_refused() -> None:
    sitters = json.loads(to_json(HOLD))["reading"]["sitters"] * 65
    assert "more than 64 sitters or spots" in refusal(changed(reading__sitters=sitters))


def test_keys_out_of_a_terminals_nightmares_are_made_harmless() -> None:
    assert "\x1b" not in refusal(changed(**{"\x1b[2J": 1}))


def test_nested_beyond_reason_is_refused() -> None:
    assert "JSON" in refusal("[" * 100_000 + "]" * 100_000)


@given(st.text(max_size=80))
def test_any_text_is_a_hold_or_one_line(text: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_hold(text, "x.json")
    assert "\n" not in caught.value.line()


@given(st.integers(0, 4000), st.binary(min_size=1, max_size=3))
def test_a_damaged_file_is_a_hold_or_one_line(place: int, damage: bytes) -> None:
    raw = to_json(HOLD).encode()
    place = min(place, len(raw) - 1)
    broken = (raw[:place] + damage + raw[place + len(damage) :]).decode("utf-8", "replace")
    try:
        assert parse_hold(broken, "x.json").name
    except SettingsError as error:
        assert "\n" not in error.line()


@pytest.mark.parametrize("name", ["hold 3 14.05", "Ufer-Süd", "a", "2"])
def test_names_that_can_be_files(name: str) -> None:
    assert usable_file_name(name, "hold") == name


@pytest.mark.parametrize("name", ["", " ", ".hidden", "a/b", "a\\b", "14:05", "a\nb/", "-x", "trail.", "nul\0"])
def test_names_that_cannot(name: str) -> None:
    with pytest.raises(SettingsError, match="is not a usable name"):
        hold_path(name, {"XDG_STATE_HOME": "/s"})


def test_the_folder_follows_the_state_home() -> None:
    assert hold_path("a", {"HOME": "/home/me"}).as_posix() == "/home/me/.local/state/stopkeeper/holds/a.json"


def test_a_folder_of_holds_newest_first(tmp_path: Path) -> None:
    for number, utc in ((1, 100.0), (2, 300.0), (3, 200.0)):
        one = msgspec.structs.replace(HOLD, name=f"hold {number}", at=Instant(0.0, utc))
        save_hold(one, tmp_path / f"hold {number}.json")
    (tmp_path / "notes.txt").write_text("not ours")
    (tmp_path / ".hold 9.json.x1y2").write_text("left over from a crash")
    (tmp_path / ".hold 8.json").write_text("hidden")
    found = load_holds(tmp_path)
    assert [each.name for each in found.holds] == ["hold 2", "hold 3", "hold 1"]
    assert found.troubles == ()


def test_one_bad_file_is_told_and_not_in_the_way(tmp_path: Path) -> None:
    save_hold(HOLD, tmp_path / "bench by the doors.json")
    (tmp_path / "torn.json").write_text(to_json(HOLD)[:500])
    (tmp_path / "huge.json").write_bytes(b" " * (LARGEST + 1))
    found = load_holds(tmp_path)
    assert [each.name for each in found.holds] == [HOLD.name]
    assert len(found.troubles) == 2
    assert all("\n" not in line for line in found.troubles)
    assert any("torn.json: not JSON" in line for line in found.troubles)


def test_a_file_that_was_copied_or_renamed_goes_by_its_own_name(tmp_path: Path) -> None:
    for name in ("bench.json", "bench again.json"):
        save_hold(HOLD, tmp_path / name)
    assert {each.name for each in load_holds(tmp_path).holds} == {"bench", "bench again"}
    env = {"XDG_STATE_HOME": str(tmp_path)}
    save_hold(HOLD, hold_path("other", env))
    assert load_named("other", env).name == "other"


def test_two_names_that_differ_only_in_capitals_are_told(tmp_path: Path) -> None:
    for name in ("bench.json", "Bench.json"):
        save_hold(HOLD, tmp_path / name)
    found = load_holds(tmp_path)
    if len(list(tmp_path.iterdir())) == 1:
        pytest.skip("this file system does not tell capitals apart")
    assert len(found.holds) == 1 and "there are two holds" in found.troubles[0].casefold()


def test_a_file_name_that_no_hold_may_have_is_told(tmp_path: Path) -> None:
    save_hold(HOLD, tmp_path / "a+b.json")
    assert '"a+b" is not a usable name' in load_holds(tmp_path).troubles[0]


def test_of_too_many_the_newest_are_taken_up(tmp_path: Path) -> None:
    small = msgspec.structs.replace(HOLD, picture=None)
    for number in range(MOST_HOLDS + 2):
        one = msgspec.structs.replace(small, name=f"hold {number}", at=Instant(0.0, float(number)))
        (tmp_path / f"hold {number}.json").write_text(to_json(one))
    found = load_holds(tmp_path)
    assert len(found.holds) == MOST_HOLDS and found.holds[0].name == "hold 101"
    assert "of which the newest 100 are taken up" in found.troubles[0]


def test_no_folder_holds_nothing(tmp_path: Path) -> None:
    assert load_holds(tmp_path / "nowhere") == ((), ())


def test_by_name_with_the_nearest_one_where_there_is_none(tmp_path: Path) -> None:
    env = {"XDG_STATE_HOME": str(tmp_path)}
    with pytest.raises(SettingsError, match="no hold bench; there are none yet: keep one with k in the watch"):
        load_named("bench", env)
    save_hold(HOLD, hold_path(HOLD.name, env))
    assert load_named("bench by the doors", env).name == HOLD.name
    with pytest.raises(SettingsError, match='no hold bench by the door; did you mean "bench by the doors"'):
        load_named("bench by the door", env)


def test_a_file_nobody_may_read_is_told(tmp_path: Path) -> None:
    path = tmp_path / "bench.json"
    save_hold(HOLD, path)
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("whoever runs this may read everything")
    assert "Permission denied" in load_holds(tmp_path).troubles[0]
