"""These tests unload drivers and pull plugs: they run in the rig's guest only (``make device``)."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import pytest

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.v4l2.identity import Memory
from analysis.feed.v4l2.source import V4L2Source
from tests.device import vivid

if not os.environ.get("STOPKEEPER_RIG"):
    pytest.exit("tests/device runs only inside the rig: bash tests/device/rig.sh OUTDIR COMMAND", returncode=2)


@pytest.fixture(autouse=True)
def at_rest() -> None:
    """Every test starts with the driver in place, on its webcam input, showing 75 % bars without text."""
    vivid.put_right()
    vivid.choose_input(vivid.WEBCAM)
    vivid.control(vivid.AT_REST)


@pytest.fixture
def feed() -> Iterator[Callable[..., V4L2Source]]:
    """Makes opened sources of the camera and closes them afterwards."""
    made: list[V4L2Source] = []

    def make(address: str = vivid.CAMERA, memory: Memory | None = None, opened: bool = True, **asked) -> V4L2Source:
        small = {"width": 320, "height": 180} if asked.pop("small", True) else {}
        source = V4L2Source(address, FeedOptions(**{**small, **asked}), FramePool(), memory or Memory())
        made.append(source)
        if opened:
            source.open()
        return source

    yield make
    for source in made:
        source.close()
