"""Why an alarm changed, in words with the numbers."""

from __future__ import annotations

from analysis.alarm.rule import AlarmRule

MOST_DECIMALS = 6


def rose(rule: AlarmRule, value: float, seconds: float, evidence: str) -> str:
    """Why an alarm rose.

    >>> from analysis.alarm.defaults import FEED, HIGHLIGHTS
    >>> rose(HIGHLIGHTS, 2.31, 1.0, "")
    'clipped 2.3 % of the picture, at or over the limit 1.0 % for 1.0 s'
    >>> rose(FEED, 1.0, 0.0, "no picture for 1.2 s")
    'feed lost: no picture for 1.2 s'
    """
    if rule.limit is None:
        return f"{rule.words}: {evidence}" if evidence else rule.words
    return f"{_told(rule, value, rule.limit)}, at or over the limit {rule.limit:.1f} {rule.unit} for {seconds:.1f} s"


def returned(rule: AlarmRule, value: float, seconds: float, evidence: str) -> str:
    """Why an alarm returned.

    >>> from analysis.alarm.defaults import FEED, HIGHLIGHTS
    >>> returned(HIGHLIGHTS, 0.4, 2.0, "")
    'clipped 0.4 % of the picture, under the clear level 0.6 % for 2.0 s'
    >>> returned(FEED, 0.0, 2.0, "live at 25.0 fps")
    'feed back for 2.0 s: live at 25.0 fps'
    """
    if rule.clear is None:
        told = f"feed back for {seconds:.1f} s"
        return f"{told}: {evidence}" if evidence else told
    return f"{_told(rule, value, rule.clear)}, under the clear level {rule.clear:.1f} {rule.unit} for {seconds:.1f} s"


def acknowledged(still_active: bool) -> str:
    """Why an alarm was taken as seen."""
    return "acknowledged while active" if still_active else "acknowledged after it had returned"


def _told(rule: AlarmRule, value: float, against: float) -> str:
    return rule.measured.replace("{value}", f"{figure(value, against)} {rule.unit}")


def figure(value: float, against: float) -> str:
    """A number with one decimal, or as many as it takes to stand on the right side of another.

    >>> figure(0.5996, 0.6), figure(2.31, 1.0)
    ('0.5996', '2.3')
    """
    for decimals in range(1, MOST_DECIMALS):
        text = f"{value:.{decimals}f}"
        if (float(text) >= against) == (value >= against):
            return text
    return f"{value:.{MOST_DECIMALS}g}"
