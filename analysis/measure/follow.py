"""Follows several faces from search to search: one name for one person, a state for each, one of them the main one.

Searches are made a few times a second; in between, and when a search misses a face, its place is held. Moving
people, measured: held for a quarter of a second, the place is 1.4 % of the face's height out and the level 0.2 IRE.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

import msgspec
import numpy as np

from analysis.measure.ellipse import ellipse
from analysis.measure.face import START, Box, Face
from analysis.measure.shrunken import Shrunken
from analysis.model.instant import Instant
from analysis.model.sitter import SitterState

HOLD = 1.0
"""Seconds for which a place is held after the last search that found the face."""
SMOOTHING = 0.3
"""Time constant in seconds of the mean over boxes."""
JUMP = 0.15
"""A face that moved by more than this part of its height is taken where it is: late boxes cost more than jumpy ones."""
SAME = 0.3
"""Overlap (intersection over union) from which on two boxes are of the same face."""
NEAR = 1.0
"""Face heights within which the nearest face is the same one, if its size is like it."""
LIKE = 1.8
"""Greatest ratio of the sizes of the same face in two searches."""
REMEMBERED = 30.0
"""Seconds for which a name is kept for somebody who is gone."""
WATCHED = 10.0
"""Seconds for which a place where the face went dark or clipped is said to be so."""
LEAVING, EDGE = 0.4, 0.02
"""Who moved faster than this many face heights a second, or touched the edge of the picture (part of it), has left."""
CHANGED = 6.0
"""IRE by which the level of a held place may change before it is believed that the face has left it."""
DARK = 8.0
"""IRE above black below which faces are no longer found (half of them at 5 to 8 IRE, measured)."""
NEARLY_CLIPPED, CLIPPED_SHARE = 2.0, 0.5
"""A place is clipped where this share of it lies within so many IRE of the level at which the signal ends."""
STEADY = 2.0
"""Seconds over which it is counted how steadily a face is found."""
CLEARLY = 1.3
"""How much more another face must weigh before it becomes the main one by itself."""
MOST = 8
"""Faces followed at a time."""

Lost = Literal["too dark", "clipped", "left"]
"""Why a face that was followed is not found any more, when that is known."""


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """The ellipse of a face on a small picture: ``level`` (70th percentile) in IRE, ``clipped`` part (0 to 1)."""

    level: float
    clipped: float


class Sitter(msgspec.Struct, frozen=True, kw_only=True):
    """One face that is followed.

    ``box`` is x, y, width, height in picture pixels, smoothed. ``turn`` as in
    :class:`analysis.measure.face.Face`, smoothed. ``found`` is when a search last found it, ``since`` when the first
    did, ``looked`` when the last search was made (monotonic seconds). ``steadiness`` is the share of
    recent searches that found it, ``speed`` how fast it moves in face heights a second. ``look`` is how its place
    looked when it was last found.
    """

    name: str
    box: Box
    confidence: float
    turn: float
    since: float
    found: float
    looked: float
    steadiness: float
    look: Look
    speed: float = 0.0
    lost: Lost | None = None

    def state(self, now: Instant) -> SitterState | None:
        """What may be said of this face at ``now``; None when it is gone.

        A face that the last search missed is held for :data:`HOLD` seconds, whatever the reason. After
        that a place known to be dark or clipped is said to be so; anything else is gone. Searches that do
        not come any more age in the same way.
        """
        age = now.monotonic - self.found
        if self.lost == "left":
            return None
        if age > HOLD:
            return self.lost if now.monotonic - self.looked <= HOLD else None
        return "seen" if self.looked <= self.found and age <= HOLD / 2 else "held"


class Company(msgspec.Struct, frozen=True, kw_only=True):
    """Everybody who is followed, in the order of their names; ``gone`` are those whose names are still kept.

    ``main`` is the name of the main sitter, ``chosen`` the one the operator asked for.
    """

    sitters: tuple[Sitter, ...] = ()
    gone: tuple[Sitter, ...] = ()
    main: str | None = None
    chosen: str | None = None

    def present(self, now: Instant) -> tuple[Sitter, ...]:
        """Those who are not gone at ``now``."""
        return tuple(sitter for sitter in self.sitters if sitter.state(now) is not None)

    def anyone_seen(self, now: Instant) -> bool:
        """Whether the last search found anybody."""
        return any(sitter.state(now) == "seen" for sitter in self.sitters)

    def main_at(self, now: Instant) -> str | None:
        """The main sitter among those present: the chosen one while present."""
        names = [sitter.name for sitter in self.present(now)]
        for name in (self.chosen, self.main):
            if name in names:
                return name
        return names[0] if names else None


def choose(company: Company, name: str | None) -> Company:
    """The same company with this sitter as the main one whenever present; None lets size and steadiness decide.

    >>> choose(Company(), "sitter 2").chosen
    'sitter 2'
    """
    return msgspec.structs.replace(company, chosen=name)


def look(small: Shrunken, box: Box, end: float = 100.0) -> Look | None:
    """How the place of a face looks on a small picture; None when it lies outside.

    ``end`` is the level in IRE at which the signal ends.

    >>> grey = np.full((180, 320), 102, np.uint8)
    >>> look(Shrunken(grey, grey, (0, 0, 320, 180)), (100.0, 40.0, 60.0, 80.0))
    Look(level=40.0, clipped=0.0)
    """
    across, down = small.scale
    part = ellipse(
        ((box[0] - small.area[0]) / across, (box[1] - small.area[1]) / down, box[2] / across, box[3] / down),
        (small.luma.shape[1], small.luma.shape[0]),
    )
    if part is None:
        return None
    luma = small.luma[part.rows, part.columns][part.inside]
    bright = 2.55 * (min(end, 100.0) - NEARLY_CLIPPED)
    return Look(level=float(np.percentile(luma, 70.0)) / 2.55, clipped=float(np.mean(luma >= bright)))


def follow(
    company: Company, faces: Iterable[Face], small: Shrunken, now: Instant, *, black: float = 0.0, end: float = 100.0
) -> Company:
    """The company after one search: ``faces`` found on ``small``, the picture as it was at ``now``.

    ``black`` is the level of no light in IRE (0, or where a log curve has it), ``end`` the level at which the
    signal ends. A place that is missed is kept while it looks as it did, or is dark or clipped;
    one that looks otherwise has been left.
    """
    free = list(faces)
    pairs = _matched(company.sitters, free, NEAR)
    kept: list[Sitter] = []
    gone = list(company.gone)
    for sitter in company.sitters:
        face = pairs.get(sitter.name)
        after = _found(sitter, face, small, now, end) if face is not None else _missed(sitter, small, now, black, end)
        (kept if after.state(now) is not None else gone).append(after)
    used = {id(face) for face in pairs.values()}
    new = [face for face in free if id(face) not in used and face.confidence >= START][: MOST - len(kept)]
    back = _matched(gone, new, NEAR)
    if not kept and len(gone) == 1 and len(new) == 1:
        back = {gone[0].name: new[0]}  # one left an empty picture and one came back
    gone = [sitter for sitter in gone if sitter.name not in back and now.monotonic - sitter.found <= REMEMBERED]
    named = {id(face): name for name, face in back.items()}
    taken = {sitter.name for sitter in (*kept, *gone)} | set(named.values())
    for face in new:
        name = named.get(id(face)) or _next_name(taken)
        taken.add(name)
        kept.append(_first(name, face, small, now, end))
    sitters = tuple(sorted(kept, key=lambda sitter: _number(sitter.name)))
    return Company(sitters=sitters, gone=tuple(gone), main=_main(sitters, company.main), chosen=company.chosen)


def overlap(one: Box, other: Box) -> float:
    """Intersection over union of two boxes.

    >>> round(overlap((0, 0, 10, 10), (5, 0, 10, 10)), 4)
    0.3333
    """
    across = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    down = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    if across <= 0.0 or down <= 0.0:
        return 0.0
    both = across * down
    return both / (one[2] * one[3] + other[2] * other[3] - both)


def _matched(sitters: Iterable[Sitter], faces: list[Face], near: float) -> dict[str, Face]:
    """Who is who: overlapping boxes first, the greatest overlap first, then the nearest of like size."""
    order = []
    for sitter in sitters:
        for face in faces:
            shared = overlap(sitter.box, face.box)
            if shared >= SAME:
                order.append((0, -shared, sitter.name, face))
                continue
            tall, other = sitter.box[3], face.box[3]
            if max(tall, other) <= LIKE * min(tall, other):
                away = math.dist(_centre(sitter.box), _centre(face.box)) / max(tall, other)
                if away <= near:
                    order.append((1, away, sitter.name, face))
    pairs: dict[str, Face] = {}
    used: set[int] = set()
    for _, _, name, face in sorted(order, key=lambda item: item[:3]):
        if name not in pairs and id(face) not in used:
            pairs[name] = face
            used.add(id(face))
    return pairs


def _first(name: str, face: Face, small: Shrunken, now: Instant, end: float) -> Sitter:
    at = now.monotonic
    return Sitter(
        name=name,
        box=face.box,
        confidence=face.confidence,
        turn=face.turn,
        since=at,
        found=at,
        looked=at,
        steadiness=0.5,
        look=look(small, face.box, end) or Look(level=0.0, clipped=0.0),
    )


def _found(sitter: Sitter, face: Face, small: Shrunken, now: Instant, end: float) -> Sitter:
    passed = max(0.0, now.monotonic - sitter.looked)
    part = 1.0 - math.exp(-passed / SMOOTHING)
    moved = math.dist(_centre(sitter.box), _centre(face.box)) / face.box[3]
    weight = 1.0 if moved > JUMP or sitter.looked > sitter.found else part
    speed = moved / max(now.monotonic - sitter.found, 0.05)
    box = tuple(old + weight * (new - old) for old, new in zip(sitter.box, face.box, strict=True))
    held: Box = (box[0], box[1], box[2], box[3])
    return msgspec.structs.replace(
        sitter,
        box=held,
        confidence=face.confidence,
        turn=sitter.turn + part * (face.turn - sitter.turn),
        found=now.monotonic,
        looked=now.monotonic,
        steadiness=sitter.steadiness + (1.0 - math.exp(-passed / STEADY)) * (1.0 - sitter.steadiness),
        look=look(small, held, end) or sitter.look,
        speed=sitter.speed + part * (speed - sitter.speed),
        lost=None,
    )


def _missed(sitter: Sitter, small: Shrunken, now: Instant, black: float, end: float) -> Sitter:
    passed = max(0.0, now.monotonic - sitter.looked)
    return msgspec.structs.replace(
        sitter,
        looked=now.monotonic,
        steadiness=sitter.steadiness * math.exp(-passed / STEADY),
        lost=_why(sitter, small, now, black, end),
    )


def _why(sitter: Sitter, small: Shrunken, now: Instant, black: float, end: float) -> Lost | None:
    """What became of a face that this search missed."""
    seen = look(small, sitter.box, end)
    if seen is None:
        return "left"
    changed = abs(seen.level - sitter.look.level) > CHANGED
    if changed and _was_leaving(sitter, small):
        return "left"
    if now.monotonic - sitter.found <= WATCHED:
        if seen.clipped >= CLIPPED_SHARE:
            return "clipped"
        if seen.level < black + DARK:
            return "too dark"
    return "left" if changed else None


def _was_leaving(sitter: Sitter, small: Shrunken) -> bool:
    left, top, width, height = small.area
    x, y, w, h = sitter.box
    margin = EDGE * width
    at_edge = x < left + margin or x + w > left + width - margin or y < top - h / 2 or y + h > top + height + h / 4
    return sitter.speed > LEAVING or at_edge


def _main(sitters: tuple[Sitter, ...], before: str | None) -> str | None:
    """The largest and steadiest; whoever is it already stays it until another is clearly more."""
    if not sitters:
        return before
    weights = {sitter.name: sitter.box[3] * sitter.steadiness for sitter in sitters}
    best = max(weights, key=lambda name: weights[name])
    if before in weights and weights[best] < CLEARLY * weights[before]:
        return before
    return best


def _next_name(taken: set[str]) -> str:
    number = 1
    while f"sitter {number}" in taken:
        number += 1
    return f"sitter {number}"


def _number(name: str) -> int:
    return int(name.rpartition(" ")[2])


def _centre(box: Box) -> tuple[float, float]:
    return box[0] + box[2] / 2.0, box[1] + box[3] / 2.0
