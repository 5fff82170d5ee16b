"""The contract between a source of pictures and the supervisor that drives it."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

import msgspec

from analysis.model.feed import SourceKind
from analysis.model.frame import Matrix, Origin, Picture, Range


class FeedOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What the operator asks of a feed; None leaves it to the feed's own tags or best format.

    ``width``, ``height`` in pixels, ``rate`` in frames a second; ``realtime`` plays a file
    at its own pace, otherwise as fast as it is read; ``loop`` starts a file again at its end.
    ``layout`` asks a device for one native pixel format by FFmpeg's name. ``said`` is who says
    ``curve``, ``range`` and ``matrix``: the operator, or a line-up that was kept.
    """

    width: int | None = None
    height: int | None = None
    rate: float | None = None
    layout: str | None = None
    curve: str | None = None
    range: Range | None = None
    matrix: Matrix | None = None
    realtime: bool = True
    loop: bool = False
    said: Origin = "asked"
    open_seconds: float | None = None
    read_seconds: float | None = None


@runtime_checkable
class Source(Protocol):
    """Something that delivers pictures, driven by one reader thread at a time.

    ``open`` and ``read`` may block for as long as the system lets them: the supervisor
    holds the deadline outside and abandons the whole object when it passes. All three
    raise only :class:`analysis.model.errors.FeedError`. A source is opened once; to open
    again, a new one is made.
    """

    kind: SourceKind
    address: str
    approximate: bool

    def open(self) -> None:
        """Open the source; returns when pictures may be read."""

    def read(self) -> Picture:
        """The next picture. Raises FeedEnded at the regular end, FeedCorrupt for one bad frame."""

    def close(self) -> None:
        """Let go of everything; may be called twice and from another thread."""
