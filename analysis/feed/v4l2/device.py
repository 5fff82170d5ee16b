"""One opened capture device: what it is, what it is set to, what is on its connector."""

from __future__ import annotations

import ctypes
import errno
import os
import select

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.setting import Setting, setting_of, wish
from analysis.feed.v4l2.signals import Connector, Timings, connector_of, timings_of
from analysis.feed.v4l2.structures import (
    Capability,
    DvTimings,
    Event,
    EventSubscription,
    Format,
    Input,
    RequestBuffers,
    StreamParameters,
)
from analysis.model.errors import FeedUnreadable

_TODO = "stopkeeper feeds lists what there is"


class Device:
    """A file descriptor with the questions one may ask of it. Every method may raise OSError.

    The descriptor is non-blocking: nothing here waits for a picture except :meth:`wait`, which has a deadline.
    """

    def __init__(self, path: str) -> None:
        self.path = path
        self.fd = os.open(path, os.O_RDWR | os.O_NONBLOCK | os.O_CLOEXEC)
        self._capability = Capability()
        try:
            ioctls.call(self.fd, ioctls.QUERYCAP, self._capability)
        except OSError:
            self.close()
            raise

    def close(self) -> None:
        """Close the descriptor; may be called twice."""
        fd, self.fd = self.fd, -1
        if fd >= 0:
            os.close(fd)

    @property
    def card(self) -> str:
        """The device's own name."""
        return bytes(self._capability.card).decode("utf-8", "replace").strip()

    @property
    def bus(self) -> str:
        """Where the device sits, as the driver says."""
        return bytes(self._capability.bus_info).decode("utf-8", "replace").strip()

    @property
    def capabilities(self) -> int:
        """What this node can do (not what the whole device can)."""
        raw = self._capability
        return int(raw.device_caps if raw.capabilities & ioctls.CAP_DEVICE_CAPS else raw.capabilities)

    @property
    def is_capture(self) -> bool:
        """Whether pictures can be read here at all."""
        return bool(self.capabilities & (ioctls.CAP_VIDEO_CAPTURE | ioctls.CAP_VIDEO_CAPTURE_MPLANE))

    @property
    def buffer_type(self) -> int:
        """Which of the kernel's two capture interfaces this node speaks (enum v4l2_buf_type)."""
        single = bool(self.capabilities & ioctls.CAP_VIDEO_CAPTURE)
        return ioctls.BUF_TYPE_VIDEO_CAPTURE if single else ioctls.BUF_TYPE_VIDEO_CAPTURE_MPLANE

    def require_capture(self) -> None:
        """Raise FeedUnreadable unless this node delivers pictures in a way this program reads."""
        if not self.is_capture:
            raise FeedUnreadable("not a capture device", self.path, _TODO)
        if not self.capabilities & ioctls.CAP_STREAMING:
            raise FeedUnreadable("the device cannot stream into shared memory", self.path, "use another device")

    def current_input(self) -> Connector | None:
        """The connector in use, None where the driver knows none."""
        number = ctypes.c_int32()
        return self.connector(number.value) if self.may(ioctls.G_INPUT, number) else None

    def connector(self, index: int) -> Connector | None:
        """Connector ``index``, None when there are not that many."""
        raw = Input(index=index)
        return connector_of(raw) if self.may(ioctls.ENUMINPUT, raw) else None

    def detect(self) -> DvTimings:
        """The signal on the cable now. OSError ENOLINK, ENOLCK or ERANGE: none that can be used."""
        raw = DvTimings()
        ioctls.call(self.fd, ioctls.QUERY_DV_TIMINGS, raw)
        return raw

    def timings(self) -> Timings:
        """The signal the device is set up for."""
        raw = DvTimings()
        ioctls.call(self.fd, ioctls.G_DV_TIMINGS, raw)
        return timings_of(raw)

    def adopt(self, raw: DvTimings) -> None:
        """Set the device up for a detected signal."""
        ioctls.call(self.fd, ioctls.S_DV_TIMINGS, raw)

    def watch_source(self, connector: int) -> bool:
        """Ask for an event when the signal of a connector changes; False where the driver offers none."""
        return self.may(ioctls.SUBSCRIBE_EVENT, EventSubscription(type=ioctls.EVENT_SOURCE_CHANGE, id=connector))

    def source_changed(self) -> bool:
        """Whether a change of the signal was told since the last call; takes all waiting events."""
        event, changed = Event(), False
        while self.may(ioctls.DQEVENT, event, errno.ENOENT):
            changed |= event.type == ioctls.EVENT_SOURCE_CHANGE
        return changed

    def setting(self) -> Setting:
        """The format the device is set to."""
        raw = Format(type=self.buffer_type)
        ioctls.call(self.fd, ioctls.G_FMT, raw)
        return setting_of(raw)

    def ask_format(self, fourcc: str, width: int, height: int) -> None:
        """Ask for a format; drivers round silently, so :meth:`setting` must be read afterwards."""
        ioctls.call(self.fd, ioctls.S_FMT, wish(self.buffer_type, fourcc, width, height))

    def ask_rate(self, rate: float | None) -> float | None:
        """Ask for a frame rate and return the one the driver took; None where it cannot say."""
        raw = StreamParameters(type=self.buffer_type)
        if not self.may(ioctls.G_PARM, raw):
            return None
        interval = raw.parm.capture.timeperframe
        if rate is not None and raw.parm.capture.capability & ioctls.CAP_TIMEPERFRAME:
            interval.numerator, interval.denominator = 1000, round(rate * 1000)
            if not self.may(ioctls.S_PARM, raw):
                return None
        if not interval.numerator or not interval.denominator:
            return None
        return round(float(interval.denominator) / float(interval.numerator), 3)

    def is_held(self) -> bool:
        """Whether another program holds the device's buffers now."""
        try:
            for count in (1, 0):
                raw = RequestBuffers(count=count, type=self.buffer_type, memory=ioctls.MEMORY_MMAP)
                ioctls.call(self.fd, ioctls.REQBUFS, raw)
        except OSError as error:
            return error.errno == errno.EBUSY
        return False

    def wait(self, seconds: float, wake: int) -> int:
        """Wait for a buffer, an event or ``wake`` becoming readable; the device's poll bits, 0 for none of them."""
        waiting = select.poll()
        waiting.register(self.fd, select.POLLIN | select.POLLPRI)
        waiting.register(wake, select.POLLIN)
        return next((bits for fd, bits in waiting.poll(max(0.0, seconds * 1000)) if fd == self.fd), 0)

    def may(self, number: int, argument: ctypes.Structure | ctypes.c_int32, *quiet: int) -> bool:
        """Ask what a driver may not know: False for "not here" and "no more"; every other error is raised."""
        try:
            ioctls.call(self.fd, number, argument)
        except OSError as error:
            if error.errno in (errno.EINVAL, errno.ENOTTY, errno.ENODATA, *quiet):
                return False
            raise
        return True
