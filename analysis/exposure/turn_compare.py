"""Two maps of light compared: by how much the light of ground and sitter differs, and whether it is one shot.

The change of a picture is the one on which most of its cells agree: people who move, and what they hide and
uncover, are few or disagree among themselves. Only cells trusted in both maps count, so clipped areas say nothing.
"""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.turn_zones import (
    FEW,
    Lit,
    Zones,
    below,
    core,
    light_in,
    lit_change,
    main_box,
    overlap,
    zones_of,
)
from analysis.model.light import COLUMNS, ROWS, LightMap, SeenSitter

Floats = npt.NDArray[np.float32]

BIN = 0.05
REACH = 12.0
"""Stops of change that are told apart, to either side."""
NEAR = 0.15
"""Cells agree with a change when theirs differs by less than this, in stops."""
FEWEST = 12
"""Fewer cells than this say nothing about the ground."""
FAINT = 0.06
"""Differences between neighbouring cells below this are noise."""
FLAT = 0.03
"""A picture whose neighbouring cells differ by less than this on the average has no structure to compare."""
SITTER_MOVED = 0.75
"""Boxes that overlap less than this (intersection over union) are of a face that went elsewhere."""
SEARCH_ROWS, SEARCH_COLUMNS = 5, 9
"""Cells by which a picture may be shifted and still be recognised as the same view."""


class Look(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A map of light and who was in the picture.

    ``face`` and ``body`` are the light of the main sitter where they are; ``unrest`` says that they moved while
    the map was taken, so that only these two are known of them.
    """

    light: LightMap
    sitters: tuple[SeenSitter, ...]
    face: Lit | None = None
    body: Lit | None = None
    unrest: bool = False


def look_at(light: LightMap, sitters: tuple[SeenSitter, ...]) -> Look:
    """A look, with the light of its sitter; ``sitters`` are where they lie in the picture."""
    down, right = light.shift
    if down or right:
        sitters = tuple(
            msgspec.structs.replace(each, box=(each.box[0] - right / COLUMNS, each.box[1] - down / ROWS, *each.box[2:]))
            for each in sitters
        )
    box = main_box(sitters)
    if box is None:
        return Look(light=light, sitters=())
    return Look(light=light, sitters=sitters, face=light_in(light, core(box)), body=light_in(light, below(box)))


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """How the light of a later look differs from that of an earlier one, in stops; None where not known.

    ``whole`` is of all cells taken together, ``ground`` of what is no sitter and ``middle`` the
    median there, ``bright`` of most of its brightest
    tenth, ``face`` and ``body`` of the main sitter. ``even`` is the share (0 to 1) of the ground's cells that agree
    with its change, ``kept`` how much of the picture's structure is still there, None where it has none to compare;
    ``seen`` the share of cells trusted in both. ``sitter_moved`` says that the face is elsewhere, ``face_at_least``
    that clipping hides part of its change.
    """

    whole: float | None
    ground: float | None
    middle: float | None
    bright: float | None
    face: float | None
    body: float | None
    even: float
    kept: float | None
    seen: float
    sitter_moved: bool = False
    face_at_least: bool = False


def compare(before: Look, after: Look) -> Change:
    """What changed from one look to a later one, places taken as they are."""
    one, two = before.light, after.light
    trusted = one.trusted & two.trusted
    delta = two.stops - one.stops
    zones = zones_of(before.sitters or after.sitters)
    ground = zones.ground & trusted
    of_ground = delta[ground]
    change = most_common(of_ground)
    even = 0.0 if change is None else float(np.count_nonzero(np.abs(of_ground - change) < NEAR) / of_ground.size)
    old, new = main_box(before.sitters), main_box(after.sitters)
    moved = old is not None and new is not None and overlap(old, new) < SITTER_MOVED
    face, at_least = _face(before, after, zones)
    of_body = delta[zones.body & trusted]
    body = float(np.median(of_body)) if of_body.size >= 3 else None
    moved = moved or before.unrest or after.unrest
    if moved:
        face, at_least = lit_change(before.face, after.face)
        body, _ = lit_change(before.body, after.body)
    return Change(
        whole=most_common(delta[trusted]),
        ground=change,
        middle=None if change is None else float(np.median(of_ground)),
        bright=_bright(one, delta, ground),
        face=face,
        body=body,
        even=even,
        kept=structure_kept(one, two, trusted),
        seen=float(trusted.mean()),
        sitter_moved=moved,
        face_at_least=at_least,
    )


def most_common(deltas: Floats) -> float | None:
    """The change on which most of these agree: the fullest bin and what lies around it; None of too few.

    >>> walls, people = np.full(80, -1.0, np.float32), np.linspace(-4.0, 4.0, 40, dtype=np.float32)
    >>> round(most_common(np.concatenate([walls, people])), 2)
    -1.0
    """
    if deltas.size < FEWEST:
        return None
    bins = np.clip((deltas + REACH) * (1.0 / BIN), 0, 2 * REACH / BIN).astype(np.intp)
    counts = np.bincount(bins, minlength=int(2 * REACH / BIN) + 1)
    centre = (int(np.convolve(counts, np.ones(5), "same").argmax()) + 0.5) * BIN - REACH
    for reach in (NEAR + BIN, NEAR):
        near = deltas[np.abs(deltas - centre) <= reach]
        if near.size:
            centre = float(near.mean())
    return centre


def structure_kept(one: LightMap, two: LightMap, trusted: npt.NDArray[np.bool_]) -> float | None:
    """How much of what tells neighbouring cells apart is the same in both, 0 to 1; light alone leaves it at 1.

    Steps from cell to cell, in stops, do not change with exposure: shared over all there are (the weighted
    Jaccard index of signed steps). None where there is too little of it.
    """
    faint = _noise(one, two, trusted)
    shared = total = places = 0.0
    for axis in (0, 1):
        both = trusted[1:] & trusted[:-1] if axis == 0 else trusted[:, 1:] & trusted[:, :-1]
        a, b = np.diff(one.stops, axis=axis)[both], np.diff(two.stops, axis=axis)[both]
        size_a, size_b = np.maximum(np.abs(a) - faint, 0.0), np.maximum(np.abs(b) - faint, 0.0)
        shared += float(np.minimum(size_a, size_b)[(a > 0) == (b > 0)].sum())
        total += float(np.maximum(size_a, size_b).sum())
        places += both.sum()
    return shared / total if places > FEWEST and total > FLAT * places else None


def structure(light: LightMap) -> float:
    """How much there is to tell cells from their neighbours, in stops summed over the picture."""
    total = 0.0
    for axis in (0, 1):
        good = light.trusted[1:] & light.trusted[:-1] if axis == 0 else light.trusted[:, 1:] & light.trusted[:, :-1]
        total += float(np.maximum(np.abs(np.diff(light.stops, axis=axis))[good] - FAINT, 0.0).sum())
    return total


def _noise(one: LightMap, two: LightMap, trusted: npt.NDArray[np.bool_]) -> float:
    """Steps below this may be noise: judged by how the cells' changes scatter, where most agree."""
    delta = (two.stops - one.stops)[trusted]
    if delta.size < FEWEST:
        return FAINT
    scatter = float(np.median(np.abs(delta - np.median(delta))))
    return min(max(FAINT, 2.5 * scatter), 0.3)


def shift_between(one: LightMap, two: LightMap) -> tuple[int, int, float]:
    """By how many cells (down, right) the view of ``one`` lies displaced in ``two``, and how well it fits (0 to 1)."""
    detail = [np.asarray(light.stops - cv2.blur(light.stops, (9, 9)), np.float32) for light in (one, two)]
    y, x = SEARCH_ROWS, SEARCH_COLUMNS
    middle = np.ascontiguousarray(detail[0][y : ROWS - y, x : COLUMNS - x])
    fit = cv2.matchTemplate(detail[1], middle, cv2.TM_CCOEFF_NORMED)
    _, best, _, (column, row) = cv2.minMaxLoc(fit)
    return row - y, column - x, float(best)


def shifted(look: Look, down: int, right: int) -> Look:
    """The look with its view displaced by cells; what comes in from outside is not trusted."""
    if not down and not right:
        return look
    light = look.light
    arrays = {
        name: np.roll(getattr(light, name), (down, right), (0, 1))
        for name in ("stops", "room", "trusted", "clipped", "crushed")
    }
    outside = np.ones((ROWS, COLUMNS), bool)
    outside[max(0, down) : ROWS + min(0, down), max(0, right) : COLUMNS + min(0, right)] = False
    for name in ("trusted", "clipped", "crushed"):
        arrays[name][outside] = False
    moved = tuple(
        msgspec.structs.replace(each, box=(each.box[0] + right / COLUMNS, each.box[1] + down / ROWS, *each.box[2:]))
        for each in look.sitters
    )
    return Look(light=msgspec.structs.replace(light, **arrays), sitters=moved)


def _bright(one: LightMap, delta: Floats, ground: npt.NDArray[np.bool_]) -> float | None:
    if np.count_nonzero(ground) < 2 * FEWEST:
        return None
    stops = one.stops[ground]
    place = max(0, stops.size - max(FEWEST, stops.size // 10))
    deltas = delta[ground][np.argpartition(stops, place)[place:]]
    change = most_common(deltas)
    # Somebody who stands before the window says nothing of its light.
    return change if change is not None and np.mean(np.abs(deltas - change) < 2.0 * NEAR) > 0.5 else None


def _face(before: Look, after: Look, zones: Zones) -> tuple[float | None, bool]:
    """Change of the mean light on a face that stayed where it is, and whether it is at least that."""
    one, two = before.light, after.light
    cells = np.count_nonzero(zones.face)
    if not cells:
        return None, False
    good = zones.face & one.trusted & two.trusted
    if np.count_nonzero(good) >= max(1.0, 0.3 * cells):
        change = _mean(two, good) - _mean(one, good)  # type: ignore[operator]
        left = (two.clipped & ~one.clipped) | (one.crushed & ~two.crushed)
        left = left if change > 0.0 else (one.clipped & ~two.clipped) | (two.crushed & ~one.crushed)
        return change, bool(left[zones.face].mean() > FEW)
    # Too little is trusted in both. Light that left the range went further than what can be seen of it.
    change = float(np.mean((two.stops - one.stops)[zones.face]))
    hidden = one.crushed | two.clipped if change > 0.0 else one.clipped | two.crushed
    return (change, True) if hidden[zones.face].mean() > 0.3 else (None, False)


def _mean(light: LightMap, cells: npt.NDArray[np.bool_]) -> float | None:
    """Mean linear light of cells, in stops."""
    found = light.stops[cells]
    return float(np.log2(np.exp2(found.astype(np.float64)).mean())) if found.size else None
