"""The signs of sound devices and servers differ exactly when something came, went or was made anew."""

from __future__ import annotations

import socket
from pathlib import Path

from analysis.output.sound_signs import signs


def test_nothing_there_is_no_sign_and_no_fault(tmp_path: Path) -> None:
    assert signs({}, tmp_path / "none") == ()
    assert signs({"XDG_RUNTIME_DIR": str(tmp_path / "none")}, tmp_path / "none") == ()


def test_a_device_that_goes_and_comes_is_seen_each_time(tmp_path: Path) -> None:
    card = tmp_path / "pcmC0D0p"
    seen = [signs({}, tmp_path)]
    card.touch()
    seen.append(signs({}, tmp_path))
    assert signs({}, tmp_path) == seen[-1], "looking changes nothing"
    card.unlink()
    assert signs({}, tmp_path) == seen[0]
    card.touch(mode=0o600)
    card.chmod(0o666)
    assert signs({}, tmp_path) not in seen, "another node of the same name"


def test_a_server_that_starts_is_seen(tmp_path: Path) -> None:
    environment = {"XDG_RUNTIME_DIR": str(tmp_path)}
    before = signs(environment, tmp_path / "none")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "pipewire-0"))
        assert signs(environment, tmp_path / "none") != before
