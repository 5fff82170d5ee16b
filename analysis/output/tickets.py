"""What became of each sound that was ordered; takes the time as an argument."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.output.protocol import Failed, Played, Report, Started, Stopped, Taken

Fate = Literal["sent", "waiting", "playing", "played", "stopped", "failed"]
ENDED: tuple[Fate, ...] = ("played", "stopped", "failed")
ANSWER_SECONDS = 0.3
"""An order not answered, or not begun when it should, within this time is taken as lost."""
MOST_KEPT = 32


class _Ticket(msgspec.Struct, kw_only=True):
    fate: Fate
    due: float
    told: bool = False


class Tickets:
    """Follows orders from sending to the last sample, and says which were lost on the way.

    >>> tickets = Tickets()
    >>> order = tickets.sent(10.0)
    >>> tickets.lost(10.2, flowing=True), tickets.lost(10.4, flowing=True)
    ((), (1,))
    """

    def __init__(self, answer_seconds: float = ANSWER_SECONDS) -> None:
        self._answer = answer_seconds
        self._last = 0
        self._kept: dict[int, _Ticket] = {}

    def sent(self, now: float) -> int:
        """A new order, sent at ``now``; returns its number."""
        self._last += 1
        self._kept[self._last] = _Ticket(fate="sent", due=now + self._answer)
        while len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]
        return self._last

    def heard(self, report: Report, now: float) -> None:
        """Take in what the sound process said; reports of other matters are passed over."""
        ticket = self._kept.get(getattr(report, "ticket", None) or 0)
        if ticket is None or ticket.fate in ENDED:
            return
        match report:
            case Taken():
                if ticket.fate == "sent":
                    ticket.fate, ticket.due = "waiting", now + report.starts_in + self._answer
            case Started():
                ticket.fate = "playing"
            case Played():
                ticket.fate = "played"
            case Stopped():
                ticket.fate = "stopped"
            case Failed():
                ticket.fate = "failed"

    def fail_all(self) -> None:
        """The sound process is gone: whatever was not finished was not heard."""
        for ticket in self._kept.values():
            if ticket.fate not in ENDED:
                ticket.fate = "failed"

    def lost(self, now: float, *, flowing: bool) -> tuple[int, ...]:
        """Orders that failed since the last call; ``flowing`` says whether the device takes sound."""
        for ticket in self._kept.values():
            late = ticket.fate in ("sent", "waiting") and now > ticket.due
            stuck = ticket.fate == "playing" and not flowing
            if late or stuck:
                ticket.fate = "failed"
        lost = tuple(number for number, kept in self._kept.items() if kept.fate == "failed" and not kept.told)
        for number in lost:
            self._kept[number].told = True
        return lost

    def fate(self, number: int) -> Fate:
        """What became of an order; one so old that it was forgotten has been played or lost long ago."""
        kept = self._kept.get(number)
        return kept.fate if kept else "stopped"
