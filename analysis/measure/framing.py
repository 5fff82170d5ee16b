"""Where the view lies now: a camera in the hand moves it by parts of a cell, which no light may be mistaken for.

The picture is laid over one of a while ago by what most of it agrees on, so people who move count for nothing, and
neither does light that changes everywhere.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from analysis.model.light import COLUMNS, ROWS

FINER = 2
"""Places to a cell, in each direction, of what is laid over one another."""
AGREES = 0.12
"""Stops apart at which two places agree by half."""
BETTER = 0.01
"""So much more of the picture must agree for it to count as displaced."""
LEAST = 0.06
"""Cells of displacement below which the view counts as where it was: nothing is gained by following noise."""
FARTHEST = (3.0, 5.0)
"""Cells down and across from which on what is left of the view is too little: another begins."""
STILL_GOOD, LOST = 0.5, 0.3
"""Shares that agree: below the first the picture to compare with is renewed, below the second there is none."""
LOST_LOOKS = 5
ROUNDS = 5

Stops = npt.NDArray[np.float32]
Shift = tuple[float, float]


class Framing:
    """Follows the view of one feed.

    >>> dice = np.random.default_rng(1)
    >>> wall = cv2.GaussianBlur(dice.normal(0.0, 3.0, (80, 130)).astype(np.float32), (0, 0), 1.5)
    >>> framing = Framing()
    >>> framing.see(wall[10:64, 10:106]), [round(each, 1) for each in framing.see(1.5 + wall[8:62, 9:105])]
    ((0.0, 0.0), [1.0, 0.5])
    """

    def __init__(self) -> None:
        self._then: Stops | None = None
        self._base: Shift = (0.0, 0.0)
        self._last: Shift = (0.0, 0.0)
        self._lost = 0
        self._window = cv2.createHanningWindow((FINER * COLUMNS, FINER * ROWS), cv2.CV_32F)

    def forget(self) -> None:
        """Another picture: what comes lies where it lies."""
        self._then, self._base, self._last, self._lost = None, (0.0, 0.0), (0.0, 0.0), 0

    def see(self, stops: Stops) -> Shift:
        """By how many cells (down, right) the view has moved since it was first seen.

        ``stops`` is the picture's light with two places to a cell each way, shape (54, 96).
        """
        now: Stops = np.asarray(cv2.GaussianBlur(stops, (0, 0), 0.8), np.float32)
        if self._then is None:
            self._then = now
            return 0.0, 0.0
        agreed, found = self._best(self._then, now)
        if agreed < LOST:
            self._lost += 1
            if self._lost >= LOST_LOOKS:
                self.forget()
                self._then = now
            return self._out(self._last)
        self._lost, self._last = 0, found
        down, right = self._out(found)
        if abs(down) > FARTHEST[0] or abs(right) > FARTHEST[1]:
            self.forget()
            self._then = now
            return 0.0, 0.0
        if agreed < STILL_GOOD:
            self._then, self._base, self._last = now, (down, right), (0.0, 0.0)
        return down, right

    def _out(self, found: Shift) -> Shift:
        down, right = self._base[0] + found[0] / FINER, self._base[1] + found[1] / FINER
        return (0.0, 0.0) if max(abs(down), abs(right)) < LEAST else (down, right)

    def _best(self, then: Stops, now: Stops) -> tuple[float, Shift]:
        """How much agrees, and with which displacement (in places)."""
        still = _agreed(then, now, (0.0, 0.0))
        best = still, (0.0, 0.0)
        if still > 1.0 - BETTER:
            return best
        tried = self._followed(then, now, self._last)
        if tried[0] < 0.9:
            (right, down), _ = cv2.phaseCorrelate(then - then.mean(), now - now.mean(), self._window)
            if abs(down) < FINER * FARTHEST[0] and abs(right) < FINER * FARTHEST[1]:
                tried = max(tried, self._followed(then, now, (down, right)))
        return tried if tried[0] > still + BETTER else best

    def _followed(self, then: Stops, now: Stops, start: Shift) -> tuple[float, Shift]:
        """From a displacement that is nearly right to the one on which most agrees."""
        best = _agreed(then, now, start), start
        shift = start
        for _ in range(ROUNDS):
            laid = _laid(now, shift)
            apart = laid - then
            inside = ~np.isnan(apart)
            if np.count_nonzero(inside) < inside.size // 3:
                break
            apart = apart - _middle(apart[inside])
            good = inside & (np.abs(apart) < 0.5)
            slopes = [np.gradient(0.5 * (laid + then), axis=axis) for axis in (0, 1)]
            good &= ~np.isnan(slopes[0]) & ~np.isnan(slopes[1])
            weights = 1.0 / (1.0 + (apart[good] / AGREES) ** 2)
            slope = np.stack([each[good] for each in slopes])
            square = (slope * weights) @ slope.T
            if np.linalg.det(square) < 1e-6:
                break
            moved = np.linalg.solve(square, (slope * weights) @ -apart[good])
            shift = shift[0] + float(np.clip(moved[0], -1.5, 1.5)), shift[1] + float(np.clip(moved[1], -1.5, 1.5))
            best = max(best, (_agreed(then, now, shift), shift))
            if float(np.abs(moved).max()) < 0.02:
                break
        return best


def _laid(now: Stops, shift: Shift) -> Stops:
    """The picture moved back by a displacement; NaN where nothing is known."""
    move = np.array([[1.0, 0.0, shift[1]], [0.0, 1.0, shift[0]]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    size = now.shape[1], now.shape[0]
    laid = cv2.warpAffine(now, move, size, flags=how, borderMode=cv2.BORDER_CONSTANT, borderValue=float("nan"))
    return np.asarray(laid, np.float32)


def _agreed(then: Stops, now: Stops, shift: Shift) -> float:
    """How much of the pictures agrees, 0 to 1, but for one amount of light in which they differ."""
    apart = (_laid(now, shift) if shift != (0.0, 0.0) else now) - then
    apart = apart[~np.isnan(apart)]
    if apart.size < then.size // 3:
        return 0.0
    return float(np.mean(1.0 / (1.0 + ((apart - _middle(apart)) / AGREES) ** 2)))


def _middle(apart: Stops) -> float:
    """The change on which most agree: the middle of the fullest bin."""
    counts, edges = np.histogram(apart, 200, (-10.0, 10.0))
    place = int(np.convolve(counts, (1.0, 1.0, 1.0), "same").argmax())
    near = apart[np.abs(apart - 0.5 * (edges[place] + edges[place + 1])) <= 0.15]
    return float(near.mean()) if near.size else 0.0
