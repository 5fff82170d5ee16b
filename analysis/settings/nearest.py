"""The nearest known word, for errors that help."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint naming the known word closest to ``word``, or all of them when none is close.

    >>> nearest("clera", ["limit", "clear"])
    'did you mean "clear"?'
    >>> nearest("zzz", ["limit", "clear"])
    'known: clear, limit'
    """
    words = sorted(known)
    close = get_close_matches(word, words, n=1, cutoff=0.5)
    return f'did you mean "{close[0]}"?' if close else "known: " + ", ".join(words)
