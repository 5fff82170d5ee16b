"""When something clips, in round seconds: nobody knows them better."""

from __future__ import annotations


def clip_words(seconds: float, name: str | None = None) -> str:
    """What clips and when; ``name`` is a spot's, the brightest part's where None.

    >>> clip_words(41.0, "window"), clip_words(13.0), clip_words(2.0)
    ('window clips in about 40 s', 'brightest part clips in about 15 s', 'brightest part clips now')
    >>> clip_words(92.0), clip_words(131.0)
    ('brightest part clips in about 90 s', 'brightest part clips in about 2 min')
    """
    what = name or "brightest part"
    if seconds < 5.0:
        return f"{what} clips now"
    if seconds >= 115.0:
        return f"{what} clips in about {round(seconds / 60.0)} min"
    step = 5 if seconds < 30.0 else 10
    return f"{what} clips in about {max(step, round(seconds / step) * step)} s"
