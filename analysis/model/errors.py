"""The program's own error tree: every failure is one line that a person can act on."""

from __future__ import annotations


class StopkeeperError(Exception):
    """A failure told to a person: what is wrong, where, and what to do.

    ``exit_code`` is 1 for a job that failed and 2 for bad use.

    >>> print(FeedRefused("permission denied", "/dev/video0", "add yourself to the group video"))
    /dev/video0: permission denied; add yourself to the group video
    """

    exit_code = 1

    def __init__(self, what: str, where: str = "", todo: str = "") -> None:
        self.what, self.where, self.todo = _one_line(what), _one_line(where), _one_line(todo)
        super().__init__(self.line())

    def line(self) -> str:
        """The whole story in one line."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head}; {self.todo}" if self.todo else head


def _one_line(text: str) -> str:
    # What an operator's file or a device calls itself may hold control characters; a terminal would obey them.
    return "".join(char if char.isprintable() else "?" for char in " ".join(str(text).split()))


class UsageError(StopkeeperError):
    """The command was called wrongly."""

    exit_code = 2


class SettingsError(StopkeeperError):
    """A configuration file or value cannot be used."""

    exit_code = 2


class Unmeasurable(StopkeeperError):
    """What was shown does not allow the measurement that was asked for."""


class FeedError(StopkeeperError):
    """A feed failed; ``permanent`` failures are not worth trying again by themselves."""

    permanent = False


class FeedGone(FeedError):
    """The source vanished or was never there; it may come back."""


class FeedSilent(FeedError):
    """The source is there but no picture comes within the deadline."""


class FeedBusy(FeedError):
    """Somebody else holds the source."""


class FeedRefused(FeedError):
    """The source may not be used: permission, login, protocol not available."""

    permanent = True


class FeedUnreadable(FeedError):
    """What comes is not a picture that can be read."""

    permanent = True


class FeedCorrupt(FeedError):
    """One frame is damaged; the next may be good."""


class FeedEnded(FeedError):
    """A file or pipe is finished. Not a fault."""

    permanent = True


class NoSignal(FeedError):
    """The device is there and says that no valid signal is connected to it."""


class OutputError(StopkeeperError):
    """Sound, bell or another output cannot be used; the watch goes on without it."""


class JournalError(StopkeeperError):
    """The journal cannot be written where it should lie; the watch goes on without it."""
