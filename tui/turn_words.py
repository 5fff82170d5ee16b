"""Turns and what a key light adds, as one line each."""

from __future__ import annotations

from analysis.model.turn import DriftRate, LampEffect, Turn
from tui.wording import lasted

LEAST_TOLD = 0.05
"""Smaller changes read as none."""


def turn_words(turn: Turn) -> str:
    """A turn in one line.

    >>> from analysis.model.instant import Instant
    >>> def told(**parts):
    ...     return turn_words(Turn(at=Instant(0.0, 0.0), seconds=0.0, share=1.0, **parts))
    >>> told(kind="whole", stops=-2.0, sitter_stops=-2.0)
    'whole picture -2.0 stops'
    >>> told(kind="sitter", stops=1.1, sitter_stops=1.1, background_stops=0.02)
    'sitter only +1.1'
    >>> told(kind="sitter", stops=1.9, sitter_stops=1.9, background_stops=0.12)
    'sitter +1.9, background +0.1'
    >>> told(kind="background", stops=-0.7, sitter_stops=0.0, background_stops=-0.7)
    'background -0.7 (sitter unchanged)'
    >>> told(kind="whole", stops=4.2, at_least=True)
    'whole picture at least +4.2 stops'
    >>> told(kind="sitter", stops=-1.3, about=True)
    'sitter only about -1.3'
    >>> told(kind="cut", stops=0.8)
    'cut to another shot, +0.8 stops in the middle'
    """
    amount = stops_text(turn.stops, turn.at_least, turn.about)
    if turn.kind == "drift":
        return _drift_words(turn)
    if turn.kind == "cut":
        return f"cut to another shot{_in_the_middle(turn.stops)}"
    line = {
        "whole": f"whole picture {amount} stops",
        "sitter": f"sitter only {amount}",
        "background": f"background {amount}{_of_sitter(turn.sitter_stops)}",
        "mixed": f"sitter {amount}, background {stops_text(turn.background_stops)}",
        "part": f"part of the picture {amount}",
    }[turn.kind]
    if turn.kind == "sitter" and turn.background_stops is not None and abs(turn.background_stops) >= LEAST_TOLD:
        line = f"sitter {amount}, background {stops_text(turn.background_stops)}"
    return line + (f" over {lasted(turn.seconds)}" if turn.seconds >= 1.0 else "")


def short_turn(turn: Turn) -> str:
    """A turn in few words: of a drift that ends in the clip, when that will be.

    >>> from analysis.model.instant import Instant
    >>> rate = DriftRate(of="background", stage="begun", stops_a_minute=3.0, seconds_to_clip=41.0, clips="window")
    >>> short_turn(Turn(kind="drift", at=Instant(0.0, 0.0), stops=0.3, seconds=9.0, share=1.0, drift=rate))
    'window clips in about 40 s'
    """
    drift = turn.drift
    if drift is None or drift.stage == "ended" or drift.seconds_to_clip is None:
        return turn_words(turn)
    return _clip_words(drift).removeprefix("the ")


def turn_line(turn: Turn) -> str:
    """A turn with what the key adds that was switched, for a list.

    >>> from analysis.model.instant import Instant
    >>> effect = LampEffect(sitter_stops=2.0, background_stops=0.1, key_share=0.75)
    >>> turn_line(Turn(kind="sitter", at=Instant(0.0, 0.0), stops=2.0, seconds=0.0, share=1.0, effect=effect))
    'sitter only +2.0; key adds +2.0 to the sitter, +0.1 to the background; 75 % of the light there'
    """
    return turn_words(turn) + (f"; {effect_words(turn.effect)}" if turn.effect is not None else "")


def short_effect(effect: LampEffect) -> str:
    """What a key adds, in few words.

    >>> short_effect(LampEffect(sitter_stops=1.4, background_stops=0.1, key_share=0.75, ratio_stops=1.6))
    'key adds +1.4, ground +0.1, ratio 3.0:1'
    """
    parts = [f"key adds {stops_text(effect.sitter_stops, effect.at_least)}"]
    if effect.background_stops is not None:
        parts.append(f"ground {stops_text(effect.background_stops)}")
    if effect.ratio is not None:
        parts.append(f"ratio {effect.ratio:.1f}:1")
    return ", ".join(parts)


def effect_words(effect: LampEffect) -> str:
    """What a key adds, in one line.

    >>> effect_words(LampEffect(sitter_stops=1.4, background_stops=0.1, key_share=0.75, lit_stops=2.0,
    ...                         shadow_stops=0.6, ratio_stops=1.6))  # doctest: +NORMALIZE_WHITESPACE
    'key adds +1.4 to the sitter (lit side +2.0, shadow side +0.6), +0.1 to the background;
     75 % of the lit side; ratio 3.0:1'
    >>> effect_words(LampEffect(sitter_stops=2.0, background_stops=None, key_share=0.75, at_least=True))
    'key adds at least +2.0 to the sitter; at least 75 % of the light there'
    """
    least = "at least " if effect.at_least else ""
    line = f"key adds {stops_text(effect.sitter_stops, effect.at_least)} to the sitter"
    if effect.lit_stops is not None and effect.shadow_stops is not None:
        lit, shadow = stops_text(effect.lit_stops, effect.at_least), stops_text(effect.shadow_stops)
        line += f" (lit side {lit}, shadow side {shadow})"
    if effect.background_stops is not None:
        line += f", {stops_text(effect.background_stops)} to the background"
    where = "the lit side" if effect.lit_stops is not None else "the light there"
    line += f"; {least}{100.0 * effect.key_share:.0f} % of {where}"
    return line + (f"; ratio {effect.ratio:.1f}:1" if effect.ratio is not None else "")


def stops_text(stops: float | None, at_least: bool = False, about: bool = False) -> str:
    """An amount with its sign, and what is known of how sure it is.

    >>> stops_text(-0.04), stops_text(1 / 3), stops_text(2.0, True), stops_text(None)
    ('0.0', '+0.3', 'at least +2.0', 'unknown')
    """
    if stops is None:
        return "unknown"
    text = f"{stops:+.1f}"
    sure = ("at least " if at_least else "") + ("about " if about else "")
    return sure + ("0.0" if text in {"+0.0", "-0.0"} else text)


def _of_sitter(stops: float | None) -> str:
    if stops is None:
        return ""
    return " (sitter unchanged)" if abs(stops) < 2.0 * LEAST_TOLD else f" (sitter {stops_text(stops)})"


def _in_the_middle(stops: float) -> str:
    return f", {stops_text(stops)} stops in the middle" if abs(stops) >= LEAST_TOLD else ""


def _drift_words(turn: Turn) -> str:
    """A drift in one line.

    >>> from analysis.model.instant import Instant
    >>> rate = DriftRate(of="whole", stage="begun", stops_a_minute=0.4, seconds_to_clip=38.0, clips="window")
    >>> _drift_words(Turn(kind="drift", at=Instant(0.0, 0.0), stops=0.3, seconds=40.0, share=1.0, drift=rate))
    'drift +0.4 stops a minute; the window clips in about 40 s'
    >>> rate = DriftRate(of="background", stage="ended", stops_a_minute=0.0)
    >>> _drift_words(Turn(kind="drift", at=Instant(0.0, 0.0), stops=-0.9, seconds=130.0, share=1.0, drift=rate))
    'drift of the background over: -0.9 stops in 2 min 10 s'
    """
    rate = turn.drift
    assert rate is not None
    what = {"whole": "drift", "sitter": "drift of the sitter", "background": "drift of the background"}[rate.of]
    if rate.stage == "ended":
        return f"{what} over: {stops_text(turn.stops)} stops in {lasted(turn.seconds)}"
    line = f"{what} {_rate_text(rate.stops_a_minute)} stops a minute"
    return line + (f"; {_clip_words(rate)}" if rate.seconds_to_clip is not None else "")


def _rate_text(rate: float) -> str:
    """A rate; slow ones with two decimals.

    >>> _rate_text(0.4), _rate_text(-0.05)
    ('+0.4', '-0.05')
    """
    return f"{rate:+.1f}" if abs(rate) >= 0.15 else f"{rate:+.2f}"


def _clip_words(rate: DriftRate) -> str:
    """When something clips, in round seconds: nobody knows them better."""
    seconds = rate.seconds_to_clip or 0.0
    name = f"the {rate.clips}" if rate.clips else "the brightest part"
    if seconds < 5.0:
        return f"{name} clips now"
    step = 5 if seconds < 30 else 10
    return f"{name} clips in about {lasted(float(max(step, round(seconds / step) * step)))}"
