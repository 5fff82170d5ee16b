"""Runs the recogniser over films, and the grid of turns that it is measured on."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import numpy as np

from analysis.exposure import turn
from analysis.model.turn import Turn
from tests.exposure.turn_film import Film, Moment, Story, ramp

AMOUNTS = (1 / 3, 1 / 2, 2 / 3, 1.0, 1.5, 2.0, 3.0, 4.0)
"""Stops, both ways."""
SIGNALS = (
    ("acescct", 8),
    ("acescct", 10),
    ("bt709", 8),
    ("bt709", 10),
    ("hlg", 8),
    ("hlg", 10),
    ("cineon", 8),
    ("pq", 10),
)
KINDS = ("whole", "iso", "sitter", "key", "ground", "window")
"""What changes: all light, the gain, the light on the sitter alone, a key beside the light there is, all but the
sitter, what is seen through the doors."""
TOLD_AS = {
    "whole": "whole",
    "iso": "whole",
    "sitter": "sitter",
    "key": "sitter",
    "ground": "background",
    "window": "background",
}
BEGINS = 3.03
SECONDS = 11.0


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """One turn of the grid."""

    kind: str
    stops: float
    curve: str = "acescct"
    bits: int = 8
    seconds: float = 0.0
    people: bool = False
    noise: bool = True
    seed: int = 1

    def at(self, done: float, now: float) -> Moment:
        """The moment at which so many stops of the change are done."""
        lean, walker = (0, 0), None
        if self.people:
            lean = round(9 * math.sin(1.7 * now + self.seed)), round(4 * math.sin(2.3 * now))
            walker = (now + 0.7 * (self.seed % 5)) % 4.0 / 2.5 - 0.3
        changes: dict[str, Any] = {}
        if self.kind == "iso":
            changes = {"iso": 800.0 * 2.0**done}
        elif self.kind == "key":
            # A lamp that comes on, or goes out: the plain light is there with it.
            power = 2.0 ** abs(self.stops) - 1.0
            changes = {"key": (2.0 ** abs(done) - 1.0) if self.stops > 0 else power - (2.0 ** abs(done) - 1.0)}
        else:
            changes = {self.kind: done}
        return Moment(lean=lean, walker=walker, **changes)

    def story(self) -> Story:
        done = ramp(BEGINS, self.seconds, self.stops)
        if self.kind == "iso":
            return lambda now: self.at(
                round(4.0 * done(now)) / 4.0 if 0 < abs(done(now)) < abs(self.stops) else done(now), now
            )
        return lambda now: self.at(done(now), now)

    def film(self) -> Film:
        return Film(self.story(), self.curve, self.bits, noise=self.noise, seed=self.seed)


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What was told of a case; ``error`` in stops where the amount says it is more than a bound."""

    case: Case
    turns: tuple[Turn, ...]
    told: str
    error: float | None


def turns_of(
    film: Film, seconds: float, rate: float = 10.0, restless: float = 0.0, **how: Any
) -> list[tuple[float, Turn]]:
    """The turns told over a film, each with the time at which it was told."""
    state, told = turn.begin(), []
    for light, sitters, now in film.maps(seconds, rate, **how):
        state, turns = turn.step(state, light, sitters, now, restless)
        told += [(now.monotonic, each) for each in turns]
    return told


def try_case(case: Case, seconds: float = SECONDS) -> Outcome:
    """One turn, from three seconds before to some after."""
    film = case.film()
    turns = tuple(each for _, each in turns_of(film, seconds))
    if not turns:
        return Outcome(case=case, turns=(), told="nothing", error=None)
    told = turns[0].kind if len(turns) == 1 else "several"
    first = turns[0]
    truth = case.stops
    if case.kind == "key":
        still = msgspec.structs.replace(case, people=False)
        truth = film.true_change(still.at(0.0, 0.0), still.at(case.stops, 0.0))
    error = first.stops - truth
    if first.at_least and error * truth < 0.0:
        error = 0.0
    return Outcome(case=case, turns=turns, told=told, error=error)


def grid(part: int = 1) -> Iterator[Case]:
    """Every kind, amount, way and signal, or one in ``part``; how fast, who moves and the noise go round."""
    dice = np.random.default_rng(5)
    cells = itertools.product(KINDS, AMOUNTS, (1.0, -1.0), SIGNALS)
    for number, (kind, amount, sign, (curve, bits)) in enumerate(cells):
        seconds, people, noise = dice.choice((0.0, 0.0, 0.4, 1.0, 3.0)), dice.random() < 0.5, dice.random() < 0.9
        if kind == "iso":
            seconds = min(seconds, 0.4)  # cameras step it, nobody pulls it
        if number % part == 0:
            yield Case(
                kind=kind,
                stops=sign * amount,
                curve=curve,
                bits=bits,
                seconds=float(seconds),
                people=bool(people),
                noise=bool(noise),
                seed=number + 1,
            )


def steady_stories() -> dict[str, tuple[Callable[[float], Moment], dict[str, Any]]]:
    """Pictures whose exposure does not change, whatever else does: name, story, how the film is made."""

    def sway(now: float) -> tuple[int, int]:
        return round(3 * math.sin(0.86 * now) + 2 * math.sin(2.2 * now)), round(2 * math.sin(1.5 * now))

    def lively(now: float) -> Moment:
        return Moment(lean=(round(25 * math.sin(0.7 * now) * math.sin(0.11 * now)), round(6 * math.sin(1.9 * now))))

    def walkers(now: float) -> Moment:
        return Moment(walker=(now % 9.0) / 4.0 - 0.3, lean=sway(now))

    def stops_in_view(now: float) -> Moment:
        part = now % 24.0
        place = part / 3.0 if part < 1.2 else 0.4 if part < 14.0 else 0.4 + (part - 14.0) / 3.0
        return Moment(walker=place - 0.25, lean=sway(now))

    def handheld(now: float) -> Moment:
        return Moment(pan=(round(6 * math.sin(0.9 * now) + 5 * math.sin(2.7 * now)), round(6 * math.sin(1.3 * now))))

    def pans(now: float) -> Moment:
        swing = math.sin(2.0 * math.pi * now / 30.0)
        return Moment(pan=(round(200 * max(-1.0, min(1.0, 1.6 * swing))), round(40 * math.sin(now / 9.0))))

    def flicker(stops: float, hertz: float) -> Story:
        return lambda now: Moment(whole=0.5 * stops * math.sin(2.0 * math.pi * hertz * now))

    def bands(now: float) -> Moment:
        return Moment(bands=0.06 * math.sin(2.0 * math.pi * 3.1 * now))

    return {
        "nothing moves": (lambda now: Moment(), {}),
        "8-bit without noise": (lambda now: Moment(lean=sway(now)), {"noise": False}),
        "sitter sways": (lambda now: Moment(lean=sway(now)), {"bits": 10}),
        "lively sitter": (lively, {}),
        "people cross": (walkers, {}),
        "somebody stops in view": (stops_in_view, {"curve_name": "bt709"}),
        "handheld": (handheld, {"wide_scene": True}),
        "pans": (pans, {"wide_scene": True}),
        "beat 0.14 stops 4 Hz": (flicker(0.14, 4.0), {}),
        "beat 0.3 stops 0.9 Hz": (flicker(0.3, 0.9), {}),
        "beat 0.3 stops 5.3 Hz": (flicker(0.3, 5.3), {}),
        "rolling bands": (bands, {"curve_name": "bt709"}),
        "dark, noisy": (lambda now: Moment(whole=-4.0, lean=sway(now)), {}),
        "bright, clipping": (lambda now: Moment(whole=2.5, lean=sway(now)), {"curve_name": "bt709"}),
    }
