"""Numbers as they are said: to be heard by somebody whose hands are full, so never finer than a camera's steps."""

from __future__ import annotations

from math import floor

_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
# Thirds are the steps of a camera; a half is what people say.
_PARTS = ((0.0, ""), (1 / 3, "a third"), (0.5, "a half"), (2 / 3, "two thirds"), (1.0, ""))
_ALONE = {"a third": "a third of a stop", "a half": "half a stop", "two thirds": "two thirds of a stop"}


def number(value: int) -> str:
    """A whole number as words, up to a hundred; any other in figures.

    >>> [number(value) for value in (0, 7, 13, 20, 42, 100, 250)]
    ['zero', 'seven', 'thirteen', 'twenty', 'forty-two', 'a hundred', '250']
    """
    if value == 100:
        return "a hundred"
    if not 0 <= value < 100:
        return str(value)
    if value < len(_ONES):
        return _ONES[value]
    tens, ones = divmod(value, 10)
    return _TENS[tens] + (f"-{_ONES[ones]}" if ones else "")


def stops(value: float) -> str:
    """A number of stops as it is said, without its direction; empty for less than a sixth of a stop.

    >>> [stops(value) for value in (0.1, 0.3, -0.5, 0.7)]
    ['', 'a third of a stop', 'half a stop', 'two thirds of a stop']
    >>> [stops(value) for value in (1.0, 1.33, -2.5, 2.9)]
    ['one stop', 'one and a third stops', 'two and a half stops', 'three stops']
    """
    size = abs(value)
    whole = floor(size)
    part, words = min(_PARTS, key=lambda one: abs(size - whole - one[0]))
    if part == 1.0:
        whole, words = whole + 1, ""
    if not words:
        return "" if whole == 0 else f"{number(whole)} stop{'s' if whole != 1 else ''}"
    return _ALONE[words] if whole == 0 else f"{number(whole)} and {words} stops"
