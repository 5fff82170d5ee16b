"""What the screen needs of a watch, and what it makes of what the watch says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol

import msgspec

from analysis.engine.step import NO_PICTURE
from analysis.exposure.ghost import Ghost
from analysis.model.controls import ControlLimits, Controls
from analysis.model.reading import Reading, View
from analysis.model.sitter import Spot
from analysis.model.snapshot import Snapshot
from tui.pacing import LinkReport
from tui.wording import evidence, feed_state, lasted

Trust = Literal["full", "mind", "none"]
"""How far the numbers may be used: as they are, with care (drawn dim), or not at all (blank)."""

ANSWER_DEADLINE = 2.0
"""Seconds without a new answer from the watch after which nothing it said is shown as true."""
OLD_PICTURE = 2.0
"""A picture older than this is dimmed even where the feed calls itself live."""
_DOUBTFUL = {"late", "suspect", "priming", "reshaped"}


class WatchLike(Protocol):
    """A running watch as the screen sees it. Every call returns at once and is safe from any thread."""

    def snapshot(self) -> Snapshot:
        """The watch at this moment."""
        ...

    def acknowledge(self, alarm: str | None, occurrence: int | None = None) -> None:
        """Acknowledge one alarm, or all of them; ``occurrence`` names the rise that was seen."""
        ...

    def acknowledge_seen(self, rises: Sequence[tuple[str, int]]) -> None:
        """Acknowledge these rises, each an alarm and its occurrence, and none that came since."""
        ...

    def mute(self, seconds: float) -> None:
        """Be silent for a time."""
        ...

    def unmute(self) -> None:
        """End a mute."""
        ...

    def sound_from(self, mode: str | None) -> None:
        """Hear alarms from elsewhere; None: from the next place, which the snapshot's ``refusal`` then names."""
        ...

    def restart_feed(self) -> None:
        """Close the feed and open it anew."""
        ...

    def set_spots(self, spots: tuple[Spot, ...]) -> None:
        """Read these named areas of the picture from now on."""
        ...

    def choose_sitter(self, name: str | None) -> None:
        """Make this sitter the main one; None lets size and steadiness decide."""
        ...

    def line_up(self, on: bool) -> None:
        """Begin or end looking for a line-up picture; what is found is the snapshot's ``lineup``."""
        ...

    def plan(self, on: bool) -> None:
        """Begin or end planning; what is found is the snapshot's ``planning``."""
        ...

    def set_controls(self, controls: Controls, limits: ControlLimits | None = None) -> None:
        """What is set on the camera and the key now, and how far it may move (None: as before)."""
        ...

    def set_policy(self, name: str | None) -> None:
        """The policy that plans follow; None lets the picture suggest one."""
        ...

    def plan_for(self, name: str | None) -> None:
        """Plan for this sitter, spot or the middle of the picture; None: the main sitter, else a spot with an aim."""
        ...

    def keep_hold(self, name: str | None = None) -> None:
        """Keep the newest reading as a hold (None: a name is made) and match against it."""
        ...

    def match_with(self, name: str | None) -> None:
        """Compare with this hold from now on; None ends comparing."""
        ...

    def drop_hold(self, name: str) -> None:
        """Forget a hold for good."""
        ...

    def shelve(self, alarm: str, seconds: float) -> None:
        """Keep one alarm quiet for a time; it comes back by itself."""
        ...

    def unshelve(self, alarm: str) -> None:
        """End a shelf early."""
        ...

    def reset(self, alarm: str) -> None:
        """Let a latched alarm go."""
        ...

    def take_out_of_service(self, alarm: str, why: str) -> None:
        """Keep one alarm quiet until it is put back."""
        ...

    def return_to_service(self, alarm: str) -> None:
        """Put one alarm back in service."""
        ...

    def say_now(self) -> None:
        """Speak what is true now, where a speech engine is."""
        ...

    def close(self) -> None:
        """End the watch."""
        ...


class Paused(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A trace the operator paused to look at: its view, the reading it belongs to, and how old it is."""

    view: View
    reading: Reading
    seconds: float


class Showing(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One moment as the panels draw it.

    ``reading`` and ``view`` are None whenever they must not be shown. ``unheard`` is how long
    the watch has not answered. ``banner`` says in words why numbers are missing or dim. ``ghost`` is drawn over the
    trace: where it would lie with other settings. ``notices`` says that alarms go to the terminal as notifications too.
    """

    snapshot: Snapshot
    trust: Trust
    reading: Reading | None
    view: View | None
    banner: tuple[str, ...] = ()
    unheard: float = 0.0
    paused: Paused | None = None
    link: LinkReport | None = None
    note: str | None = None
    ghost: Ghost | None = None
    notices: bool = False


def judge(
    snapshot: Snapshot,
    unheard: float,
    paused: Paused | None = None,
    link: LinkReport | None = None,
    note: str | None = None,
) -> Showing:
    """Decide how far a snapshot may be believed that was last renewed ``unheard`` seconds ago.

    The watch already leaves out readings it cannot vouch for; this is the second lock on
    the same door: a state without a picture, or a watch that no longer answers, blanks
    everything whatever else the snapshot holds.
    """
    feed = snapshot.feed
    words = feed_state(feed.state)
    silent = unheard > ANSWER_DEADLINE
    age = None if feed.age is None else feed.age + unheard
    trust: Trust = "full"
    banner: tuple[str, ...] = ()
    if silent:
        trust = "none"
        banner = ("THE WATCH DOES NOT ANSWER", f"last heard {lasted(unheard)} ago", "quit and start again")
    elif snapshot.reading is None or feed.state in NO_PICTURE:
        trust = "none"
        head = "NO PICTURE" if feed.state != "frozen" else "THE PICTURE IS FROZEN"
        since = f"{words.word.lower()} for {lasted(max(snapshot.at.since(feed.since), 0.0))}"
        banner = (head, since, evidence(feed))
    elif feed.state in _DOUBTFUL or snapshot.reading.validity != "good" or (age is not None and age > OLD_PICTURE):
        trust = "mind"
        validity = snapshot.reading.validity
        word = words.word if feed.state in _DOUBTFUL else (validity.upper() if validity != "good" else "OLD")
        banner = (f"{word} {lasted(age)}" if word in {"LATE", "OLD"} else word,)
    usable = trust != "none"
    return Showing(
        snapshot=snapshot,
        trust=trust,
        reading=snapshot.reading if usable else None,
        view=snapshot.view if usable else None,
        banner=banner,
        unheard=unheard,
        paused=paused if usable else None,
        link=link,
        note=note,
    )
