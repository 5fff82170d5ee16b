"""A running stream of one device in one settled format: from filled buffers to pictures."""

from __future__ import annotations

import numpy as np

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.v4l2.buffers import Buffers, Filled
from analysis.feed.v4l2.colour import encoding_of
from analysis.feed.v4l2.device import Device
from analysis.feed.v4l2.fourcc import NATIVE, NativeFormat, cuts, needed, view
from analysis.feed.v4l2.jpeg import JpegDecoder
from analysis.feed.v4l2.modes import Choice, choose
from analysis.feed.v4l2.offers import modes
from analysis.feed.v4l2.setting import Setting
from analysis.model.errors import FeedCorrupt, FeedGone, FeedUnreadable
from analysis.model.frame import FrameFormat, Picture, Plane

_JPEG_LAYOUT = "yuvj422p"
"""What a JPEG device is taken to send until its first picture is decoded; only the encoding is kept of it."""


class Stream:
    """Settles a format, starts the buffers and turns them into pictures.

    ``sequence`` is the number the first picture gets, so that counting goes on after a change of size. Everything may
    raise OSError and FeedError.
    """

    def __init__(self, device: Device, options: FeedOptions, pool: FramePool, address: str, sequence: int = 0) -> None:
        self._options, self._pool, self._address = options, pool, address
        choice = choose(modes(device), options, address)
        device.ask_format(choice.mode.fourcc, choice.mode.width, choice.mode.height)
        self._rate = device.ask_rate(choice.rate) or choice.rate
        self._setting = setting = device.setting()
        self._native = _checked(choice, setting, address)
        self._jpeg = JpegDecoder(pool) if self._native.compressed else None
        self._cuts = () if self._jpeg else cuts(self._native, setting.width, setting.height, setting.bytesperline)
        self._needed = needed(self._cuts, self._native) if self._cuts else 0
        if self._needed > setting.sizeimage:
            what = f"the device announces {setting.sizeimage} bytes a picture where {self._needed} are due"
            raise FeedUnreadable(what, address)
        self.format = self._format(_JPEG_LAYOUT if self._jpeg else self._native.layout, setting.width, setting.height)
        self._first = sequence
        self._base: int | None = None
        self._buffers = Buffers(device.fd, device.buffer_type)
        try:
            self._buffers.start()
        except OSError:
            self.stop()
            raise

    def stop(self) -> None:
        """Stop the stream and free its buffers; may be called twice."""
        self._buffers.release()

    def take(self, trouble: bool = False) -> Picture | None:
        """The oldest waiting picture, None when there is none; ``trouble`` says that poll reported an error.

        Raises FeedCorrupt for a damaged one: the next may be good.
        """
        try:
            filled = self._buffers.take()
        except BlockingIOError:
            if trouble:
                raise FeedGone("the device reports an error", self._address, "check the plug and the cable") from None
            return None
        try:
            return self._picture(filled)
        finally:
            self._buffers.give_back(filled.index)

    def _picture(self, filled: Filled) -> Picture:
        if self._base is None:
            self._base = filled.sequence
        if self._jpeg is not None:
            planes = self._decoded(self._jpeg, filled)
        else:
            self._refuse_wrong_size(filled)
            planes = self._copied(filled)
        return Picture(
            planes=planes,
            format=self.format,
            source_sequence=self._first + filled.sequence - self._base,
            source_seconds=filled.seconds,
            corrupt=filled.corrupt,
        )

    def _copied(self, filled: Filled) -> tuple[Plane, ...]:
        memory = self._buffers.memory(filled)
        copies: list[Plane] = []
        for cut in self._cuts:
            lines = view(memory, cut, self._native)
            copy = self._pool.take(cut.shape, lines.dtype.newbyteorder("="))
            np.copyto(copy, lines)
            copies.append(copy)
        return tuple(copies)

    def _decoded(self, jpeg: JpegDecoder, filled: Filled) -> tuple[Plane, ...]:
        if filled.corrupt:
            raise FeedCorrupt("the driver marked a picture as damaged", self._address)
        data = self._buffers.memory(filled)[: filled.used].tobytes()
        name, width, height, planes = jpeg.decode(data, self._address)
        if (name, width, height) != (self.format.layout, self.format.width, self.format.height):
            self.format = self._format(name, width, height)
        return planes

    def _refuse_wrong_size(self, filled: Filled) -> None:
        if not self._needed <= filled.used <= max(self._setting.sizeimage, self._needed):
            how = "short" if filled.used < self._needed else "long"
            what = f"a picture is too {how}: {filled.used} bytes where {self._needed} are due"
            raise FeedCorrupt(what, self._address)

    def _format(self, layout: str, width: int, height: int) -> FrameFormat:
        setting = self._setting
        encoding = encoding_of(layout, setting.colorspace, setting.ycbcr_enc, setting.quantization, self._options)
        return FrameFormat(layout=layout, width=width, height=height, encoding=encoding, rate=self._rate)


def _checked(choice: Choice, setting: Setting, address: str) -> NativeFormat:
    asked = (choice.mode.fourcc, choice.mode.width, choice.mode.height)
    taken = (setting.fourcc, setting.width, setting.height)
    if asked != taken:
        what = f"the device took {taken[0]} {taken[1]}x{taken[2]} where {asked[0]} {asked[1]}x{asked[2]} was asked"
        raise FeedUnreadable(what, address, "ask for another size or layout")
    if setting.memory_planes != 1:
        what = f"the device spreads {setting.fourcc} over {setting.memory_planes} memory planes, which is not supported"
        raise FeedUnreadable(what, address, "ask for another layout")
    return NATIVE[setting.fourcc]
