"""Where alarms are heard: speakers where they work, the terminal bell where they do not."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from typing import Protocol

from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.model.snapshot import Outlet as OutletName
from analysis.model.snapshot import OutletStatus
from analysis.output.bell import Bell, BellWriter
from analysis.output.choice import Choice, choose, following
from analysis.output.mute import DEFAULT_SECONDS, Mute, muted
from analysis.output.speaker import DEVICE_VARIABLE, Speaker, SpeakerState, SpeakerStatus

REPEAT_SECONDS = 2.0
"""One alarm is not heard more often than this; a newer rise waits until then."""
STEADY_SECONDS = 10.0
"""After a bell for lost speakers the next stall rings only when they worked for so long: a machine that stutters would
ring without end."""


class Player(Protocol):
    """What an outlet needs of a speaker."""

    def play(self, announcement: Announcement) -> int | None:
        """Sound an alarm; None when it cannot be."""

    def lost(self) -> tuple[int, ...]:
        """Orders that were not heard, each told once."""

    def stop(self) -> None:
        """Silence at once."""

    def status(self) -> SpeakerStatus:
        """How sound is doing."""

    def end(self) -> None:
        """End it, without waiting."""

    def close(self) -> None:
        """End it, without waiting long."""


class Outlet:
    """Makes announcements heard, each once, and says where and why there.

    Call :meth:`tick` about ten times a second: it rings the bell for a sound that did not
    come out, within half a second, and once when working speakers are given up, so that silence
    is never mistaken for peace. Any thread may call any method; none of them waits.
    ``environment`` is what :meth:`turn_to` chooses by, ``new_player`` makes it a player where it has none.
    """

    def __init__(
        self,
        choice: Choice,
        player: Player | None = None,
        bell: Bell | None = None,
        *,
        environment: Mapping[str, str] | None = None,
        new_player: Callable[[], Player] | None = None,
    ) -> None:
        self._choice = choice
        self._environment = environment if environment is not None else {}
        self._new_player = new_player
        self._player = player if choice.outlet == "speakers" else None
        self._bell = bell or Bell()
        self._lock = threading.RLock()
        self._mute: Mute | None = None
        self._heard: dict[str, Announcement] = {}
        self._heard_at: dict[str, Instant] = {}
        self._held: dict[str, Announcement] = {}
        self._worked = False
        self._rang = False
        self._ready_since: Instant | None = None

    @property
    def bells(self) -> int:
        """How often the terminal bell was asked for; a screen rings when this grows."""
        return self._bell.rung

    @property
    def choice(self) -> Choice:
        """What is chosen, whether or not it works now."""
        return self._choice

    def turn_to(self, mode: str | None, now: Instant) -> str:
        """Be heard elsewhere from now on; None: at the next place, never a silent one. Returns where, in words.

        The terminal bell rings once when it is turned to, for the ear and in place of what sounded just then.
        ``UsageError`` for a mode that does not exist.
        """
        with self._lock:
            before, choice = (
                self._choice,
                choose(mode or following(self._choice.mode, self._environment), self._environment),
            )
            self._choice = choice
            left = None
            if choice.outlet != "speakers":
                left, self._player = self._player, None
                self._worked = self._rang = False
                self._ready_since = None
            elif self._player is None and self._new_player is not None:
                self._player = self._new_player()
            waits = self._player is not None and self._player.status().state != "ready"
            rings = choice.outlet == "bell" and before.outlet != "bell" and not self._muted(now)
        if left is not None:
            left.end()
        if rings:
            self._bell.ring()
        words = f"by itself, {choice.reason}" if choice.mode == "auto" else choice.reason
        return f"{words}; bell until they work" if waits else words

    def announce(self, announcement: Announcement, now: Instant) -> None:
        """Make one announcement heard, unless it already was, or sound is off or muted.

        What is announced while muted is not heard later; when the mute ends, the watch announces anew what still
        holds and nobody has seen.
        """
        with self._lock:
            alarm = announcement.alarm
            if announcement in (self._heard.get(alarm), self._held.get(alarm)):
                return
            if self._muted(now) or self._choice.outlet == "off":
                self._heard[alarm] = announcement
                return
            if self._too_soon(alarm, now):
                self._held[alarm] = announcement
                return
            bells = self._sound(announcement, now)
        if bells:
            self._bell.ring(bells)

    def tick(self, now: Instant) -> None:
        """Look after what was announced."""
        bells = 0
        with self._lock:
            for alarm in [alarm for alarm in self._held if not self._too_soon(alarm, now)]:
                bells += self._sound(self._held.pop(alarm), now)
            if self._player is not None:
                lost = len(self._player.lost())
                gone = self._speakers_gone(self._player.status().state, now)
                if not self._muted(now):
                    bells += max(lost, 1 if gone else 0)
        if bells:
            self._bell.ring(bells)

    def say(self, words: str) -> bool:
        """Speak words: there is nothing here that can."""
        return False

    def hush(self) -> None:
        """Silence what sounds now; an alarm that rose since then is still heard."""
        with self._lock:
            if self._player is not None:
                self._player.stop()

    def mute(self, seconds: float = DEFAULT_SECONDS, *, now: Instant) -> None:
        """Be quiet for some time, at most an hour; ``UsageError`` for what is no length of time."""
        with self._lock:
            self._mute = muted(seconds, now)
            self._held.clear()
            self.hush()

    def unmute(self) -> None:
        """End a mute early."""
        with self._lock:
            self._mute = None

    def status(self, now: Instant) -> OutletStatus:
        """Where alarms are heard now, and why there."""
        with self._lock:
            outlet, reason, device = self._where()
            left = self._mute.left(now) if self._mute else 0.0
        if self._bell.fault and outlet == "bell":
            reason = f"{reason}; {self._bell.fault}"
        return OutletStatus(outlet=outlet, reason=reason, muted_seconds=left, device=device)

    def close(self) -> None:
        """End the sound process; never hangs."""
        with self._lock:
            player, self._new_player = self._player, None
        if player is not None:
            player.close()

    def _where(self) -> tuple[OutletName, str, str | None]:
        if self._player is None:
            outlet: OutletName = "bell" if self._choice.outlet == "speakers" else self._choice.outlet
            return outlet, self._choice.reason, None
        status = self._player.status()
        if status.state == "ready":
            return "speakers", self._choice.reason, status.device
        return "bell", f"terminal bell: {status.reason}", None

    def _sound(self, announcement: Announcement, now: Instant) -> int:
        """Send one announcement out; returns how many bells it needs."""
        self._heard[announcement.alarm] = announcement
        self._heard_at[announcement.alarm] = now
        self._held.pop(announcement.alarm, None)
        if self._player is not None and self._player.play(announcement) is not None:
            return 0
        return 1

    def _speakers_gone(self, state: SpeakerState, now: Instant) -> bool:
        """Whether working speakers were just lost: they stall, or are given up. An alarm meanwhile rings by itself."""
        if state == "ready":
            self._worked, self._ready_since = True, self._ready_since or now
            return False
        since, self._ready_since = self._ready_since, None
        steady = since is not None and now.since(since) >= STEADY_SECONDS
        gone = self._worked and (state in ("waiting", "broken") or (state == "stalled" and (steady or not self._rang)))
        if gone:
            self._worked, self._rang = False, True
        return gone

    def _muted(self, now: Instant) -> bool:
        if self._mute is not None and self._mute.left(now) <= 0.0:
            self._mute = None
        return self._mute is not None

    def _too_soon(self, alarm: str, now: Instant) -> bool:
        heard = self._heard_at.get(alarm)
        return heard is not None and 0.0 <= now.since(heard) < REPEAT_SECONDS


def open_outlet(
    mode: str,
    environment: Mapping[str, str],
    *,
    device: str | None = None,
    loudness: float = 1.0,
    bell_writer: BellWriter | None = None,
) -> Outlet:
    """The outlet for a watch: chosen, and its sound process started where there is to be one.

    ``mode`` is ``auto``, ``speakers``, ``bell`` or ``off``. ``environment`` is the process's
    own; the variable ``STOPKEEPER_SOUND_DEVICE`` names a device where ``device`` does not.
    ``UsageError`` for a mode that does not exist.
    """
    choice = choose(mode, environment)
    named = device or environment.get(DEVICE_VARIABLE) or None

    def new_player() -> Speaker:
        return Speaker(device=named, environment=environment, loudness=loudness)

    player = new_player() if choice.outlet == "speakers" else None
    return Outlet(choice, player, Bell(bell_writer), environment=environment, new_player=new_player)
