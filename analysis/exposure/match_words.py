"""What to move so that the picture matches a hold, in stops and plain words, whatever is known of the controls."""

from __future__ import annotations

from typing import NamedTuple

from analysis.exposure.aims import third_words, thirds
from analysis.exposure.plan_words import LAMPS, SUN
from analysis.model.hold import Apart, Difference

MATCHED = "nothing to move: it matches to within a sixth of a stop"
UNTOLD = "nothing to tell: neither skin nor picture can be compared"


class Asked(NamedTuple):
    """Stops by which to move: ``whole`` on everything (above zero opens), then ``key`` on the sitter alone.

    ``by`` is what is brought to the hold; ``sides`` by how much the left of the face stands out more than it did.
    ``whole_least`` and ``key_least`` where it may have to be more; ``hidden`` where the clip hides what the key
    would have to do. None where it is not known.
    """

    whole: float | None
    key: float | None
    by: str
    sides: float | None = None
    whole_least: bool = False
    key_least: bool = False
    hidden: bool = False


def asked(found: Difference) -> Asked:
    """The background to the hold with what moves everything, and the sitter with the key; else what is known.

    >>> asked(Difference(background=Apart(stops=-0.67), sitter=Apart(stops=-1.0), ratio=Apart(stops=-0.33)))[:3]
    (0.67, 0.33, 'background')
    """
    sides = None if found.side_ratio is None else found.side_ratio.stops
    skin, behind, ratio = found.sitter, found.background, found.ratio
    if skin is not None and behind is not None:
        key, least = (None, False) if ratio is None else (-ratio.stops, ratio.at_least)
        return Asked(-behind.stops, key, "background", sides, behind.at_least, least, ratio is None)
    for one, name in ((skin, "skin"), (behind, "background"), (found.middle, "middle of the picture")):
        if one is not None:
            return Asked(-one.stops, None, name, sides, one.at_least)
    return Asked(None, None, "", sides)


def what_to_move(found: Difference) -> tuple[str, ...]:
    """A line for everything to move, in the order to do it.

    >>> what_to_move(Difference(background=Apart(stops=-0.67), sitter=Apart(stops=-1.0), ratio=Apart(stops=-0.33)))
    ('open 2/3 stop on everything: that brings the background to the hold', 'then the key up by 1/3 stop of skin')
    >>> what_to_move(Difference(sitter=Apart(stops=0.7)))
    ('close 2/3 stop on everything: that brings the skin to the hold',)
    >>> what_to_move(Difference(middle=Apart(stops=0.1)))
    ('nothing to move: it matches to within a sixth of a stop',)
    """
    wish = asked(found)
    if wish.whole is None:
        return (UNTOLD,)
    told = []
    if thirds(wish.whole):
        which = "open" if wish.whole > 0.0 else "close"
        size = f"{'at least ' if wish.whole_least else ''}{third_words(thirds(wish.whole))}"
        told.append(f"{which} {size} on everything: that brings the {wish.by} to the hold")
    if wish.key is not None and thirds(wish.key):
        way = "up" if wish.key > 0.0 else "down"
        then = "then the key" if told else "the key"
        size = f"{'at least ' if wish.key_least else ''}{third_words(thirds(wish.key))}"
        told.append(f"{then} {way} by {size} of skin")
    if wish.hidden:
        told.append("then look again: what the clip hides may ask for the key too")
    # A key that is to move changes the sides of the face too: they are told when it stands where it did.
    if wish.sides is not None and thirds(wish.sides) and not thirds(wish.key or 0.0):
        side, other = ("left", "right") if wish.sides > 0.0 else ("right", "left")
        size = third_words(thirds(wish.sides))
        told.append(f"the {side} of the face stands out {size} more: light the {other} by that, or the {side} less")
    return tuple(told) or (MATCHED,)


def match_cautions(found: Difference, sky: bool) -> tuple[str, ...]:
    """What to mind beside that advice; ``sky`` where bright sky is in the picture.

    >>> match_cautions(Difference(middle=Apart(stops=-1.0)), sky=True) == (SUN,)
    True
    """
    wish = asked(found)
    lamps = wish.key is not None and thirds(wish.key) > 0
    opens = wish.whole is not None and thirds(wish.whole) > 0
    return (*((LAMPS,) if lamps else ()), *((SUN,) if opens and sky else ()))


def far(apart: Apart | None) -> str:
    """A distance as it is said aloud.

    >>> far(Apart(stops=0.7)), far(Apart(stops=-0.4, at_least=True)), far(Apart(stops=0.1)), far(None)
    ('2/3 stop over', 'at least 1/3 stop under', 'alike', 'not told')
    """
    if apart is None:
        return "not told"
    if not thirds(apart.stops):
        return "alike" if not apart.at_least else "alike at least"
    side = "over" if apart.stops > 0.0 else "under"
    return f"{'at least ' if apart.at_least else ''}{third_words(thirds(apart.stops))} {side}"
