"""The state of a feed, decided from evidence: a pure step from one state to the next.

Liveness is judged by what arrives and when, never by a success flag or a loop counter: an
unplugged camera may go on "succeeding" with its last picture, and a stalled decoder with none.
"""

from __future__ import annotations

from typing import assert_never

import msgspec

from analysis.feed.evidence import (
    Arrived,
    Damaged,
    Ended,
    Evidence,
    Failed,
    Opening,
    Stopped,
    Tick,
    Unconnected,
    Waiting,
)
from analysis.feed.history import DamageCount, History, begin, grow, interval
from analysis.feed.limits import FeedLimits
from analysis.model.feed import FeedEvent, FeedState
from analysis.model.frame import FrameFormat
from analysis.model.instant import Instant
from analysis.model.reading import Validity

WITH_PICTURES: frozenset[FeedState] = frozenset({"priming", "live", "late", "still", "frozen", "dark", "suspect"})
"""States in which frames are expected to arrive."""

_VALIDITY: dict[FeedState, Validity] = {
    "priming": "priming",
    "reshaped": "priming",
    "live": "good",
    "still": "good",
    "late": "late",
    "suspect": "suspect",
    "dark": "suspect",
}


class FeedMachine(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the next step needs to know.

    ``contact`` is when the source last gave any sign of life, a damaged frame included.
    ``stale`` is the picture the feed froze at: opened again and still showing it, it is still
    frozen. ``trouble`` outlasts the changes between lost, waiting and opening.
    """

    limits: FeedLimits
    since: Instant
    state: FeedState = "closed"
    evidence: str = "not opened"
    generation: int = 0
    format: FrameFormat | None = None
    history: History | None = None
    damage: DamageCount = DamageCount()
    contact: Instant | None = None
    stale: int | None = None
    trouble: str | None = None
    trouble_since: Instant | None = None


def validity(state: FeedState) -> Validity | None:
    """How far readings may be used in a state; None where nothing may be shown.

    >>> validity("live"), validity("late"), validity("frozen")
    ('good', 'late', None)
    """
    return _VALIDITY.get(state)


def validity_now(machine: FeedMachine) -> Validity | None:
    """Like :func:`validity`, and careful already while a dark run is too short to be called dark.

    A picture that may be no picture must not start an alarm about its shadows.
    """
    told = validity(machine.state)
    dark = machine.history is not None and machine.history.dark_since is not None
    return "suspect" if told == "good" and dark else told


def step(machine: FeedMachine, event: Evidence, now: Instant) -> tuple[FeedMachine, tuple[FeedEvent, ...]]:
    """The machine after one piece of evidence, and the changes of state it made, in order."""
    match event:
        case Arrived():
            return _arrived(machine, event, now)
        case Tick():
            return _tick(machine, now)
        case Damaged():
            return _damaged(machine, event, now)
        case Unconnected():
            after = msgspec.structs.replace(machine, history=None, contact=now, damage=DamageCount())
            return _go(after, "lost", f"no signal: {event.reason}", now)
        case Opening():
            after = msgspec.structs.replace(
                machine, generation=event.generation, history=None, contact=None, damage=DamageCount()
            )
            return _go(after, "opening", "opening", now)
        case Failed():
            after = msgspec.structs.replace(machine, history=None)
            again = machine.trouble is not None and machine.state in {"opening", "waiting", "lost"}
            return _go(after, machine.state if again else "lost", event.reason, now)
        case Waiting():
            words = f"{event.reason}; next attempt in {event.seconds:.1f} s" if event.seconds else event.reason
            after, events = _go(machine, "lost" if machine.state == "lost" else "waiting", words, now)
            return msgspec.structs.replace(after, trouble=machine.trouble), events
        case Ended():
            return _go(machine, "ended", "finished", now)
        case Stopped():
            return _go(msgspec.structs.replace(machine, history=None), "closed", "closed", now)
    assert_never(event)


def age(machine: FeedMachine, now: Instant) -> float | None:
    """Seconds since the newest sound frame of this life of the feed arrived; None before the first."""
    return None if machine.history is None else max(0.0, now.since(machine.history.newest))


def lost_after(machine: FeedMachine) -> float:
    """Seconds without a frame after which this feed counts as lost."""
    return max(machine.limits.lost_seconds, machine.limits.lost_intervals * _interval(machine))


def _late_after(machine: FeedMachine) -> float:
    return max(machine.limits.late_seconds, machine.limits.late_intervals * _interval(machine))


def _interval(machine: FeedMachine) -> float:
    return interval(machine.history, machine.format.rate if machine.format else None)


def _tick(machine: FeedMachine, now: Instant) -> tuple[FeedMachine, tuple[FeedEvent, ...]]:
    old = age(machine, now)
    if old is None or machine.state not in WITH_PICTURES:
        return machine, ()
    if old > lost_after(machine):
        alive = machine.contact is not None and now.since(machine.contact) <= lost_after(machine)
        words = f"only damaged frames for {old:.1f} s" if alive else f"no picture for {old:.1f} s"
        return _go(machine, "lost", words, now)
    if old > _late_after(machine) and machine.state != "frozen":
        return _go(machine, "late", f"no picture for {old:.1f} s", now)
    return machine, ()


def _damaged(machine: FeedMachine, event: Damaged, now: Instant) -> tuple[FeedMachine, tuple[FeedEvent, ...]]:
    count = machine.damage.add(True, machine.limits, now)
    after = msgspec.structs.replace(machine, damage=count, contact=now)
    if after.state in {"live", "still", "late", "priming"} and _too_damaged(after):
        return _go(after, "suspect", f"{_percent(after)} % of the frames are damaged: {event.reason}", now)
    return _tick(after, now)


def _arrived(machine: FeedMachine, frame: Arrived, now: Instant) -> tuple[FeedMachine, tuple[FeedEvent, ...]]:
    limits = machine.limits
    events: tuple[FeedEvent, ...] = ()
    count = machine.damage.add(False, limits, now)
    after = msgspec.structs.replace(machine, damage=count, contact=now)
    if after.format is not None and not after.format.same_codes(frame.format):
        words = after.format.difference(frame.format)
        after = msgspec.structs.replace(after, history=None, damage=DamageCount(), stale=None)
        after, events = _go(after, "reshaped", words, now)
    if after.state == "lost" or after.history is None:
        history = begin(frame, limits, now)
    else:
        history = grow(after.history, frame, limits, now)
    stale = after.stale if after.stale == frame.fingerprint else None
    after = msgspec.structs.replace(after, format=frame.format, history=history, stale=stale)
    if frame.slate is not None:
        # A history of slates is no history: the first real picture begins a new one.
        after, more = _go(after, "lost", f"no signal: the feed shows {frame.slate}", now)
        return after, events + more
    state, words = _judge(after, history, now)
    if state == "frozen":
        after = msgspec.structs.replace(after, stale=frame.fingerprint)
    after, more = _go(after, state, words, now)
    return after, events + more


def _judge(machine: FeedMachine, history: History, now: Instant) -> tuple[FeedState, str]:
    limits = machine.limits
    same = now.since(history.same_since) if history.same_since else 0.0
    stuck = now.since(history.stuck_since) if history.stuck_since else 0.0
    dark = now.since(history.dark_since) if history.dark_since else 0.0
    if machine.stale is not None:
        return "frozen", "still the picture it froze at"
    if limits.frozen_seconds is not None and stuck >= limits.frozen_seconds:
        return "frozen", f"the same picture with the same time stamp for {stuck:.1f} s"
    if history.frames < limits.prime_frames and now.since(history.began) < limits.prime_seconds:
        return "priming", "starting"
    if dark >= limits.dark_seconds:
        return "dark", "picture dark: a covered lens, no light or no signal" + (
            "; without any noise, so rather no signal" if same >= limits.still_seconds else ""
        )
    if limits.still_frozen is not None and same >= limits.still_frozen:
        return "frozen", f"the same picture for {same:.0f} s, without the noise of a sensor"
    if _too_damaged(machine):
        return "suspect", f"{_percent(machine)} % of the frames are damaged"
    if same >= limits.still_seconds:
        return "still", f"picture not changing for {same:.0f} s"
    odd = f"; {history.odd_stamps} irregular time stamps" if history.odd_stamps else ""
    return "live", f"pictures arrive{odd}"


def _too_damaged(machine: FeedMachine) -> bool:
    limit = machine.limits.suspect_share
    return machine.damage.share(machine.limits) > (limit / 2 if machine.state == "suspect" else limit)


def _percent(machine: FeedMachine) -> int:
    return round(100 * machine.damage.share(machine.limits))


def _go(machine: FeedMachine, state: FeedState, words: str, now: Instant) -> tuple[FeedMachine, tuple[FeedEvent, ...]]:
    trouble = _trouble(machine, state, words, now)
    since = machine.trouble_since if machine.trouble is not None and machine.trouble_since else now
    changed = state != machine.state
    if not changed and words == machine.evidence and trouble == machine.trouble:
        return machine, ()
    after = msgspec.structs.replace(
        machine,
        state=state,
        evidence=words,
        since=now if changed else machine.since,
        trouble=trouble,
        trouble_since=since if trouble is not None else None,
    )
    if not changed:
        return after, ()
    event = FeedEvent(before=machine.state, after=state, evidence=words, generation=after.generation, at=now)
    return after, (event,)


def _trouble(machine: FeedMachine, state: FeedState, words: str, now: Instant) -> str | None:
    match state:
        case "lost" | "frozen" | "dark" | "suspect":
            return words
        case "waiting" | "opening" | "late":
            return machine.trouble
        case "still":
            limit, history = machine.limits.still_trouble, machine.history
            if limit is not None and history is not None and history.same_since is not None:
                return words if now.since(history.same_since) >= limit else None
            return None
        case _:
            return None
