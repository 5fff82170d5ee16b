"""What comes in at a device's connector: input status and digital timings."""

from __future__ import annotations

import msgspec

from analysis.feed.v4l2.structures import DvTimings, Input

IN_CAP_DV_TIMINGS = 0x2

_TROUBLE = {
    0x1: "no power",
    0x2: "no signal",
    0x100: "no horizontal lock",
    0x400: "no vertical lock",
    0x800: "no lock to the standard",
    0x10000: "no lock",
    0x40000: "no carrier",
}
"""Bits of v4l2_input.status which mean that no valid picture comes in (colour and flip bits are left out)."""


class Connector(msgspec.Struct, frozen=True, kw_only=True):
    """One input of a device: its name, whether it carries digital timings (HDMI, SDI), and what is wrong with it."""

    index: int
    name: str
    timings: bool
    trouble: str = ""

    @property
    def status(self) -> str:
        """The state in words, never empty."""
        return self.trouble or "ok"


class Timings(msgspec.Struct, frozen=True, kw_only=True):
    """Size and rate of a digital video signal; ``rate`` in frames a second, None when it cannot be computed."""

    width: int
    height: int
    interlaced: bool
    pixelclock: int
    rate: float | None

    def text(self) -> str:
        """The signal in words.

        >>> Timings(width=1280, height=720, interlaced=False, pixelclock=74250000, rate=60.0).text()
        '1280x720 at 60 Hz'
        """
        size = f"{self.width}x{self.height}{' interlaced' if self.interlaced else ''}"
        return size if self.rate is None else f"{size} at {self.rate:g} Hz"


def connector_of(raw: Input) -> Connector:
    """The connector a driver described."""
    return Connector(
        index=int(raw.index),
        name=bytes(raw.name).decode("utf-8", "replace").strip(),
        timings=bool(raw.capabilities & IN_CAP_DV_TIMINGS),
        trouble=", ".join(words for bit, words in _TROUBLE.items() if raw.status & bit),
    )


def timings_of(raw: DvTimings) -> Timings:
    """The signal a driver described: rate is the pixel clock over all pixels of a frame, blanking included."""
    bt = raw.u.bt
    interlaced = bool(bt.interlaced)
    across = bt.width + bt.hfrontporch + bt.hsync + bt.hbackporch
    down = bt.height + bt.vfrontporch + bt.vsync + bt.vbackporch
    if interlaced:
        down += bt.il_vfrontporch + bt.il_vsync + bt.il_vbackporch
    rate = round(bt.pixelclock / (across * down), 3) if across * down and bt.pixelclock else None
    return Timings(
        width=int(bt.width), height=int(bt.height), interlaced=interlaced, pixelclock=int(bt.pixelclock), rate=rate
    )
