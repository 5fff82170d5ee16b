"""Why an alarm changed, in words with the numbers."""

from __future__ import annotations

from functools import lru_cache

from analysis.alarm.rule import AlarmRule

MOST_DECIMALS = 6


def rose(rule: AlarmRule, value: float, seconds: float, evidence: str) -> str:
    """Why an alarm rose.

    >>> from analysis.alarm.defaults import FEED, HEADROOM, HIGHLIGHTS
    >>> rose(HIGHLIGHTS, 2.31, 1.0, "")
    'clipped 2.3 % of the picture, at or over the limit 1.0 % for 1.0 s'
    >>> rose(HEADROOM, 1.42, 5.0, "")
    'at this rate clipping in 1.4 min, at or under the limit 3.0 min for 5.0 s'
    >>> rose(FEED, 1.0, 0.0, "no picture for 1.2 s")
    'feed lost: no picture for 1.2 s'
    >>> from analysis.alarm.defaults import DARK
    >>> rose(DARK, 1.0, 0.0, "picture dark: a covered lens, no light or no signal")
    'picture dark: a covered lens, no light or no signal'
    """
    if rule.limit is None:
        # Evidence that begins with the same words says it once.
        return evidence if evidence.startswith(rule.words) else f"{rule.words}: {evidence}" if evidence else rule.words
    side = "over" if rule.when == "above" else "under"
    told = _told(rule, value, rule.limit)
    return with_more(f"{told}, at or {side} the limit {rule.limit:.1f} {rule.unit} for {seconds:.1f} s", evidence)


def returned(rule: AlarmRule, value: float, seconds: float, evidence: str) -> str:
    """Why an alarm returned.

    >>> from analysis.alarm.defaults import FEED, HIGHLIGHTS
    >>> returned(HIGHLIGHTS, 0.4, 2.0, "")
    'clipped 0.4 % of the picture, under the clear level 0.6 % for 2.0 s'
    >>> returned(FEED, 0.0, 2.0, "live at 25.0 fps")
    'feed back for 2.0 s: live at 25.0 fps'
    """
    if rule.clear is None:
        told = f"feed back for {seconds:.1f} s" if rule.kind == "feed" else f"over for {seconds:.1f} s"
        return f"{told}: {evidence}" if evidence else told
    side = "under" if rule.when == "above" else "over"
    told = _told(rule, value, rule.clear)
    return with_more(f"{told}, {side} the clear level {rule.clear:.1f} {rule.unit} for {seconds:.1f} s", evidence)


def measured(rule: AlarmRule, value: float | None) -> str:
    """The newest value of an alarm, empty for one that has none or is judged without a number.

    >>> from analysis.alarm.defaults import FEED, HIGHLIGHTS
    >>> measured(HIGHLIGHTS, 0.25), measured(HIGHLIGHTS, None), measured(FEED, 1.0)
    ('clipped 0.2 % of the picture', '', '')
    >>> from analysis.alarm.defaults import HEADROOM
    >>> measured(HEADROOM, 12.0), measured(HEADROOM, 60.0)
    ('at this rate clipping in 12.0 min', 'not running out within an hour')
    """
    return "" if value is None or rule.limit is None else _told(rule, value, rule.limit)


@lru_cache(maxsize=256)
def limits(rule: AlarmRule) -> str:
    """When an alarm rises and when it returns, empty for one that is judged without a number.

    >>> from analysis.alarm.defaults import FEED, HEADROOM, HIGHLIGHTS
    >>> limits(HIGHLIGHTS), limits(HEADROOM)
    ('rises at 1 % or over after 1 s, returns under 0.6 %', 'rises at 3 min or under after 5 s, returns over 6 min')
    >>> limits(FEED)
    ''
    """
    if rule.limit is None:
        return ""
    sides = ("over", "under") if rule.when == "above" else ("under", "over")
    after = f" after {rule.on_delay:g} s" if rule.on_delay else ""
    return f"rises at {rule.limit:g} {rule.unit} or {sides[0]}{after}, returns {sides[1]} {rule.clear:g} {rule.unit}"


def acknowledged(still_active: bool) -> str:
    """Why an alarm was taken as seen."""
    return "acknowledged while active" if still_active else "acknowledged after it had returned"


def length(seconds: float) -> str:
    """A length of time for people.

    >>> length(900.0), length(45.0), length(5400.0)
    ('15 min', '45 s', '90 min')
    """
    return f"{seconds / 60:g} min" if seconds >= 60 and seconds % 60 == 0 else f"{seconds:.0f} s"


def span(seconds: float) -> str:
    """How long something has lasted, as one says it.

    >>> span(94.0), span(200.0), span(7300.0)
    ('94 s', '3 min', '2 h 2 min')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"


def in_a_row(rises: int, seconds: float | None) -> str:
    """That an alarm keeps coming back.

    >>> in_a_row(4, 200.0)
    'comes and goes: 4 times in 3 min'
    """
    within = f" in {span(seconds)}" if seconds is not None else ""
    return f"comes and goes: {rises} times{within}"


def came_and_went(rises: int, seconds: float | None, calm: float) -> str:
    """That an alarm which kept coming back is over.

    >>> came_and_went(9, 2460.0, 600.0)
    'came and went 9 times in 41 min, calm for 10 min'
    """
    within = f" in {span(seconds)}" if seconds is not None else ""
    return f"came and went {rises} times{within}, calm for {span(calm)}"


def with_more(text: str, more: str) -> str:
    """A reason with something added."""
    return f"{text}; {more}" if more else text


def figure(value: float, against: float) -> str:
    """A number with one decimal, or as many as it takes to stand on the right side of another.

    >>> figure(0.5996, 0.6), figure(2.31, 1.0)
    ('0.5996', '2.3')
    """
    for decimals in range(1, MOST_DECIMALS):
        text = f"{value:.{decimals}f}"
        if _side(float(text), against) == _side(value, against):
            return text
    return f"{value:.{MOST_DECIMALS}g}"


def _side(value: float, against: float) -> int:
    return (value > against) - (value < against)


def _told(rule: AlarmRule, value: float, against: float) -> str:
    if rule.out_of_sight(value):
        return rule.far_words
    return rule.measured.replace("{value}", f"{figure(value, against)} {rule.unit}")
