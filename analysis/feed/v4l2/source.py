"""A Linux capture device as a source of pictures, in the device's own pixel format."""

from __future__ import annotations

import errno
import os
import select
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions
from analysis.feed.v4l2.device import Device
from analysis.feed.v4l2.failures import failure
from analysis.feed.v4l2.identity import REMEMBERED, Memory, identity_of
from analysis.feed.v4l2.signals import Connector, timings_of
from analysis.feed.v4l2.stream import Stream
from analysis.model.errors import FeedGone, FeedSilent, NoSignal
from analysis.model.feed import SourceKind
from analysis.model.frame import Picture

SILENT_AFTER = 1.0
SILENT_INTERVALS = 8.0
"""Without a picture a read gives up after a second, or after eight frame intervals of a slow camera."""
LOOK_EVERY = 0.25
"""Seconds between two looks at the input status: drivers go on delivering noise when the signal is gone."""

CLOSE_SECONDS = 1.0
"""Seconds that closing waits for a call going on in another thread."""

_UNANSWERED = (errno.ENOTTY, errno.EINVAL, errno.ENODATA, errno.EBUSY, errno.EAGAIN, errno.EPERM)


class V4L2Source:
    """Pictures of ``/dev/videoN`` or ``/dev/v4l/by-id/…``, planes copied out of the kernel's buffers.

    ``kind`` is "hdmi" on an input with digital timings, else "camera"; it is settled by :meth:`open`. A change of the
    signal's size is followed within :meth:`read`: the next picture simply has another format. While the input has no
    signal every :meth:`read` raises NoSignal; pictures that arrived meanwhile are thrown away when it is back.
    """

    kind: SourceKind = "camera"
    approximate = False

    def __init__(self, address: str, options: FeedOptions, pool: FramePool, memory: Memory = REMEMBERED) -> None:
        self.address = address
        self._options = options
        self._pool = pool
        self._memory = memory
        self._lock = threading.Lock()
        self._wake, self._wake_lock = -1, threading.Lock()
        self._closing = False
        self._device: Device | None = None
        self._stream: Stream | None = None
        self._connector: Connector | None = None
        self._look_at = 0.0
        self._sequence = 0

    def open(self) -> None:
        """Find the camera, settle its format and start it. Raises FeedError; waits for no picture."""
        with self._lock, self._told("opening"):
            try:
                self._wake = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
                device = self._device = Device(self._memory.resolve(self.address))
                device.require_capture()
                identity = identity_of(device.fd)
                known = self._memory.known(self.address)
                if known is not None and identity is not None and not known.same_camera(identity):
                    raise FeedGone(f"another camera, {identity.name}, is there instead of {known.name}", self.address)
                self._memory.learn(self.address, identity)
                self._start(device)
                self._opened()
            except BaseException:
                self._release()
                raise

    def read(self) -> Picture:
        """The next picture. Raises FeedSilent, NoSignal, FeedCorrupt or FeedGone, in words."""
        with self._lock:
            try:
                with self._told("reading"):
                    return self._next(self._opened())
            finally:
                if self._closing:
                    self._release()

    def close(self) -> None:
        """Let go of the device; a read going on in another thread ends first, at once."""
        self._closing = True
        with self._wake_lock:
            if self._wake >= 0:
                os.eventfd_write(self._wake, 1)
        # a driver that hangs inside the kernel keeps the lock: its reader lets go when it comes back
        if self._lock.acquire(timeout=CLOSE_SECONDS):
            try:
                self._release()
            finally:
                self._lock.release()

    # --- inside the lock --------------------------------------------------------------------------------------------

    def _opened(self) -> Device:
        if self._device is None or self._closing:
            raise FeedGone("the feed is closed", self.address)
        return self._device

    def _start(self, device: Device) -> None:
        connector = self._connector = device.current_input()
        if connector is not None:
            self.kind = "hdmi" if connector.timings else "camera"
            self._refuse(connector)
            if connector.timings and self._signal_differs(device):
                self._adopt(device)
            device.watch_source(connector.index)
        self._stream = Stream(device, self._options, self._pool, self.address, self._sequence)
        self._look_at = time.monotonic() + LOOK_EVERY

    def _next(self, device: Device) -> Picture:
        seconds = self._patience()
        deadline = time.monotonic() + seconds
        while True:
            stream = self._stream
            if stream is None:
                self._resume(device)
                continue
            now = time.monotonic()
            if now >= self._look_at or now >= deadline:
                self._look(device)
                if self._stream is None:
                    continue
            if now >= deadline:
                raise FeedSilent(f"no picture for {seconds:g} s", self.address, "check the camera")
            bits = device.wait(min(deadline, self._look_at) - now, self._wake)
            if self._closing:
                raise FeedGone("the feed is closed", self.address)
            if bits & select.POLLPRI and device.source_changed():
                self._look(device)
                continue
            picture = stream.take(bool(bits & (select.POLLERR | select.POLLHUP))) if bits else None
            if picture is not None:
                self._sequence = (picture.source_sequence or 0) + 1
                return picture

    def _patience(self) -> float:
        if self._options.read_seconds is not None:
            return self._options.read_seconds
        rate = self._stream.format.rate if self._stream else None
        return max(SILENT_AFTER, SILENT_INTERVALS / rate) if rate else SILENT_AFTER

    def _resume(self, device: Device) -> None:
        """Start again once the pause since the last look is over, or end at once when the feed is closed."""
        pause = select.poll()
        pause.register(self._wake, select.POLLIN)
        pause.poll(max(0.0, (self._look_at - time.monotonic()) * 1000))
        self._opened()
        self._look_at = time.monotonic() + LOOK_EVERY
        self._start(device)

    def _look(self, device: Device) -> None:
        """Ask the connector how the signal is; stop the stream when there is none or another one."""
        self._look_at = time.monotonic() + LOOK_EVERY
        if self._connector is None:
            return
        connector = device.connector(self._connector.index)
        try:
            if connector is not None:
                self._refuse(connector)
            if self._connector.timings and self._signal_differs(device):
                self._stop()
        except NoSignal:
            self._stop()
            raise

    def _refuse(self, connector: Connector) -> None:
        if connector.trouble:
            what = f"the input {connector.name} has {connector.trouble}"
            raise NoSignal(what, self.address, "check the cable and the camera's output")

    def _signal_differs(self, device: Device) -> bool:
        try:
            found = timings_of(device.detect())
        except OSError as error:
            if error.errno in _UNANSWERED:
                return False  # this driver cannot tell, or not now
            raise failure(error, self.address, "looking at the signal") from error
        return found != device.timings()

    def _adopt(self, device: Device) -> None:
        found = device.detect()
        try:
            device.adopt(found)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ERANGE):
                raise
            what = f"the device cannot take the signal it sees, {timings_of(found).text()}"
            raise NoSignal(what, self.address, "set the camera's output to another format") from error

    def _stop(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.stop()

    def _release(self) -> None:
        self._stop()
        device, self._device = self._device, None
        if device is not None:
            device.close()
        with self._wake_lock:
            wake, self._wake = self._wake, -1
            if wake >= 0:
                os.close(wake)

    @contextmanager
    def _told(self, doing: str) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise failure(error, self.address, doing) from error
