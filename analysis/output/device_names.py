"""Finding a sound device by its name again, whatever number its card has now."""

from __future__ import annotations

import re
from collections.abc import Sequence

# ALSA puts the number of the card into the name; a card that comes back may have another one.
_CARD = re.compile(r"\(hw:\d+,(\d+)\)")


def same_device(names: Sequence[str], wanted: str) -> int | None:
    """The place of the device called ``wanted`` among ``names``, None when there is none.

    The very name first, then the same with another number of the card, then the first that has all of it in it.

    >>> same_device(["Desk: Line (hw:0,0)", "Desk: Line (hw:0,1)"], "desk: line (hw:1,1)")
    1
    >>> same_device(["Desk: Line (hw:0,0)"], "lamp") is None
    True
    """
    plain = wanted.casefold()
    known = [name.casefold() for name in names]
    for alike in (
        [place for place, name in enumerate(known) if name == plain],
        [place for place, name in enumerate(known) if _CARD.sub(r"(hw,\1)", name) == _CARD.sub(r"(hw,\1)", plain)],
        [place for place, name in enumerate(known) if all(word in name for word in plain.split())],
    ):
        if alike:
            return alike[0]
    return None
