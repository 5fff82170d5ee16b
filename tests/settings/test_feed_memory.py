"""What a line-up settled is kept, whole, and a file somebody spoilt is one line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.errors import SettingsError
from analysis.model.frame import Encoding
from analysis.settings.feed_memory import SettledEncoding, keep, memory_file, settled

FULL = Encoding(bits=8, range="full", matrix="bt601", curve="hlg")


def env(path: Path) -> dict[str, str]:
    return {"XDG_CONFIG_HOME": str(path)}


def test_nothing_was_kept(tmp_path: Path) -> None:
    assert settled("/dev/video0", env(tmp_path)) is None


def test_each_feed_has_its_own(tmp_path: Path) -> None:
    keep("/dev/video0", FULL, env(tmp_path))
    keep("rtsp://***@lake.example/door", Encoding(bits=10, range="narrow", matrix="bt709"), env(tmp_path))
    assert settled("/dev/video0", env(tmp_path)) == SettledEncoding(range="full", matrix="bt601", curve="hlg")
    other = settled("rtsp://***@lake.example/door", env(tmp_path))
    assert other == SettledEncoding(range="narrow", matrix="bt709", curve=None)
    assert memory_file(env(tmp_path)).read_text().startswith("# Written by")


def test_lining_up_again_replaces_it(tmp_path: Path) -> None:
    keep("cam", FULL, env(tmp_path))
    keep("cam", Encoding(bits=8, range="narrow", matrix="bt709"), env(tmp_path))
    found = settled("cam", env(tmp_path))
    assert found is not None and found.range == "narrow"


@given(name=st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40))
def test_any_name_comes_back(name: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    place = env(tmp_path_factory.mktemp("kept"))
    keep(name, FULL, place)
    assert settled(name, place) is not None


@pytest.mark.parametrize(
    "text", ["[cam\n", "[cam]\nrange='wide'\nmatrix='bt709'\n", "[cam]\nrnge='full'\n", "cam = 3\n"]
)
def test_a_spoilt_file_is_one_line(text: str, tmp_path: Path) -> None:
    path = memory_file(env(tmp_path))
    path.parent.mkdir(parents=True)
    path.write_text(text)
    with pytest.raises(SettingsError) as caught:
        settled("cam", env(tmp_path))
    assert "delete it and line up again" in caught.value.line() and str(path) in caught.value.line()
