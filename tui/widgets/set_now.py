"""What is set now, each with its two keys, and which of it stays as it is."""

from __future__ import annotations

from analysis.exposure.control_steps import CONTROL_OF, KNOBS, Knob
from analysis.exposure.control_words import plain, shutter_words
from analysis.model.controls import Controls
from analysis.model.planning import Planning
from tui.bridge import Showing
from tui.look import Look
from tui.palette import Ink
from tui.sheet import Sheet
from tui.way_words import HOW
from tui.widgets.panel import Panel
from tui.wording import NOTHING

KEYS: dict[Knob, str] = {
    "nd_stops": "n",
    "iso": "i",
    "t_stop": "t",
    "shutter_angle": "s",
    "key_percent": "k",
    "key_distance": "r",
}
"""The letter of each control: small is a step down, capital a step up."""
NAMES: dict[Knob, str] = {
    "nd_stops": "ND",
    "iso": "ISO",
    "t_stop": "T",
    "shutter_angle": "shutter",
    "key_percent": "key",
    "key_distance": "at",
}


class SetNowPanel(Panel):
    """Three lines: a heading, the values, their keys with the locks. ``chosen`` was touched last."""

    def __init__(self, look: Look, name: str) -> None:
        super().__init__(look, name)
        self.chosen: Knob = "nd_stops"
        self.words = ""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """Values strong, keys as keys; what nobody said is not shown."""
        planning = showing.snapshot.planning or Planning()
        self._put_heading(sheet, planning)
        width = max(sheet.width // len(KNOBS), 1)
        for number, knob in enumerate(KNOBS):
            x = number * width
            mark = (">" if sheet.ascii else "▶") if knob == self.chosen else " "
            sheet.put(x, 1, mark, Ink.SITTER)
            told = (value_words(knob, planning.controls, planning.said, short) for short in (False, True))
            text = next((each for each in told if len(each) < width), "…")  # half a number says another
            sheet.put(x + 1, 1, text, Ink.STRONG if planning.said else Ink.SOFT)
            letter = KEYS[knob]
            end = sheet.put(x + 1, 2, f"{letter}/{letter.upper()}", Ink.KEY)
            if not planning.limits.free(CONTROL_OF[knob]):
                sheet.put(end + 1, 2, "locked" if width > 11 else "lock"[: max(width - 5, 0)], Ink.SOFT)

    def _put_heading(self, sheet: Sheet, planning: Planning) -> None:
        notes = (
            [self.words] if self.words else [] if planning.said else [HOW, "two keys each, or watch --controls FILE"]
        )
        camera = f"{planning.camera}, " if planning.camera else ""
        notes += [
            f"{camera}small letter: a step down, capital: up, x locks",
            "small letter: a step down, capital: up, x locks",
            "x locks",
        ]
        title = "SET NOW" if planning.said else "NOT SAID WHAT IS SET"
        note = next((each for each in notes if len(each) + len(title) + 3 <= sheet.width), "")
        ink = Ink.CARE if self.words or not planning.said else Ink.SOFT
        sheet.rule(0, title, note, Ink.STRONG, ink)


def value_words(knob: Knob, now: Controls, said: bool = True, short: bool = False) -> str:
    """A control and what it is set to; ``short`` is the value alone.

    >>> [value_words(knob, Controls(nd_stops=6, t_stop=2.8)) for knob in KNOBS]
    ['ND 6', 'ISO 800', 'T2.8', '180° 1/50', 'key –', 'at –']
    >>> [value_words(knob, Controls(nd_stops=6, t_stop=2.8), short=True) for knob in KNOBS]
    ['6', '800', '2.8', '180°', '–', '–']
    """
    value = getattr(now, knob)
    if not said or value is None:
        return NOTHING if short else f"{NAMES[knob]} {NOTHING}"
    if short:
        return f"{plain(value)}{'°' if knob == 'shutter_angle' else '%' if knob == 'key_percent' else ''}"
    if knob == "t_stop":
        return f"T{value:g}"
    if knob == "shutter_angle":
        return shutter_words(now)
    return f"{NAMES[knob]} {plain(value)}{' %' if knob == 'key_percent' else ''}"
