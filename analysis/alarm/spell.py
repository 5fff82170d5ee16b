"""Coming and going: what rises again and again becomes one alarm that stands until it has been calm for long.

Each rise is told until the last of ``often`` in a row, none of which came later than ``calm`` seconds after the
return before it, or until one that came within a tenth of that: three within a minute are chatter. From then on the
alarm stays active through every lull and ends when nothing was seen of it for ``calm`` seconds: an off-delay that
lengthens, the treatment that ISA-18.2 and IEC 62682 name for chattering and fleeting alarms. So one cause is heard
``often`` times, and after that no oftener than once each ``calm`` seconds. A return much worse than all before is
another matter and is told at once.
"""

from __future__ import annotations

import math

import msgspec

from analysis.alarm.rule import AlarmRule
from analysis.model.instant import Instant

QUICK = 0.1
"""A rise so soon after the last return, as a part of ``calm``, needs no third to be called coming and going."""
MUCH_WORSE = 2.0
"""So many times as far beyond the limit as the worst before, and at least as many times the limit itself."""


class Spell(msgspec.Struct, frozen=True, kw_only=True):
    """Rises in a row of one alarm.

    ``rises`` counts them, ``quick`` says that one came soon after the return before it, ``first`` is when the
    first was, ``left`` when the alarm last returned. ``bad`` is when a value was last not on the good side of
    the clear level. ``lull`` says that an alarm which comes and goes is away now. ``told`` says that the
    present rise was told and not only counted; ``peak`` is how far beyond the limit it went, ``worst`` how far
    those before did; ``worse`` is since when the present one has stayed much worse than that. ``dire`` says
    that it was told so.
    """

    rises: int = 0
    quick: bool = False
    first: Instant | None = None
    left: Instant | None = None
    bad: Instant | None = None
    lull: bool = False
    told: bool = True
    peak: float = 0.0
    worst: float = 0.0
    worse: Instant | None = None
    dire: bool = False


def comes_and_goes(rule: AlarmRule, spell: Spell) -> bool:
    """Whether it has risen so often in a row, or so quickly, that it is held until it is calm."""
    return bool(rule.often) and (spell.quick or spell.rises >= rule.often)


def shown(rule: AlarmRule, spell: Spell, value: float, now: Instant, *, active: bool, unbroken: bool) -> Spell:
    """The spell with one more value; after a gap in the data what is much worse must last anew."""
    if not rule.often:
        return spell
    beyond = _beyond(rule, value)
    dire = active and not spell.told and rule.limit is not None and beyond >= _dire(rule, spell)
    return msgspec.structs.replace(
        spell,
        bad=spell.bad if rule.back(value) else now,
        peak=max(spell.peak, beyond) if active else spell.peak,
        worse=((spell.worse if unbroken and spell.worse else now) if dire else None),
    )


def risen(rule: AlarmRule, spell: Spell, now: Instant) -> Spell:
    """The spell after a rise: one more in the row, or the first of another where the last return is long past."""
    away = now.since(spell.left) if spell.left is not None else math.inf
    if not rule.often or away > rule.calm:
        return Spell(rises=1, first=now, bad=now)
    return msgspec.structs.replace(
        spell,
        rises=spell.rises + 1,
        quick=away <= QUICK * rule.calm,
        first=spell.first or spell.left,
        told=True,
    )


def returned(rule: AlarmRule, spell: Spell, now: Instant) -> Spell:
    """The spell after a return: the row goes on if it rises soon, unless it was calm for long or had none."""
    if not rule.often or comes_and_goes(rule, spell):
        return Spell()
    return msgspec.structs.replace(spell, left=now, peak=0.0, worst=max(spell.worst, spell.peak))


def lulled(spell: Spell) -> Spell:
    """The spell of an alarm that stays active while its condition is away."""
    return msgspec.structs.replace(
        spell, lull=True, told=False, dire=False, peak=0.0, worst=max(spell.worst, spell.peak)
    )


def come_again(spell: Spell) -> Spell:
    """The spell when the condition is back after a lull, which is not told."""
    return msgspec.structs.replace(spell, rises=spell.rises + 1, lull=False)


def worsened(spell: Spell) -> Spell:
    """The spell after it was told how much worse it is."""
    return msgspec.structs.replace(spell, told=True, worse=None, dire=True)


def announced_words(rule: AlarmRule, spell: Spell) -> str:
    """What is heard of an alarm: whether it will be heard each time, or stands from now on, or is worse than it was.

    >>> from analysis.alarm.defaults import HIGHLIGHTS
    >>> announced_words(HIGHLIGHTS, Spell(rises=1)), announced_words(HIGHLIGHTS, Spell(rises=3))
    ('highlights clipping', 'highlights clipping, comes and goes')
    """
    if not comes_and_goes(rule, spell):
        return rule.words
    return f"{rule.words}, much worse than before" if spell.dire else f"{rule.words}, comes and goes"


def calm_for(spell: Spell, now: Instant) -> float:
    """Seconds since a value was last not on the good side."""
    return now.since(spell.bad) if spell.bad else 0.0


def _beyond(rule: AlarmRule, value: float) -> float:
    limit = 0.5 if rule.limit is None else rule.limit
    return max(0.0, value - limit if rule.when == "above" else limit - value)


def _dire(rule: AlarmRule, spell: Spell) -> float:
    return MUCH_WORSE * max(spell.worst, abs(rule.limit or 0.0))
