"""An outlet that also speaks: the sound first, then the words; one mute and one hush for both."""

from __future__ import annotations

import msgspec

from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.model.snapshot import OutletStatus
from analysis.output.outlet import Outlet
from analysis.output.sounds import RHYTHMS
from analysis.output.speech import Speech

_BREATH_SECONDS = 0.3


class SpokenOutlet:
    """Passes everything to ``outlet`` and has announcements spoken as well; without ``alarms`` only what is asked for.

    Speech comes out of this machine's speakers, wherever the terminal is: over SSH nobody may be there to hear it,
    which is why it is used only where it was asked for. With ``follows`` alarms are spoken only while the speakers are
    where they are to be heard.
    """

    def __init__(self, outlet: Outlet, speech: Speech, *, alarms: bool = True, follows: bool = False) -> None:
        self._outlet, self._speech, self._wanted, self._follows = outlet, speech, alarms, follows

    @property
    def bells(self) -> int:
        """How often the terminal bell was asked for."""
        return self._outlet.bells

    @property
    def _alarms(self) -> bool:
        return self._wanted and (not self._follows or self._outlet.choice.outlet == "speakers")

    @property
    def speech(self) -> Speech:
        """What speaks; also a recorder that wants to know of changes."""
        return self._speech

    def announce(self, announcement: Announcement, now: Instant) -> None:
        """Make one announcement heard and spoken, unless muted."""
        self._outlet.announce(announcement, now)
        status = self._outlet.status(now)
        if self._alarms and status.muted_seconds <= 0:
            self._speech.announce(announcement, sound_seconds(announcement.priority) if audible(status) else 0.0)

    def say(self, words: str) -> bool:
        """Speak words that the operator asked for; False also where it is tried, and failed the last time."""
        return self._speech.say(words) and self._speech.fault is None

    def hush(self) -> None:
        """Silence what sounds and what is spoken now."""
        self._outlet.hush()
        self._speech.hush()

    def mute(self, seconds: float, *, now: Instant) -> None:
        """Be silent for a while."""
        self._outlet.mute(seconds, now=now)
        self._speech.hush()

    def turn_to(self, mode: str | None, now: Instant) -> str:
        """Be heard elsewhere from now on; words that belong to the speakers end with them."""
        words = self._outlet.turn_to(mode, now)
        if not self._alarms:
            self._speech.hush()
        return words

    def unmute(self) -> None:
        """Be heard again."""
        self._outlet.unmute()

    def tick(self, now: Instant) -> None:
        """Look after the sound device."""
        self._outlet.tick(now)

    def status(self, now: Instant) -> OutletStatus:
        """Where it comes out, and whether words are spoken there."""
        status = self._outlet.status(now)
        spoken = "words are spoken" if self._alarms else "words are spoken when asked for"
        return msgspec.structs.replace(status, reason=f"{status.reason}; {self._speech.fault or spoken}")

    def close(self) -> None:
        """Let go of both; never hangs."""
        self._speech.close(0.3)
        self._outlet.close()


def audible(status: OutletStatus) -> bool:
    """Whether a sound comes out of the same speakers as the words."""
    return status.outlet == "speakers"


def sound_seconds(priority: int) -> float:
    """How long the sound of a priority lasts, with a breath after it, so that words do not lie on top of it.

    >>> sound_seconds(2)
    1.05
    """
    rhythm = RHYTHMS[priority]
    sounding = rhythm.strokes * rhythm.stroke_seconds + (rhythm.strokes - 1) * rhythm.gap_seconds
    return round(sounding + _BREATH_SECONDS, 3)
