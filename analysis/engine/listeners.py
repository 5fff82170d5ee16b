"""Who hears of what a watch does, and what each must be able to do. All are called in the watch's own thread."""

from __future__ import annotations

from typing import Protocol

from analysis.model.alarm import AlarmChange, Announcement
from analysis.model.feed import FeedEvent
from analysis.model.hold import Hold
from analysis.model.instant import Instant
from analysis.model.reading import Reading
from analysis.model.snapshot import OutletStatus
from analysis.model.turn import Turn
from analysis.settings.control_files import ControlFile


class OutletLike(Protocol):
    """Where announcements go."""

    @property
    def bells(self) -> int:
        """How often the terminal bell was asked for."""

    def announce(self, announcement: Announcement, now: Instant) -> None:
        """Make it heard, once."""

    def say(self, words: str) -> bool:
        """Speak words the operator asked for; whether anything can speak here."""

    def hush(self) -> None:
        """Silence what sounds now; the next alarm is heard again."""

    def mute(self, seconds: float, *, now: Instant) -> None:
        """Be silent for a while."""

    def unmute(self) -> None:
        """Be heard again."""

    def turn_to(self, mode: str | None, now: Instant) -> str:
        """Be heard elsewhere from now on; None: at the next place. Returns where, in words."""

    def tick(self, now: Instant) -> None:
        """Look after the sound device."""

    def status(self, now: Instant) -> OutletStatus:
        """Where it comes out and why there."""

    def close(self) -> None:
        """Let go; never hangs."""


class Recorder(Protocol):
    """Something that wants to know what happened: a log, a journal. Called in the watch thread; must not block."""

    def alarm_changed(self, change: AlarmChange) -> None:
        """An alarm changed."""

    def feed_changed(self, event: FeedEvent) -> None:
        """The feed changed."""


class Diary(Protocol):
    """Something that keeps readings. Called in the watch thread for each measured frame; must not block."""

    def reading_taken(self, reading: Reading, at: Instant) -> None:
        """A frame was measured."""


class Archive(Protocol):
    """Something that keeps holds and controls beyond the session. Called in the watch thread; must not block."""

    def hold_kept(self, hold: Hold) -> None:
        """A hold was made."""

    def hold_dropped(self, hold: Hold) -> None:
        """A hold was forgotten."""

    def controls_changed(self, file: ControlFile) -> None:
        """What is set, what may move or the policy was changed."""

    def trouble(self) -> str | None:
        """What could not be kept, in one line."""


class TurnListener(Protocol):
    """Something that wants to know of changes of exposure. Called in the watch thread; must not block."""

    def turned(self, turn: Turn) -> None:
        """A turn was recognised in the picture."""
