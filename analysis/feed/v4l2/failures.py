"""What the kernel's error numbers mean for a capture device, in words a person can act on."""

from __future__ import annotations

import errno
import os

from analysis.model.errors import FeedBusy, FeedError, FeedGone, FeedRefused, FeedUnreadable, NoSignal

NO_SIGNAL = {
    errno.ENOLINK: "no signal",
    errno.ENOLCK: "a signal that the device cannot lock to",
    errno.ERANGE: "a signal outside what the device can take",
}
"""Answers of VIDIOC_QUERY_DV_TIMINGS that speak about the cable, not about the device."""

_PLUG = "check the plug and the cable"


def failure(error: OSError, address: str, doing: str) -> FeedError:
    """The feed error for an OSError met while ``doing`` something with a device.

    >>> print(failure(OSError(19, ""), "/dev/video0", "reading"))
    /dev/video0: the device is gone (while reading); check the plug and the cable
    """
    number = error.errno or 0
    if number in (errno.ENODEV, errno.ENXIO):
        return FeedGone(f"the device is gone (while {doing})", address, _PLUG)
    if number == errno.ENOENT:
        return FeedGone("no such device", address, "stopkeeper feeds lists what there is")
    if number in (errno.EIO, errno.EPROTO, errno.EPIPE, errno.EREMOTEIO, errno.ETIMEDOUT):
        return FeedGone(f"the device failed ({_said(number)}, while {doing})", address, _PLUG)
    if number == errno.EBUSY:
        return FeedBusy("the device is in use by another program", address, "close that program")
    if number in (errno.EACCES, errno.EPERM):
        return FeedRefused("permission denied", address, "add yourself to the video group and log in again")
    if number in NO_SIGNAL:
        return NoSignal(f"the input has {NO_SIGNAL[number]}", address, "check the cable and the camera's output")
    if number in (errno.ENOTTY, errno.EISDIR, errno.ENOTDIR):
        return FeedUnreadable("not a capture device", address, "stopkeeper feeds lists what there is")
    if number in (errno.ENOMEM, errno.ENOSPC, errno.EMFILE, errno.ENFILE):
        return FeedBusy(
            f"the system has no room for it ({_said(number)})", address, "close other programs or move the plug"
        )
    return FeedGone(f"the device refused ({_said(number)}, while {doing})", address, "unplug it and plug it in again")


def _said(number: int) -> str:
    return os.strerror(number).lower() if number else "no reason given"
