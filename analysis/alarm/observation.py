"""What the alarms are told at one moment."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

import msgspec

from analysis.alarm.values import highlight_words, reading_values
from analysis.model.reading import Reading

PATIENCE_SECONDS = 1.0
"""Two values further apart than this are not one continuous condition."""


class Observation(msgspec.Struct, frozen=True, kw_only=True):
    """Values by alarm name, and whether there is a feed at all.

    A value that is None, not a number, or not there is missing data: it neither raises nor
    clears. While ``feed_lost`` every value of the picture counts as missing. ``feed_words`` is
    the evidence for the feed's state, ``words`` the evidence for others, by name; ``said`` is evidence that belongs to
    what is heard as well: when it clips, how far off it is; what ``words`` has for an alarm, even nothing, goes
    before that in a reason. ``patience`` is
    the longest gap in seconds that still counts as continuous; a feed slower than about three
    pictures a second needs more than the default.
    """

    values: Mapping[str, float | None] = MappingProxyType({})
    feed_lost: bool = False
    feed_words: str = ""
    words: Mapping[str, str] = MappingProxyType({})
    said: Mapping[str, str] = MappingProxyType({})
    patience: float = PATIENCE_SECONDS

    def value(self, alarm: str, *, of_picture: bool = True) -> float | None:
        """The value for one alarm, None where it is missing; without ``of_picture`` a lost feed does not hide it.

        >>> Observation(values={"highlights": float("nan")}).value("highlights") is None
        True
        """
        if self.feed_lost and of_picture:
            return None
        value = self.values.get(alarm)
        return value if value is not None and math.isfinite(value) else None


def observed(
    reading: Reading | None,
    *,
    feed_lost: bool,
    feed_words: str = "",
    patience: float = PATIENCE_SECONDS,
    more: Mapping[str, float | None] = MappingProxyType({}),
    words: Mapping[str, str] = MappingProxyType({}),
    said: Mapping[str, str] = MappingProxyType({}),
) -> Observation:
    """What the alarms are told of a reading, and of ``more`` that no reading holds by itself.

    Only a reading whose validity is good is judged: while a camera settles, a picture is
    late, or a frame is damaged, nothing of it rises and nothing clears.
    """
    values = {**more, **(reading_values(reading) if reading is not None else {})}
    more_words = {"highlights": highlight_words(reading)} if reading is not None else {}
    return Observation(
        values=MappingProxyType(values),
        feed_lost=feed_lost,
        feed_words=feed_words,
        words=MappingProxyType({**words, **more_words}),
        said=said,
        patience=patience,
    )
