"""The holds of a watch: kept, chosen, forgotten, and the live picture against the chosen one."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import NamedTuple

import cv2
import msgspec
import numpy as np

from analysis.exposure.match import difference
from analysis.exposure.match_light import Light, Pixels, Seen, pixels_of
from analysis.exposure.match_plan import to_match
from analysis.exposure.match_words import match_cautions, what_to_move
from analysis.exposure.policy import OPEN_SKY, suggest
from analysis.measure.examiner import known_curve
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.errors import StopkeeperError, UsageError
from analysis.model.hold import Difference, Hold, HoldMark, Matching, SmallPicture
from analysis.model.instant import Instant
from analysis.model.plan import Planned
from analysis.model.reading import Reading, View
from analysis.settings.hold_files import MOST_HOLDS
from analysis.settings.setup_files import usable_file_name

PLAN_SECONDS = 1.0
"""Between two plans, and between two tellings of what to move: nobody follows words that change faster."""
AROUND_SECONDS = 0.12
"""Between two looks at what lies around the sitters."""
STALE_SECONDS = 2.0
"""A look around the sitters, and a difference from the hold, that is older than this counts no more."""
WIDEST, HIGHEST = 160, 90
"""Pixels of a hold's picture at most."""
NOT_SAID = "say what is set on the camera, and it is told in its own terms"
NO_PICTURE = "there is no picture to compare"
DOUBTED = "the picture is dark or damaged: there is nothing to compare"


class _Wish(NamedTuple):
    """What is planned with."""

    controls: Controls | None
    limits: ControlLimits | None
    camera: CameraProfile | None
    planning: bool


class MatchDesk:
    """The holds of one watch and the live picture against the chosen one. For one thread; the time comes from outside.

    ``holds`` are those kept before; ``utc_offset`` is how many seconds the operator's clock is ahead of UTC, for made
    names. Commands raise StopkeeperError in one line where they cannot be carried out.

    >>> desk = MatchDesk()
    >>> desk.matching.names, desk.matching.hold, desk.drift_stops()
    ((), None, None)
    """

    def __init__(self, holds: tuple[Hold, ...] = (), *, utc_offset: float = 0.0) -> None:
        self._holds = tuple(sorted(holds, key=lambda each: each.at.utc, reverse=True))
        self._offset = utc_offset
        self._chosen: Hold | None = None
        self._then: Light | None = None
        self._around: tuple[Seen | None, Instant] | None = None
        self._planned_at: Instant | None = None
        self._told_at: Instant | None = None
        self._wish: _Wish | None = None
        self._good = False
        self._sure: Instant | None = None
        self._matching = self._fresh()

    @property
    def matching(self) -> Matching:
        """What a screen may know."""
        return self._matching

    @property
    def holds(self) -> tuple[Hold, ...]:
        """All holds, the newest first."""
        return self._holds

    def keep(
        self,
        name: str | None,
        reading: Reading | None,
        view: View | None,
        feed: str,
        at: Instant,
        controls: Controls | None = None,
    ) -> Hold:
        """Keep a reading and match against it from now on; without a name one is made.

        ``feed`` is the masked address, ``controls`` what is set, None where nobody said.
        """
        if reading is None or reading.luma is None:
            raise UsageError("there is no picture to keep", "hold", "wait until one is measured")
        if reading.validity not in {"good", "late"}:
            raise UsageError(f"the picture is {reading.validity}", "hold", "wait until it can be vouched for")
        if len(self._holds) >= MOST_HOLDS:
            raise UsageError(f"there are {MOST_HOLDS} holds", "hold", "forget one first")
        word = self.free_name(at) if name is None else usable_file_name(name, "hold")
        if self._find(word) is not None:
            raise UsageError(f"there is a hold {word} already", "hold", "forget it first, or choose another name")
        made = Hold(
            name=word, at=at, feed=feed, reading=reading, controls=controls,
            picture=None if view is None else small_picture(view.small),
        )  # fmt: skip
        self._holds = (made, *self._holds)
        self._choose(made)
        return made

    def choose(self, name: str | None) -> None:
        """Compare with this hold from now on; None ends comparing."""
        self._choose(None if name is None else self._known(name))

    def drop(self, name: str) -> Hold:
        """Forget a hold; what was forgotten is returned."""
        gone = self._known(name)
        self._holds = tuple(each for each in self._holds if each is not gone)
        if gone is self._chosen:
            self._choose(None)
        else:
            self._matching = msgspec.structs.replace(self._matching, names=self._names(), marks=self._marks())
        return gone

    def free_name(self, at: Instant) -> str:
        """A name that no hold has: a number and the operator's time.

        >>> MatchDesk(utc_offset=7200.0).free_name(Instant(0.0, 43500.0))
        'hold 1 14.05'
        """
        time = datetime.fromtimestamp(at.utc, UTC) + timedelta(seconds=self._offset)
        number = len(self._holds) + 1
        while self._find(name := f"hold {number} {time:%H.%M}") is not None:
            number += 1
        return name

    def look(
        self,
        reading: Reading | None,
        view: View | None,
        now: Instant,
        *,
        controls: Controls | None = None,
        limits: ControlLimits | None = None,
        camera: CameraProfile | None = None,
        planning_wanted: bool = False,
    ) -> None:
        """The difference of a reading, and about once a second what to move; nothing without a chosen hold.

        ``controls`` is None where nobody said what is set. Plans are made only while ``planning_wanted``.
        """
        self._good = reading is not None and reading.validity == "good"
        if self._chosen is None or self._then is None:
            return
        if reading is None:
            self.forget()
            return
        if reading.validity == "suspect":
            # A damaged frame says nothing; what was told last stands until the next, but not for long.
            if not _within(self._sure, now, STALE_SECONDS):
                self.forget(DOUBTED)
            return
        self._sure = now
        live = Light(reading, known_curve(reading.encoding.curve), around=self._seen_around(reading, view, now))
        found = difference(live, self._then)
        wish = _Wish(controls, limits, camera, planning_wanted)
        told = msgspec.structs.replace(self._matching, difference=found)
        if wish != self._wish or not _within(self._told_at, now, PLAN_SECONDS):
            self._told_at, self._wish = now, wish
            planned, trouble = self._plan(live, found, wish)
            told = msgspec.structs.replace(
                told,
                moves=what_to_move(found),
                planned=planned,
                trouble=trouble,
                cautions=match_cautions(found, _sky(live, self._then)) if planned is None else planned.cautions,
            )
        self._matching = told

    def forget(self, why: str = NO_PICTURE) -> None:
        """The picture is gone: what was told of it holds no longer."""
        self._good, self._around, self._told_at, self._sure = False, None, None, None
        trouble = why if self._chosen is not None else None
        self._matching = msgspec.structs.replace(self._fresh(), trouble=trouble)

    def drift_stops(self) -> float | None:
        """How far the picture has drifted from the chosen hold, above zero brighter: the skin, else its middle.

        None without a chosen hold, and while the picture cannot be vouched for.
        """
        found = self._matching.difference
        if found is None or not self._good:
            return None
        apart = found.sitter or found.middle
        return None if apart is None else apart.stops

    def _plan(self, live: Light, found: Difference, wish: _Wish) -> tuple[Planned | None, str | None]:
        """What to move in terms of the controls, or why that cannot be told."""
        assert self._then is not None
        if found.sitter is None and found.middle is None and found.notes:
            return None, found.notes[0]
        if wish.controls is None:
            return None, NOT_SAID
        if not wish.planning:
            return None, None
        try:
            return to_match(live, self._then, wish.controls, limits=wish.limits, camera=wish.camera, found=found), None
        except StopkeeperError as error:
            return None, f"{error.what}; {error.todo}" if error.todo else error.what

    def _seen_around(self, reading: Reading, view: View | None, now: Instant) -> Seen | None:
        """What lies around the sitters: looked for anew when it is due, else what was found a moment ago."""
        last = self._around
        if view is None or (last is not None and _within(last[1], now, AROUND_SECONDS)):
            return last[0] if last is not None and _within(last[1], now, STALE_SECONDS) else None
        step = max(1, -(-view.small.shape[1] // WIDEST), -(-view.small.shape[0] // HIGHEST))
        curve = known_curve(reading.encoding.curve)
        self._around = (Light(reading, curve, view.small[::step, ::step]).surroundings(), now)
        return self._around[0]

    def _choose(self, hold: Hold | None) -> None:
        self._chosen, self._then = hold, None
        if hold is not None:
            curve = known_curve(hold.reading.encoding.curve)
            self._then = Light(hold.reading, curve, pixels_of(hold.picture))
        self._around = self._told_at = None
        self._matching = self._fresh()

    def _fresh(self) -> Matching:
        return Matching(names=self._names(), marks=self._marks(), hold=self._chosen)

    def _names(self) -> tuple[str, ...]:
        return tuple(each.name for each in self._holds)

    def _marks(self) -> tuple[HoldMark, ...]:
        return tuple(HoldMark(name=each.name, at=each.at, feed=each.feed) for each in self._holds)

    def _find(self, name: str) -> Hold | None:
        key = " ".join(name.split()).casefold()
        return next((each for each in self._holds if each.name.casefold() == key), None)

    def _known(self, name: str) -> Hold:
        found = self._find(name)
        if found is None:
            raise UsageError(f"there is no hold {name}", "hold", "choose one of the list")
        return found


def small_picture(small: Pixels) -> SmallPicture:
    """A picture of at most 160 by 90 pixels, in the proportions of what it is made from, shape (height, width, 3).

    >>> made = small_picture(np.zeros((270, 480, 3), np.uint8))
    >>> made.width, made.height, len(made.rgb)
    (160, 90, 43200)
    """
    height, width = small.shape[:2]
    scale = min(1.0, WIDEST / width, HIGHEST / height)
    size = max(1, round(width * scale)), max(1, round(height * scale))
    made = np.ascontiguousarray(small if scale == 1.0 else cv2.resize(small, size, interpolation=cv2.INTER_AREA))
    return SmallPicture(width=made.shape[1], height=made.shape[0], rgb=made.tobytes())


def _sky(*pictures: Light) -> bool:
    """Whether one of the pictures has bright light in it such as a sky's."""
    told = [(each.reading, each.curve) for each in pictures if each.curve is not None]
    return any(suggest(reading, curve).policy == OPEN_SKY for reading, curve in told if reading.clipped is not None)


def _within(last: Instant | None, now: Instant, seconds: float) -> bool:
    return last is not None and 0.0 <= now.since(last) < seconds - 1e-6
