"""What kind of change it was: of everything, of the sitter, of the ground, of a part."""

from __future__ import annotations

import msgspec

from analysis.exposure.turn_compare import Change, Look
from analysis.exposure.turn_region import changed_region
from analysis.model.turn import TurnKind

LEAST = 0.2
"""Smaller changes, in stops, are not told: a third of a stop is the least that anybody sets."""
SAME = 0.15
"""Sitter and ground changed alike when their changes differ by no more than this, and a little with the amount."""
UNCHANGED = 0.12
SPILL = 0.25
"""A key light reaches the ground as well; up to this part of what it adds to the sitter it is the sitter's light."""
HALF = 0.5
"""Where fewer of the ground's cells than this agree, its median is told instead of what most agree on."""
EVEN = 0.35
"""Where fewer of the ground's cells than this agree, it did not change by one amount."""


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """A change by its kind, with the amounts that :class:`analysis.model.turn.Turn` tells.

    ``of_part`` says that it was seen in a region of the ground alone, as somebody who comes or goes is.
    """

    kind: TurnKind
    stops: float
    share: float
    at_least: bool = False
    sitter: float | None = None
    background: float | None = None
    of_part: bool = False
    about: bool = False


def kind_of(before: Look, after: Look, change: Change, least: float = LEAST) -> Kind | None:
    """The kind of a change between two looks of one shot, None where nothing changed that matters."""
    ground = change.ground if change.ground is not None else change.whole
    if ground is None:
        return None
    sitter = _of_sitter(change, ground)
    region = changed_region(before, after, ground)
    if region is not None and abs(region.stops) >= max(least, 2.0 * abs(ground)) and abs(ground) < 2.0 * least:
        quiet = sitter is None or abs(sitter) < max(least, abs(region.stops) / 2.0)
        if quiet:
            kind: TurnKind = "background" if before.sitters or after.sitters else "part"
            return Kind(
                kind=kind,
                stops=region.stops,
                share=region.share,
                at_least=region.at_least,
                sitter=sitter,
                background=region.stops,
                of_part=True,
            )
    if sitter is None:
        return _without_sitter(change, ground, least)
    if _alike(sitter, ground) or (change.face_at_least and sitter * ground > 0.0 and abs(sitter) < abs(ground)):
        amount = change.whole if change.whole is not None and _alike(change.whole, ground) else ground
        if abs(amount) < least:
            return None
        return Kind(kind="whole", stops=amount, share=change.even, sitter=sitter, background=ground)
    if max(abs(sitter), abs(ground)) < least:
        return None
    hidden = change.face_at_least
    if hidden and change.body is not None and change.body * sitter > 0.0:
        sitter = min(sitter, change.body, key=abs)  # at least so much, whichever of the two is meant
    if change.even < HALF and change.middle is not None:
        ground = change.middle  # a lamp that reaches the ground unevenly: no one amount is told by most of it
    if abs(ground) < UNCHANGED or (abs(ground) < SPILL * abs(sitter) and sitter * ground > 0.0):
        return Kind(kind="sitter", stops=sitter, share=change.even, at_least=hidden, sitter=sitter, background=ground)
    if abs(sitter) < UNCHANGED:
        return Kind(kind="background", stops=ground, share=change.even, sitter=sitter, background=ground)
    return Kind(kind="mixed", stops=sitter, share=change.even, at_least=hidden, sitter=sitter, background=ground)


def _of_sitter(change: Change, ground: float) -> float | None:
    """The change of the sitter's light: the face's, unless the body says that only the face moved."""
    face, body = change.face, change.body
    if face is None:
        return None
    apart = face - ground
    if body is None:
        # A face that went elsewhere has other light there; that is no turn, unless it is much.
        return ground if change.sitter_moved and abs(apart) < 1.0 else face
    below = body - ground
    if abs(apart) > SAME and (apart * below <= 0.0 or abs(below) < 0.25 * abs(apart)):
        return ground
    return face


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= SAME + 0.05 * max(abs(one), abs(other))


def _without_sitter(change: Change, ground: float, least: float) -> Kind | None:
    if abs(ground) < least:
        return None
    kind: TurnKind = "whole" if change.even >= EVEN else "part"
    return Kind(kind=kind, stops=ground, share=change.even, background=ground)
