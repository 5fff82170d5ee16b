"""How often turns are recognised for what they are: ``python -m tests.exposure.turn_rates [PART [MINUTES]]``.

One in PART of the grid is tried (1 is all of it), and MINUTES of pictures whose exposure does not change.
"""

from __future__ import annotations

import math
import sys
from collections import Counter, defaultdict

from analysis.feed.scene.controls import SceneControls
from analysis.feed.scene.lights import levels
from tests.exposure.turn_film import Film, Moment
from tests.exposure.turn_runs import KINDS, TOLD_AS, Outcome, grid, steady_stories, try_case, turns_of

WITHIN = 0.1
STEADY_RATE = 8.0


def confusion(outcomes: list[Outcome]) -> None:
    columns = ("whole", "sitter", "background", "mixed", "part", "drift", "cut", "several", "nothing")
    print(f"{'what changed':14}" + "".join(f"{name:>11}" for name in columns))
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for each in outcomes:
        counts[each.case.kind][each.told] += 1
    for kind in KINDS:
        print(f"{kind:14}" + "".join(f"{counts[kind][name] or '.':>11}" for name in columns))


def amounts(outcomes: list[Outcome]) -> None:
    right = [each for each in outcomes if each.told == TOLD_AS[each.case.kind] and each.error is not None]
    within = [each for each in right if abs(each.error or 0.0) <= WITHIN]
    errors = sorted(abs(each.error or 0.0) for each in right)
    if not errors:
        return
    print(
        f"of {len(outcomes)} turns {len(right)} are told as what they are, {len(within)} of them within {WITHIN} stop; "
        f"median error {errors[len(errors) // 2]:.3f}, 95 % below {errors[int(0.95 * len(errors))]:.3f}, "
        f"most {errors[-1]:.3f}; "
        f"{sum(turn.at_least for each in right for turn in each.turns)} of them told as at least"
    )
    for each in outcomes:
        if each not in within:
            told = [(turn.kind, round(turn.stops, 2), round(turn.seconds, 1), turn.at_least) for turn in each.turns]
            print("  ", each.case, told, None if each.error is None else round(each.error, 2))


def steady(minutes: float) -> int:
    stories = steady_stories()
    total = 0
    for name, (story, how) in stories.items():
        seconds = 60.0 * minutes / len(stories)
        told = turns_of(Film(story, **how), seconds, STEADY_RATE)
        total += len(told)
        print(f"{name:26} {seconds / 60.0:6.1f} min {len(told):4} false turns")
        for at, turn in told[:6]:
            print(
                f"      {at:6.1f} s {turn.kind} {turn.stops:+.2f} in {turn.seconds:.1f} s, sitter {turn.sitter_stops}"
            )
    return total


def clouds(minutes: float) -> None:
    """Clouds over the lake and the sun that breaks through, as the scene has them: what is told must have been so."""
    controls = SceneControls(seed=3)

    def story(now: float) -> Moment:
        light = levels(controls, now)
        return Moment(whole=round(math.log2(light.sky), 3), sun=round(light.sun, 2))

    told = turns_of(Film(story), 60.0 * minutes, STEADY_RATE)
    kinds = Counter(turn.kind for _, turn in told)
    wrong = 0
    for at, turn in told:
        begun = turn.at.monotonic - (0.0 if turn.kind == "drift" else 0.6)
        ended = at if turn.kind == "drift" else turn.at.monotonic + turn.seconds + 0.6
        if turn.kind == "drift" and turn.drift is not None and turn.drift.of == "whole":
            wrong += abs(turn.stops - story(ended).whole + story(begun).whole) > WITHIN
        elif turn.kind in {"whole", "background"}:
            wrong += (story(ended).sun - story(begun).sun) * turn.stops <= 0.0
        else:
            wrong += 1
    print(f"clouds and sun, {minutes:g} min: {dict(kinds)}, {wrong} of them not so")
    for at, turn in told:
        rate = "" if turn.drift is None else f" {turn.drift.of} {turn.drift.stage} {turn.drift.stops_a_minute:+.2f}/min"
        print(f"      {at:6.1f} s {turn.kind}{rate} {turn.stops:+.2f} since {turn.at.monotonic:.1f} s")


def main(words: list[str]) -> None:
    part = int(words[0]) if words else 1
    minutes = float(words[1]) if len(words) > 1 else 60.0
    outcomes = [try_case(case) for case in grid(part)]
    confusion(outcomes)
    amounts(outcomes)
    clouds(minutes / 6.0)
    print(f"{steady(minutes)} false turns in {minutes:g} minutes")


if __name__ == "__main__":
    main(sys.argv[1:])
