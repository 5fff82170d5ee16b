"""Turns in pictures unlike those of the grid: ``python -m tests.exposure.turn_elsewhere [COUNT [FIRST [KINDS]]]``.

With ``still`` for KINDS exposure does not change at all, and every turn told is false.

Everything is drawn by lot: the room (the boathouse, or a photograph behind the sitter), who sits there, a second
person, people who cross at their own pace, a camera in the hand, grain, the curve and depth, compression, the rate
of frames, amounts that nobody sets, and light that comes slowly.
"""

from __future__ import annotations

import math
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import msgspec
import numpy as np

from analysis.exposure import turn
from analysis.feed.scene.camera import NOISE_REACH, STEPS_PER_SIGMA
from analysis.feed.scene.complexion import names
from analysis.feed.scene.lights import LightLevels
from analysis.feed.scene.stage import Stage
from analysis.model.instant import Instant
from analysis.model.light import LightMap, SeenSitter
from analysis.model.turn import Turn
from tests.exposure.turn_film import HIGH, NOISE_SIGMAS, WIDE, Film, Moment, photo, ramp, window_mask
from tests.exposure.turn_video import frames_in, write

AMOUNTS = (1 / 3, 0.4, 0.5, 2 / 3, 0.8, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0)
SIGNALS = tuple((name, bits) for name in ("acescct", "bt709", "hlg", "cineon", "pq", "srgb") for bits in (8, 10))
KINDS = {
    "whole": ("whole",),
    "iso": ("whole",),
    "sitter": ("sitter",),
    "key": ("sitter", "mixed"),
    "ground": ("background",),
    "window": ("background",),
}
"""What changes, and as what it may be told."""
STILL = "still"
WITHIN = 0.1


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """One draw. ``room`` 0 is the boathouse, others are photographs; ``walks`` how often somebody crosses (seconds,
    0 never); ``shake`` in pixels; ``grain`` times the camera's own noise; ``crf`` of H.264, 0 for none; ``rate`` of
    frames."""

    seed: int
    kind: str
    stops: float
    room: int
    skin: str
    curve: str
    bits: int
    seconds: float = 0.0
    begins: float = 3.0
    second_person: bool = False
    sways: float = 0.0
    walks: float = 0.0
    shake: float = 0.0
    grain: float = 1.0
    crf: int = 0
    rate: float = 25.0

    def every(self) -> float:
        """Seconds between maps: the first frame after a tenth of a second."""
        return math.ceil(0.1 * self.rate - 1e-6) / self.rate


def drawn(seed: int, kinds: tuple[str, ...] = tuple(KINDS)) -> Setting:
    """The setting of a number."""
    dice = np.random.default_rng([seed, 11])

    def one(*of: Any) -> Any:
        return of[int(dice.integers(len(of)))]

    kind, (curve, bits) = one(*kinds), one(*SIGNALS)
    crf = one(0, 0, 23)
    return Setting(
        seed=seed,
        kind=kind,
        stops=0.0 if kind == STILL else one(1.0, -1.0) * one(*AMOUNTS),
        room=one(0, 0, 1, 2, 3, 4, 5),
        skin=one(*names()),
        curve=curve,
        bits=8 if crf else bits,
        seconds=min(one(0.0, 0.0, 0.3, 0.8, 2.0, 3.5), 0.4 if kind == "iso" else 9.0),
        begins=float(dice.uniform(2.6, 4.0)),
        second_person=one(False, False, True),
        sways=one(0.0, 0.5, 1.0),
        walks=one(0.0, 0.0, 4.0, 5.5, 8.0),
        shake=one(0.0, 0.0, 1.0, 3.0),
        grain=one(1.0, 1.0, 3.0),
        crf=crf,
        rate=one(25.0, 25.0, 60.0, 5.0),
    )


@cache
def _people(skin: str) -> tuple[np.ndarray, np.ndarray]:
    """The room with a sitter of this complexion, (3, height, width), and where they are (0 or 1)."""
    stage = Stage(WIDE, HIGH, skin)
    light = stage.palette.under(LightLevels(sky=1.0, sun=0.0, lamp=0.0))
    person = (stage.index() != stage.index(4 * WIDE, 0)).astype(np.float32)
    person = cv2.morphologyEx(person, cv2.MORPH_CLOSE, np.ones((5, 5)))
    return np.asarray(light[:, stage.index()], np.float32), person


class ElsewhereFilm(Film):
    """A film of a setting."""

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        done = ramp(setting.begins, setting.seconds, setting.stops)
        super().__init__(
            lambda now: self.at(done(now), now),
            setting.curve,
            setting.bits,
            seed=setting.seed,
        )
        bank = self._dice.standard_normal((3, HIGH + 64, WIDE + 64), np.float32) * STEPS_PER_SIGMA * setting.grain
        reach = NOISE_SIGMAS * STEPS_PER_SIGMA * max(1.0, setting.grain)
        self._bank = np.clip(bank, -reach, reach).astype(np.int32) + NOISE_REACH
        base, self._person = _people(setting.skin)
        self._base = base if not setting.room else np.where(self._person > 0.5, base, photo(setting.room - 1))
        other, place = _people(names()[setting.seed % len(names())])
        self._other, self._second = other[:, :, ::-1], place[:, ::-1]
        if not setting.second_person:
            self._second = np.zeros_like(place)
        # The second person sits as far left as the first does right, and a little of them is hidden by the first.
        self._second = self._second * (self._person < 0.5)
        self._window = window_mask()
        if setting.room:
            self._window = np.zeros((HIGH, WIDE), np.float32)
            self._window[HIGH // 10 : 6 * HIGH // 10, WIDE // 25 : 9 * WIDE // 25] = 1.0
        self._window = self._window * (self._person < 0.5) * (self._second < 0.5)

    def at(self, done: float, now: float) -> Moment:
        """The moment at which so much is done."""
        setting = self.setting
        lean = (
            round(setting.sways * 9 * math.sin(1.7 * now + setting.seed)),
            round(setting.sways * 4 * math.sin(2.3 * now)),
        )
        walker = ((now + 0.37 * setting.seed) % setting.walks) / 2.2 - 0.25 if setting.walks else None
        shake = [
            setting.shake * (math.sin(a * now + setting.seed) + 0.6 * math.sin(b * now))
            for a, b in ((5.1, 1.9), (6.3, 2.3))
        ]
        changes: dict[str, Any] = {} if setting.kind == STILL else {setting.kind: done}
        if setting.kind == "iso":
            changes = {"iso": 800.0 * 2.0 ** (round(4.0 * done) / 4.0 if 0 < abs(done) < abs(setting.stops) else done)}
        elif setting.kind == "key":
            power, at = 2.0 ** abs(setting.stops) - 1.0, 2.0 ** abs(done) - 1.0
            changes = {"key": at if setting.stops > 0 else power - at}
        return Moment(lean=lean, walker=walker, pan=(round(shake[0]), round(shake[1])), **changes)

    def _left(self, moment: Moment) -> int:
        return moment.pan[0]

    def _top(self, moment: Moment) -> int:
        return moment.pan[1]

    def sitters(self, moment: Moment) -> tuple[SeenSitter, ...]:
        found = super().sitters(moment)
        if not self.setting.second_person:
            return found
        x, y, wide, high = self.face(msgspec.structs.replace(moment, lean=(0, 0), pan=(0, 0)))
        x += float(self._search.normal(0.0, 0.02)) * wide
        left = 1.0 - x - wide - moment.pan[0] / WIDE
        passed = moment.walker is not None and abs(moment.walker - left - wide / 2.0) < 0.1
        first = tuple(msgspec.structs.replace(each, main=True) for each in found)
        return first + (() if passed else (SeenSitter(box=(left, y - moment.pan[1] / HIGH, wide, high), main=False),))

    def _room(self, moment: Moment) -> np.ndarray:
        key = (moment.sitter, moment.ground, moment.window, moment.key, moment.lean)
        if key not in self._lights:
            if len(self._lights) > 40:
                self._lights.clear()
            person = np.roll(self._person, moment.lean[::-1], (0, 1))
            sitter = np.roll(np.where(self._person > 0.5, self._base, 0.0), moment.lean[::-1], (1, 2))
            behind = np.where(self._second > 0.5, self._other, self._base)
            if moment.lean != (0, 0):
                # What the sitter uncovers when they lean: what is next to it.
                hole = (self._person > 0.5) & (person < 0.5)
                behind = behind.copy()
                behind[:, hole] = np.roll(behind, (0, 40 if moment.lean[0] > 0 else -40), (1, 2))[:, hole]
                window = self._window * (person < 0.5)
            else:
                window = self._window
            base = np.where(person > 0.5, sitter, behind)
            gain = 2.0 ** (person * moment.sitter + (1.0 - person) * moment.ground + window * moment.window)
            if moment.key:
                side = np.clip(1.3 - 1.6 * (np.arange(WIDE) / HIGH - 1.25), 0.25, 1.6)
                lit = np.maximum(person, self._second)
                gain = gain + moment.key * np.where(lit > 0.5, side[None, :], 1.0 / 16.0 * (window < 0.5))
            self._lights[key] = np.asarray(base * gain, np.float32)
        moved = self._lights[key]
        if moment.pan == (0, 0):
            return moved
        move = np.array([[1.0, 0.0, -moment.pan[0]], [0.0, 1.0, -moment.pan[1]]])
        planes = [cv2.warpAffine(plane, move, (WIDE, HIGH), borderMode=cv2.BORDER_REFLECT) for plane in moved]
        return np.stack(planes)


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """What was told of a setting; ``error`` in stops, None where nothing was told."""

    setting: Setting
    turns: tuple[Turn, ...]
    told: str
    error: float | None


def maps_of(film: ElsewhereFilm, seconds: float) -> Iterator[tuple[LightMap, tuple[SeenSitter, ...], Instant]]:
    """Maps as a watch takes them of this feed, through a file where it is compressed."""
    setting, every = film.setting, film.setting.every()
    if not setting.crf:
        for number in range(round(seconds / every)):
            at = number * every
            moment = film.story(at)
            light = film.map_of(film.frame(at, number), None, moment.iso)
            yield light, film.sitters(moment), Instant(at, 1.7e9 + at)
        return
    with tempfile.TemporaryDirectory() as folder:
        path, skip = Path(folder) / "film.mp4", round(every * setting.rate)
        write(path, film, seconds, {"crf": str(setting.crf), "preset": "veryfast"}, setting.rate)
        for number, light in frames_in(path, film, setting.rate, skip):
            at = number / setting.rate
            yield light, film.sitters(film.story(at)), Instant(at, 1.7e9 + at)


def try_setting(setting: Setting, seconds: float = 11.0) -> Found:
    """One setting, from its beginning to some seconds after its turn."""
    film = ElsewhereFilm(setting)
    state, told = turn.begin(), list[Turn]()
    for light, sitters, now in maps_of(film, seconds):
        state, turns = turn.step(state, light, sitters, now)
        told += turns
    if not told:
        return Found(setting=setting, turns=(), told="nothing", error=None)
    first = told[0]
    truth = setting.stops
    if setting.kind == "key":
        before, after = (msgspec.structs.replace(film.at(done, 0.0), walker=None) for done in (0.0, setting.stops))
        before, after = (msgspec.structs.replace(each, lean=(0, 0), pan=(0, 0)) for each in (before, after))
        truth = film.true_change(before, after)
    error = first.stops - truth
    if first.at_least and error * truth < 0.0:
        error = 0.0
    return Found(setting=setting, turns=tuple(told), told=first.kind if len(told) == 1 else "several", error=error)


def still(count: int, first: int) -> None:
    """Pictures in which exposure stays."""
    seconds, false = 20.0, 0
    for seed in range(first, first + count):
        found = try_setting(drawn(seed, (STILL,)), seconds)
        false += len(found.turns)
        if found.turns:
            print("  ", found.setting, [line(each) for each in found.turns], flush=True)
    print(f"{false} false turns in {count * seconds / 60.0:.0f} minutes")


def line(each: Turn) -> tuple[Any, ...]:
    """A turn in short."""
    sure = "at least" if each.at_least else "about" if each.about else ""
    return each.kind, round(each.stops, 2), round(each.at.monotonic, 1), round(each.seconds, 1), sure


def main(words: list[str]) -> None:
    count = int(words[0]) if words else 200
    first = int(words[1]) if len(words) > 1 else 1
    kinds = tuple(words[2].split(",")) if len(words) > 2 else tuple(KINDS)
    if kinds == (STILL,):
        still(count, first)
        return
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    right = within = about = 0
    for seed in range(first, first + count):
        found = try_setting(drawn(seed, kinds))
        setting = found.setting
        counts[setting.kind][found.told] += 1
        good = found.told in KINDS[setting.kind]
        near = good and abs(found.error or 0.0) <= WITHIN
        loose = good and found.turns[0].about
        right, within, about = right + good, within + near, about + (good and not near and loose)
        if not near:
            told = [line(each) for each in found.turns]
            print("  ", setting, told, None if found.error is None else round(found.error, 2), flush=True)
    columns = ("whole", "sitter", "background", "mixed", "part", "drift", "cut", "several", "nothing")
    print(f"{'what changed':14}" + "".join(f"{name:>11}" for name in columns))
    for kind in kinds:
        print(f"{kind:14}" + "".join(f"{counts[kind][name] or '.':>11}" for name in columns))
    print(f"of {count} turns {right} told as what they are, {within} within {WITHIN}, {about} more told as about")


if __name__ == "__main__":
    main(sys.argv[1:])
