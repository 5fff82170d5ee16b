"""Detection and false alarms on a small part of the grid of ``tests/bench/ceiling.py``, with limits that can fail."""

from __future__ import annotations

import pytest

from tests.measure.ceiling_scenes import Shot, ends

CODECS = {
    "8 bit": {},
    "10 bit": {"layout": "yuv422p10le"},
    "H.264": {"layout": "yuv420p", "codec": "x264", "quality": 23},
    "JPEG": {"codec": "mjpeg", "quality": 6},
}
LIMITS = {
    "94 IRE": {"level": 94.0},
    "83 IRE": {"level": 83.0},
    "clamped luma at 100": {"level": 100.0, "clamp": True},
    "full sensor in log": {"level": None, "curve": "acescct"},
}
CLIPPED = (("window", 1.0), ("wall", 30.0))


def levels(shot: Shot, curve: str | None = None) -> list[float]:
    return [end.ceiling.level for end in ends(shot, 9, curve=curve) if end.ceiling is not None]


def test_found_where_there_is_one_and_never_at_another_level() -> None:
    found = dict.fromkeys(CODECS, 0)
    for codec, coding in CODECS.items():
        for limit in LIMITS.values():
            for name, share in CLIPPED:
                shot = Shot(name=name, share=share, **coding, **limit)
                seen = levels(shot)
                assert all(abs(level - shot.true_level) <= 1.2 for level in seen), (shot, seen)
                found[codec] += bool(seen)
    whole = len(LIMITS) * len(CLIPPED)
    assert found["8 bit"] >= 0.9 * whole, found
    assert found["10 bit"] >= 0.9 * whole, found
    assert found["H.264"] >= 0.8 * whole, found
    assert found["JPEG"] >= 0.3 * whole, found


@pytest.mark.parametrize("codec", CODECS)
@pytest.mark.parametrize("curve", ["bt709", "acescct"])
def test_merely_bright_is_never_a_ceiling(codec: str, curve: str) -> None:
    names = ("sky", "clear sky", "wall", "card", "even card", "discs", "face", "dark", "glints")
    alarms = [
        name for number, name in enumerate(names)
        if levels(Shot(name=name, below=0.2 + 0.1 * (number % 3), curve=curve, seed=3 + number % 2, **CODECS[codec]),
                  curve if curve == "bt709" else None)
    ]  # fmt: skip
    assert alarms == []


@pytest.mark.parametrize("tint", [(1.0, 0.55, 0.3), (0.35, 0.6, 1.0)], ids=["red", "blue"])
@pytest.mark.parametrize("layout", ["yuv422p", "yuv420p", "yuv422p10le"])
def test_one_channel_alone(tint: tuple[float, float, float], layout: str) -> None:
    shot = Shot(name="window", share=4.0, level=94.0, tint=tint, layout=layout, over=0.3)
    last = ends(shot, 9)[-1].ceiling
    assert last is not None
    assert last.level == pytest.approx(94.0, abs=1.2)
    assert ("r" if tint[0] == 1.0 else "b") in last.channels
    assert "luma" not in last.channels


@pytest.mark.parametrize("black", [0.0, 3.0, 6.0])
def test_a_floor(black: float) -> None:
    last = ends(Shot(name="night", share=0.3, black=black), 9)[-1].floor
    assert last is not None
    assert last.level == pytest.approx(black, abs=0.6)
    assert last.share > 20.0


@pytest.mark.parametrize("name", ["dark", "window", "face"])
def test_shadows_above_the_floor_are_none(name: str) -> None:
    assert all(end.floor is None for end in ends(Shot(name=name, below=1.0), 9))


def test_a_picture_without_noise_anywhere_is_refused() -> None:
    drawn = Shot(name="flat card", below=0.5, noise=False, motion=0.0)
    assert levels(drawn) == []
