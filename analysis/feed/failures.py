"""Every way a library or the system can fail, told in the program's own words.

Texts of the libraries themselves are never passed on: they may hold the address with its
password, and they speak of functions instead of cameras.
"""

from __future__ import annotations

import errno
import os

from analysis.model.errors import (
    FeedBusy,
    FeedError,
    FeedGone,
    FeedRefused,
    FeedSilent,
    FeedUnreadable,
)

_Told = tuple[type[FeedError], str, str]

# Classes that carry no errno of their own, by name: FFmpeg's codes and Python's, so that this
# module needs neither imported. Looked up along the class's ancestors, nearest first.
_BY_NAME: dict[str, _Told] = {
    "ExitError": (FeedSilent, "no picture came within the time allowed", "check the sender and the network"),
    "TimeoutError": (FeedSilent, "no picture came within the time allowed", "check the sender and the network"),
    "StopIteration": (FeedGone, "the feed stopped", "check the sender"),
    "EOFError": (FeedGone, "the feed stopped", "check the sender"),
    "HTTPUnauthorizedError": (FeedRefused, "the login was refused (401)", "check user name and password"),
    "HTTPForbiddenError": (FeedRefused, "access is forbidden (403)", "check the rights of this login"),
    "HTTPNotFoundError": (FeedGone, "there is nothing at this address (404)", "check the path"),
    "HTTPBadRequestError": (FeedRefused, "the server does not accept this address (400)", "check the address"),
    "HTTPTooManyRequestsError": (FeedBusy, "the server asks for fewer attempts (429)", "it is tried again"),
    "HTTPOtherClientError": (FeedRefused, "the server refuses this request (4xx)", "check the address"),
    "HTTPServerError": (FeedGone, "the server failed (5xx)", "it is tried again"),
    "HTTPClientError": (FeedRefused, "the server refuses this request", "check the address"),
    "HTTPError": (FeedGone, "the server failed", "it is tried again"),
    "ProtocolNotFoundError": (FeedRefused, "the installed FFmpeg cannot use this protocol", "use another one"),
    "DemuxerNotFoundError": (FeedUnreadable, "the installed FFmpeg cannot read this format", "convert it"),
    "DecoderNotFoundError": (FeedUnreadable, "the installed FFmpeg cannot decode this picture", "convert it"),
    "InvalidDataError": (FeedUnreadable, "this is not a picture that can be read, or it is cut off", "check it"),
    "PatchWelcomeError": (FeedUnreadable, "this kind of picture is not supported", "convert it"),
    "NotImplementedError": (FeedUnreadable, "this kind of picture is not supported", "convert it"),
    "ArgumentError": (FeedUnreadable, "the decoder does not accept what came", "check the address and its options"),
    "OptionNotFoundError": (FeedRefused, "an option of this address is unknown", "check the address"),
    "BufferTooSmallError": (FeedUnreadable, "the picture is larger than it says", "check the file or the sender"),
    "InputChangedError": (FeedGone, "the picture changed its form", "it is opened again"),
    "OutputChangedError": (FeedGone, "the picture changed its form", "it is opened again"),
    "ExternalError": (FeedGone, "a decoding library failed", "it is tried again"),
    "BugError": (FeedGone, "FFmpeg reports a fault of its own", "it is tried again"),
    "UnknownError": (FeedGone, "FFmpeg failed without saying why", "it is tried again"),
    "UndefinedError": (FeedGone, "FFmpeg failed without saying why", "it is tried again"),
    "PyAVCallbackError": (FeedGone, "reading failed inside the decoder", "it is tried again"),
    "FFmpegError": (FeedGone, "FFmpeg cannot go on with this feed", "it is tried again"),
    "MemoryError": (FeedGone, "not enough memory for this picture", "use a smaller size"),
    "BrokenPipeError": (FeedGone, "the connection was broken", "check the sender"),
    "UnicodeError": (FeedUnreadable, "the feed holds text that cannot be read", "check the address"),
    "OverflowError": (FeedUnreadable, "a value of this feed is out of range", "check the address and its options"),
    "ValueError": (FeedUnreadable, "this is not a picture that can be read", "check the address and its options"),
    "LookupError": (FeedUnreadable, "this kind of picture is not supported", "convert it"),
    "OSError": (FeedGone, "the system reports a fault", "check the source"),
}

_GONE_NET = "check that the sender runs and the address is right"
_BY_ERRNO: dict[int, _Told] = {
    errno.ENOENT: (FeedGone, "there is no such file or device", "check the name"),
    errno.ENODEV: (FeedGone, "the device is gone", "plug it in again"),
    errno.ENXIO: (FeedGone, "the device is gone", "plug it in again"),
    errno.EIO: (FeedGone, "reading from it broke off", "check the cable, the disk or the sender"),
    errno.EACCES: (FeedRefused, "permission denied", "allow this user to read it"),
    errno.EPERM: (FeedRefused, "permission denied", "allow this user to read it"),
    errno.EBUSY: (FeedBusy, "another program holds it", "close the other program"),
    errno.EISDIR: (FeedUnreadable, "this is a folder, not a picture", "name a file in it"),
    errno.ENOTDIR: (FeedGone, "there is no such file or device", "check the name"),
    errno.ENAMETOOLONG: (FeedUnreadable, "the name is too long", "check the name"),
    errno.ELOOP: (FeedUnreadable, "the name leads in a circle", "check the links"),
    errno.EMFILE: (FeedGone, "too many files are open", "close other programs"),
    errno.ENFILE: (FeedGone, "too many files are open", "close other programs"),
    errno.ENOMEM: (FeedGone, "not enough memory for this picture", "use a smaller size"),
    errno.EINVAL: (FeedUnreadable, "it does not accept what was asked of it", "check the address and its options"),
    errno.ENOTTY: (FeedUnreadable, "this is not a capture device", "run: stopkeeper feeds"),
    errno.EPIPE: (FeedGone, "the connection was broken", _GONE_NET),
    errno.ETIMEDOUT: (FeedSilent, "no picture came within the time allowed", "check the sender and the network"),
    errno.EAGAIN: (FeedSilent, "no picture came within the time allowed", "check the sender and the network"),
    errno.ECONNREFUSED: (FeedGone, "nobody answers at this address", _GONE_NET),
    errno.ECONNRESET: (FeedGone, "the sender broke the connection", _GONE_NET),
    errno.ECONNABORTED: (FeedGone, "the connection was broken", _GONE_NET),
    errno.EHOSTUNREACH: (FeedGone, "this host cannot be reached", "check the network"),
    errno.ENETUNREACH: (FeedGone, "the network cannot be reached", "check the network"),
    errno.ENETDOWN: (FeedGone, "the network is down", "check the network"),
    errno.EADDRINUSE: (FeedBusy, "another program listens at this address", "close it or use another port"),
    errno.EADDRNOTAVAIL: (FeedGone, "this address does not belong to this machine", "check the address"),
    errno.EPROTONOSUPPORT: (FeedRefused, "this protocol is not available here", "use another one"),
    errno.ESTALE: (FeedGone, "the file was moved by its server", "open it again"),
    errno.ENOLINK: (FeedGone, "nothing is connected to the input", "check the cable"),
}


def as_feed_error(error: BaseException, where: str) -> FeedError:
    """The failure as one of the program's own errors; one that already is comes back as it is.

    ``where`` is the masked address. The text of ``error`` is used nowhere.

    >>> as_feed_error(PermissionError(13, "x"), "/dev/video0").line()
    '/dev/video0: permission denied; allow this user to read it'
    """
    if isinstance(error, FeedError):
        return error
    number = getattr(error, "errno", None)
    if isinstance(error, OSError) and isinstance(number, int) and number > 0:
        told = _BY_ERRNO.get(number)
        if told is None and number < 1000:
            told = (FeedGone, f"the system reports: {os.strerror(number)}", "check the source")
        if told is not None:
            return told[0](told[1], where, told[2])
    for ancestor in type(error).__mro__:
        told = _BY_NAME.get(ancestor.__name__)
        if told is not None:
            return told[0](told[1], where, told[2])
    return FeedGone(f"an unexpected fault ({type(error).__name__})", where, "it is tried again")
