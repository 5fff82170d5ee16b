"""The ways of a plan as cells of a table and as lines: what each gives, costs, and why."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import NamedTuple

from analysis.exposure.aims import ANY_SITTER, third_words, thirds
from analysis.exposure.control_words import relative_moves, short_moves
from analysis.exposure.ghost import camera_stops, keyed_stops
from analysis.model.plan import Plan, Planned
from analysis.model.planning import Planning
from analysis.model.reading import Reading
from tui.measured_words import stops
from tui.palette import Ink
from tui.wording import NOTHING, level, share

HIDDEN = 0.05
"""Percent of the picture between the two ends of a clipped share from which both are told."""
SAME = 0.05
"""Stops that make no difference to look at."""

ONLY = "no other way with what may move under this policy"
"""Stands where the second way would."""
HOW = "two keys each tell what is set (or once in TOML: watch --controls FILE)"


class Row(NamedTuple):
    """A quantity with its values: as it is now, and by each way. ``short`` is its name where there is little room."""

    name: str
    short: str
    now: str
    ways: tuple[str, ...]
    ink: Ink = Ink.TEXT


def moves_of(way: Plan, planned: Planned, said: bool, wide: bool = True) -> tuple[str, ...]:
    """What to move: to which setting, or by how much where nobody said what is set."""
    now = planned.now.controls
    if said:
        return short_moves(now, way.controls)
    moves = relative_moves(now, way.controls)
    return moves if wide else tuple(_shortened(move) for move in moves)


def _shortened(move: str) -> str:
    """A move in stops where there is little room.

    >>> [_shortened(move) for move in ("2 stops more ND", "ISO up 1 1/3 stops", "open by 1/3 stop", "stay")]
    ['ND +2', 'ISO +1 1/3', 'open 1/3', 'stay']
    """
    text = move.replace(" stops", "").replace(" stop", "").replace(" by", "")
    if text.endswith(" ND"):
        size, _, way = text.removesuffix(" ND").rpartition(" ")
        return f"ND {'+' if way == 'more' else '-'}{size}"
    return text.replace("up ", "+").replace("down ", "-")


def rows(planning: Planning, reading: Reading, wide: bool) -> list[Row]:
    """Every quantity of a plan, in the order of their weight for whom has to decide."""
    planned = planning.planned
    assert planned is not None, "no plan, no rows"
    each = planned.plans
    now = planned.now
    headroom = reading.headroom_stops if planning.headroom_stops is None else planning.headroom_stops
    noise = reading.noise.shadow_snr_stops if reading.noise is not None else None
    dark = reading.crushed.any if reading.crushed is not None else None

    def row(name: str, short: str, was: str, words: Callable[[Plan], str], ink: Ink = Ink.TEXT) -> Row:
        return Row(name, short, was, tuple(words(way) for way in each), ink)

    what = "skin" if planning.subject is None or planning.subject.startswith(ANY_SITTER) else "level"
    found = [
        row(f"{what}, IRE", f"{what} IRE", level(now.sitter_level), lambda way: skin(way, wide), Ink.STRONG),
        row(
            "off its aim",
            "off aim",
            _off_now(planning, wide),
            lambda way: off(way.costs.off_aim_stops, wide),
            Ink.STRONG,
        ),
        row("clipped, %", "clipped %", share(now.clipped), lambda way: clipped(way, wide), Ink.STRONG),
        row("crushed, %", "crushed %", share(dark), lambda way: crushed(way, wide)),
        row(
            "headroom, stops",
            "headroom",
            stops(headroom, signed=False),
            lambda way: stops(way.predicted.headroom_stops, signed=False),
        ),
        row("shadow S/N", "shadow S/N", stops(noise, signed=False), lambda way: noise_words(way, wide)),
        row("depth of field", "depth", "", lambda way: more_or_less(way.costs.depth_of_field_stops)),
        row("motion blur", "blur", "", lambda way: more_or_less(way.costs.motion_stops)),
    ]
    if any(way.predicted.background_stops is not None for way in each):
        found.append(row("background", "background", "", lambda way: stops(way.predicted.background_stops)))
    return found


def _off_now(planning: Planning, wide: bool) -> str:
    """How far from the aim things are as they are set, told from any way that leads away from here."""
    planned = planning.planned
    if planned is None or not planned.plans:
        return NOTHING
    way, now = planned.plans[0], planned.now.controls
    moved = camera_stops(now, way.controls) + keyed_stops(now, way.controls, planning.limits.dimmer)
    return off(way.costs.off_aim_stops - moved, wide)


def off(value: float, wide: bool = True) -> str:
    """A distance to the aim, short.

    >>> off(0.3), off(-1.4), off(0.1), off(-1.4, wide=False)
    ('1/3 over', '1 1/3 under', 'on aim', '-1 1/3')
    """
    count = thirds(value)
    if not count:
        return "on aim"
    size = third_words(count).partition(" stop")[0]
    return f"{size} {'over' if value > 0 else 'under'}" if wide else f"{'+' if value > 0 else '-'}{size}"


def skin(way: Plan, wide: bool = True) -> str:
    """The predicted level of the skin."""
    found = way.predicted
    least = ("at least " if wide else "least ") if found.sitter_at_least else ""
    return f"{least}{level(found.sitter_level)}"


def clipped(way: Plan, wide: bool = True) -> str:
    """The predicted clipped share, with what hides it.

    >>> from analysis.model.controls import Controls
    >>> from analysis.model.plan import Costs, Predicted
    >>> def of(least, most, hidden):
    ...     seen = Predicted(sitter_level=50, sitter_stops=0.5, clipped=least, clipped_at_most=most, at_least=hidden,
    ...         crushed=0, headroom_stops=1, shadow_snr_stops=3)
    ...     cost = Costs(off_aim_stops=0, clipped=0, noise_stops=0, depth_of_field_stops=0, motion_stops=0,
    ...         below_native_stops=0, total=0)
    ...     return Plan(controls=Controls(), moves=(), predicted=seen, costs=cost, reason="")
    >>> clipped(of(0.3, 0.3, False)), clipped(of(0.3, 0.3, True))
    ('0.30', 'at least 0.30')
    >>> clipped(of(0.0, 1.2, True)), clipped(of(0.3, 1.2, True))
    ('at most 1.20', '0.30 to 1.20')
    >>> clipped(of(0.3, 0.3, True), wide=False), clipped(of(0.0, 1.2, True), wide=False)
    ('least 0.30', 'most 1.20')
    """
    found = way.predicted
    if found.clipped_at_most > found.clipped + HIDDEN:
        return _between(found.clipped, found.clipped_at_most, wide)
    return f"{('at least ' if wide else 'least ') if found.at_least else ''}{share(found.clipped)}"


def crushed(way: Plan, wide: bool = True) -> str:
    """The predicted crushed share, between two figures where the floor hides what more light would lift."""
    found = way.predicted
    if found.crushed > found.crushed_at_least + HIDDEN:
        return _between(found.crushed_at_least, found.crushed, wide)
    return share(found.crushed)


def _between(least: float, most: float, wide: bool) -> str:
    """A share known only between two figures.

    >>> _between(0.0, 24.2, True), _between(7.73, 8.15, False)
    ('at most 24.2', '7.73-8.15')
    """
    if least <= HIDDEN:
        return f"{'at most' if wide else 'most'} {share(most)}"
    return f"{share(least)}{' to ' if wide else '-'}{share(most)}"


def noise_words(way: Plan, wide: bool = True) -> str:
    """Shadow signal-to-noise as it would be, and what of it is lost or gained."""
    snr, lost = way.predicted.shadow_snr_stops, way.costs.noise_stops
    change = "" if abs(lost) < SAME else f"{-lost:+.1f}"
    if snr is None:
        return change or "same"
    return " ".join(filter(None, (stops(snr, signed=False), f"({change})" if wide and change else change)))


def more_or_less(value: float) -> str:
    """A change of looks in stops.

    >>> more_or_less(0.0), more_or_less(1.0), more_or_less(-0.67)
    ('same', 'more 1.0', 'less 0.7')
    """
    return "same" if abs(value) < SAME else f"{'more' if value > 0 else 'less'} {abs(value):.1f}"


def merged(found: list[Row]) -> list[Row]:
    """The rows with depth of field and motion blur in one, where there is little room."""
    depth, blur = (next(row for row in found if row.short == name) for name in ("depth", "blur"))

    def both(one: str, other: str) -> str:
        parts = [text.replace("more ", "+").replace("less ", "-").replace("same", "0") for text in (one, other)]
        return "same" if parts == ["0", "0"] else "/".join(parts)

    ways = tuple(both(one, other) for one, other in zip(depth.ways, blur.ways, strict=True))
    one = Row("depth/motion blur", "depth/blur", "", ways)
    return [one if row is depth else row for row in found if row is not blur]


def policy_words(planning: Planning) -> str:
    """Which policy is followed, who says so, and why.

    >>> policy_words(Planning(suggested="open-sky", why="3.1 % of the picture is clipped"))
    'open-sky, suggested: 3.1 % of the picture is clipped'
    >>> policy_words(Planning(policy="even-light", suggested="open-sky", why="3.1 % is clipped"))
    'even-light, as you chose; the picture suggests open-sky: 3.1 % is clipped'
    """
    if planning.policy is None:
        return "" if planning.suggested is None else f"{planning.suggested}, suggested: {planning.why}"
    if planning.suggested in (None, planning.policy):
        why = f", and the picture suggests it: {planning.why}" if planning.suggested else ""
        return f"{planning.policy}, as you chose{why}"
    return f"{planning.policy}, as you chose; the picture suggests {planning.suggested}: {planning.why}"


def why_lines(planning: Planning, chosen: int, width: int, full: bool) -> list[tuple[str, Ink]]:
    """The chosen way in sentences: what is missing, the moves in full (if asked for), why, and what to mind."""
    planned = planning.planned
    if planned is None or width < 8:
        return []
    told: list[tuple[str, Ink]] = []
    if planned.missing:
        told.append((f"NO WAY REACHES THE AIM: {planned.missing}", Ink.CARE))
    if chosen < len(planned.plans):
        way = planned.plans[chosen]
        moves = way.moves if planning.said else moves_of(way, planned, False)
        number = "nearest" if planned.missing else f"{chosen + 1}"
        if full:
            told.append((f"{number}: {', then '.join(moves)}", Ink.STRONG))
        if not planned.missing:
            told.append((way.reason, Ink.TEXT))
    told += [(f"! {caution}", Ink.CARE) for caution in planned.cautions]
    return [(line, ink) for text, ink in told for line in textwrap.wrap(text, width)]
