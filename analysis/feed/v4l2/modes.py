"""The pictures a device offers, and which one the watch takes."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from analysis.feed.source import FeedOptions
from analysis.feed.v4l2.fourcc import MJPEG, NATIVE, NativeFormat
from analysis.model.errors import FeedUnreadable

ENOUGH = 24.0
"""Frames a second below which a picture is not watched when the device has a faster one."""
LARGEST_WIDTH, LARGEST_HEIGHT = 1920, 1080


class Mode(msgspec.Struct, frozen=True, kw_only=True):
    """One pixel format at one size with its frame rates, fastest first (empty when the driver does not say)."""

    fourcc: str
    width: int
    height: int
    rates: tuple[float, ...] = ()

    @property
    def native(self) -> NativeFormat | None:
        """How the format is read, None for one this program cannot read."""
        return NATIVE.get(self.fourcc)

    @property
    def layout(self) -> str | None:
        """FFmpeg's name of the format, None for one this program cannot read."""
        return self.native.layout if self.native else None


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """The mode that was taken and the rate to ask for (None: the driver's own)."""

    mode: Mode
    rate: float | None


def choose(modes: Iterable[Mode], options: FeedOptions, address: str = "") -> Choice:
    """The mode the watch takes: what was asked, else the best that reaches 24 frames a second.

    Best is uncompressed before compressed, then the largest up to 1920x1080, then the format that keeps most
    (ten bits, 4:2:2, 4:2:0, grey), then the fastest. Raises FeedUnreadable naming what the device has instead.
    """
    offered = list(modes)
    readable = [mode for mode in offered if mode.native is not None]
    if not readable:
        names = ", ".join(sorted({mode.fourcc for mode in offered})) or "none"
        raise FeedUnreadable(f"none of the device's pixel formats can be read ({names})", address)
    fitting = _asked_layout(readable, options, address)
    fitting = _asked_size(fitting, options, address)
    best = max(fitting, key=lambda mode: _merit(mode, options))
    return Choice(mode=best, rate=_rate(best, options))


def _asked_layout(modes: list[Mode], options: FeedOptions, address: str) -> list[Mode]:
    if options.layout is None:
        return modes
    wanted = MJPEG if options.layout.startswith("yuvj") else options.layout
    found = [mode for mode in modes if mode.layout == wanted]
    if not found:
        names = ", ".join(sorted({str(mode.layout) for mode in modes}))
        raise FeedUnreadable(f"the device does not offer {options.layout}", address, f"it offers {names}")
    return found


def _asked_size(modes: list[Mode], options: FeedOptions, address: str) -> list[Mode]:
    found = [mode for mode in modes if options.width in (None, mode.width) and options.height in (None, mode.height)]
    if not found:
        asked = f"{options.width or 'any'}x{options.height or 'any'}"
        sizes = ", ".join(f"{w}x{h}" for w, h in sorted({(mode.width, mode.height) for mode in modes}))
        raise FeedUnreadable(f"the device has no picture of {asked}", address, f"it offers {sizes}")
    return found


def _merit(mode: Mode, options: FeedOptions) -> tuple[object, ...]:
    native = mode.native
    assert native is not None
    wanted = options.rate or ENOUGH
    fastest = max(mode.rates, default=wanted)
    fits = mode.width <= LARGEST_WIDTH and mode.height <= LARGEST_HEIGHT
    area = mode.width * mode.height
    # a tenth of tolerance: 59.94 is as good as 60, 23.976 as good as 24
    return (fastest > wanted - 0.1, not native.compressed, fits, area if fits else -area, native.rank, fastest)


def _rate(mode: Mode, options: FeedOptions) -> float | None:
    if not mode.rates:
        return options.rate
    if options.rate is None:
        return max((rate for rate in mode.rates if rate <= 60.5), default=min(mode.rates))
    return min(mode.rates, key=lambda rate: abs(rate - (options.rate or 0.0)))
