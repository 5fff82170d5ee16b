"""Terminal notifications for what is announced, made where the terminal is owned: new ones only, few, the newest."""

from __future__ import annotations

from analysis.model.alarm import Announcement
from analysis.model.snapshot import Snapshot
from analysis.output.notify import NotifyChoice, notification

TITLE = "stopkeeper"
LEAST_SECONDS = 2.0
"""Notifications come no faster than this; several alarms in that time become one notification."""
STALE_SECONDS = 30.0
"""What could not be sent for so long is not sent any more: it stands on the screen."""


class Notifier:
    """Says what to send to the terminal when it is shown a snapshot.

    Announcements are told by their count, so none is sent twice and none is sent that a mute kept silent. A new one
    of priority one is sent at once; any other waits until :data:`LEAST_SECONDS` have passed since the last.
    """

    def __init__(self, choice: NotifyChoice) -> None:
        self.choice = choice
        self._seen = 0
        self._waiting: tuple[Announcement, ...] = ()
        self._sent: float | None = None

    @property
    def words(self) -> str:
        """What is sent, and when, for a person."""
        return self.choice.reason

    def see(self, snapshot: Snapshot) -> list[str]:
        """The sequences to send now, at most one notification; empty nearly always."""
        count = snapshot.announcements - self._seen
        self._seen = snapshot.announcements
        fresh = snapshot.announced[-count:] if count > 0 else ()
        if not self.sends(snapshot):
            self._waiting = ()
            return []
        now = snapshot.at.monotonic
        kept = [one for one in (*self._waiting, *fresh) if 0.0 <= now - one.at.monotonic <= STALE_SECONDS]
        # Of one alarm only the newest is worth telling.
        self._waiting = tuple({one.alarm: one for one in kept}.values())
        urgent = any(one.priority == 1 for one in fresh)
        early = self._sent is not None and 0.0 <= now - self._sent < LEAST_SECONDS
        if not self._waiting or (early and not urgent):
            return []
        self._sent = now
        told, self._waiting = self._waiting, ()
        return [self._made(told, snapshot)]

    def sends(self, snapshot: Snapshot) -> bool:
        """Whether an announcement made now would be sent."""
        outlet = snapshot.outlet
        if self.choice.style == "off" or outlet.muted_seconds > 0:
            return False
        return outlet.outlet == "bell" or not self.choice.with_bell

    def _made(self, told: tuple[Announcement, ...], snapshot: Snapshot) -> str:
        first = min(told, key=lambda one: (one.priority, -one.at.monotonic))
        advice = {alarm.alarm: alarm.advice for alarm in snapshot.alarms}.get(first.alarm, "")
        others = [one.words for one in told if one is not first]
        body = ". ".join(filter(None, (_words(first), advice, f"Also: {', '.join(others)}" if others else "")))
        title = f"{TITLE}: {snapshot.feed.address}"
        return notification(
            self.choice.style,
            title,
            body,
            self.choice.in_tmux,
            urgent=first.priority == 1,
            identity=f"{TITLE}-{first.alarm}",
        )


def _words(announcement: Announcement) -> str:
    return f"still {announcement.words}" if announcement.again else announcement.words
