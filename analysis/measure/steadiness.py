"""An end of the signal over time: believed once it has stood, kept while nothing speaks against it.

A ceiling is seen only while something reaches it. So it is kept when the highlights go, for a while; it is given up
when pixels lie beyond it; and it moves when a pile-up stands somewhere else, as it does when the ISO changes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from analysis.measure.ceiling_evidence import Sight

SETTLE_SECONDS, SETTLE_LOOKS = 0.6, 4
"""How long a pile-up must have been proven, and in how many pictures at least, to be believed."""
KEEP_SECONDS = 30.0
"""How long an end is kept that nothing reaches."""
GIVE_UP_SECONDS = 0.5
"""How long pixels must lie beyond an end before it is given up."""
LONGEST_STEP = 0.3
"""Seconds that one picture can count for, however long ago the one before was."""
SAME = 2.2
"""Levels this near to each other are the same, in 8-bit codes (1 IRE)."""
FOLLOW_SECONDS = 2.0
"""How slowly a believed level follows what is seen of it."""
BEYOND = 0.15
"""Share beyond an end that speaks against it, as a part of the share on it."""
LEAST_BEYOND = 2e-4
STILL_REACHED = 0.1
"""A higher end stays while it holds this part of what lies on a lower pile-up."""
LIGHT_CHANGE, SHARE_CHANGE = 3.5, 1.15
"""A change of light: the middle of the picture by so many 8-bit codes, and the share on the end by this factor."""


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """A believed end: ``code`` its level, ``share`` what lies on it now (0 to 1), ``since`` the time it first stood."""

    code: float
    share: float
    channels: tuple[str, ...]
    since: float


class _Candidate:
    """A pile-up on its way to be believed."""

    def __init__(self, code: float, now: float, share: float, light: float) -> None:
        self.code, self.since, self.seen = code, now, now
        self.score, self.looks = 0.0, 0
        self.share, self.light = share, light
        self.stood = False


class Steadiness:
    """Follows one end of the signal; ``unit`` is codes to an 8-bit code."""

    def __init__(self, unit: float) -> None:
        self._unit = unit
        self._same = SAME * unit
        self._held: Standing | None = None
        self._seen = 0.0
        self._against = 0.0
        self._candidate: _Candidate | None = None
        self._last: float | None = None

    @property
    def held(self) -> Standing | None:
        """What is believed."""
        return self._held

    def see(
        self, sights: Sequence[Sight], above: Callable[[str, float], float], light: float, now: float
    ) -> Standing | None:
        """What is believed after one more picture.

        ``above(channel, code)`` is the share of pixels above a code, ``light`` the middle code of the picture.
        """
        step = 0.0 if self._last is None else min(max(now - self._last, 0.0), LONGEST_STEP)
        self._last = now
        self._keep(sights, above, now, step)
        self._consider(sights, light, now, step)
        return self._held

    def _keep(self, sights: Sequence[Sight], above: Callable[[str, float], float], now: float, step: float) -> None:
        held = self._held
        if held is None:
            return
        here = [sight for sight in sights if abs(sight.code - held.code) <= self._same]
        share = _preferred(here).share if here else 0.0
        edge = held.code + self._same
        beyond = max(above(channel, edge) for channel in held.channels)
        self._against = self._against + step if beyond > max(LEAST_BEYOND, BEYOND * share) else 0.0
        if here:
            self._seen = now
            follow = min(1.0, step / FOLLOW_SECONDS)
            code = held.code + follow * (_code(here) - held.code)
            named = tuple(dict.fromkeys([*held.channels, *(sight.channel for sight in here)]))
            held = Standing(code=code, share=share, channels=named, since=held.since)
        else:
            held = msgspec.structs.replace(held, share=share)
        gone = self._against >= GIVE_UP_SECONDS or now - self._seen > KEEP_SECONDS
        self._held = None if gone else held

    def _consider(self, sights: Sequence[Sight], light: float, now: float, step: float) -> None:
        """Bring the candidate on; it becomes what is believed when it has stood long enough."""
        elsewhere = [sight for sight in sights if not self._is_held(sight)]
        candidate = self._candidate
        near: list[Sight] = []
        if candidate is not None:
            near = [sight for sight in elsewhere if abs(sight.code - candidate.code) <= self._same]
        if candidate is None or (not near and now - candidate.seen > SETTLE_SECONDS):
            likely = [sight for sight in elsewhere if sight.proven] or [sight for sight in elsewhere if sight.clear]
            if not likely:
                self._candidate = None
                return
            first = _preferred(likely)
            candidate = self._candidate = _Candidate(first.code, now, first.share, light)
            near = [sight for sight in elsewhere if abs(sight.code - candidate.code) <= self._same]
        if near:
            candidate.seen = now
            candidate.stood = candidate.stood or self._stood(candidate, near, light)
        proven = [sight for sight in near if sight.proven or (candidate.stood and sight.clear)]
        if proven:
            candidate.looks += 1
            candidate.score += step if candidate.looks > 1 else 0.0
            candidate.code += 0.3 * (_code(proven) - candidate.code)
        else:
            candidate.score = max(0.0, candidate.score - 0.5 * step)
        if candidate.score < SETTLE_SECONDS - 1e-9 or candidate.looks < SETTLE_LOOKS or not proven:
            return
        self._candidate = None
        share = _preferred(near).share
        higher = self._held is not None and candidate.code < self._held.code and self._seen == now
        if higher and self._held is not None and self._held.share >= STILL_REACHED * share:
            return
        self._seen, self._against = now, 0.0
        self._held = Standing(
            code=candidate.code,
            share=share,
            channels=tuple(sight.channel for sight in near),
            since=candidate.since,
        )

    def _is_held(self, sight: Sight) -> bool:
        return self._held is not None and abs(sight.code - self._held.code) <= self._same

    def _stood(self, candidate: _Candidate, near: list[Sight], light: float) -> bool:
        """Whether the light changed, and the share on the level with it, and the level did not."""
        sight = _preferred(near)
        if not sight.clear or abs(sight.code - candidate.code) > 0.6 * self._unit:
            return False
        change = light - candidate.light
        ratio = sight.share / max(candidate.share, 1e-9)
        if change >= LIGHT_CHANGE * self._unit:
            return ratio >= SHARE_CHANGE
        return change <= -LIGHT_CHANGE * self._unit and ratio <= 1.0 / SHARE_CHANGE


def _preferred(sights: Sequence[Sight]) -> Sight:
    """Luma where it is among them, else the channel with the largest share."""
    return max(sights, key=lambda sight: (sight.channel == "luma", sight.share))


def _code(sights: Sequence[Sight]) -> float:
    return float(_preferred(sights).code)
