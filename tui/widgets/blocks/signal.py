"""How clean the signal is: shadow noise, flicker and the shutter angles that avoid it, tolerance."""

from __future__ import annotations

from analysis.measure.mains import alias_hz
from analysis.model.reading import Flicker, Reading
from tui.measured_words import angle_words, flicker_words, noise_words, tolerance_words
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.blocks.block import Step, Told
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import NOTHING


class Signal:
    """As many lines as there is room for, the most pressing first: a flicker that is seen outranks all others."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """None, one, two, or all six with a heading."""
        seen = _seen(told.reading)
        return Step(0), Step(1, 88 if seen else 48), Step(2, 59 if seen else 46), Step(4, 25), Step(6, 24)

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Names soft, values strong, what needs care in its ink."""
        if rows == 6:
            sheet.rule(y, "SIGNAL", _rate_words(told), Ink.STRONG)
            y, rows = y + 1, rows - 1
        for number, (name, pieces) in enumerate(self._lines(told)[:rows]):
            sheet.put(1, y + number, name, Ink.SOFT)
            x = 13 if sheet.width >= 34 else 12
            put_pieces(sheet, x, y + number, sheet.width - x, pieces, gap=1)

    def _lines(self, told: Told) -> list[tuple[str, list[Piece]]]:
        reading = told.reading
        noise = ("shadow S/N", self._noise(told, reading))
        seen = _seen(reading)
        ink = told.ink(Ink.SEEN if seen else Ink.TEXT)
        flicker = ("flicker", [Piece(word, ink, 9 - n) for n, word in enumerate(self._flicker(reading))])
        shape = told.showing.snapshot.feed.format
        rate = shape.rate if shape is not None and reading is not None else None
        angles = [
            (f"safe {hertz:g} Hz", [Piece(angle_words(rate, hertz), Ink.TEXT, cut=True)])
            for hertz in likely_mains(rate, reading.flicker if reading is not None else None)
        ]
        tolerance = ("R 103", self._tolerance(told, reading))
        return [flicker, *angles, noise, tolerance] if seen else [noise, tolerance, flicker, *angles]

    def _noise(self, told: Told, reading: Reading | None) -> list[Piece]:
        figure, words = noise_words(reading.noise if reading is not None else None)
        return [Piece(figure, told.ink(Ink.STRONG), 9), Piece(words, Ink.SOFT, 1, cut=True)]

    def _flicker(self, reading: Reading | None) -> list[str]:
        if reading is None:
            return [NOTHING]
        if reading.encoding.curve is None:
            return ["no curve, not measured"]
        return flicker_words(reading.flicker)

    def _tolerance(self, told: Told, reading: Reading | None) -> list[Piece]:
        found = reading.tolerance if reading is not None else None
        words = tolerance_words(found)
        ink = Ink.SEEN if found is not None and not found.within else Ink.TEXT
        first = [Piece(words[0], told.ink(Ink.STRONG), 9)]
        return [*first, *(Piece(text, told.ink(ink), 5 - number) for number, text in enumerate(words[1:]))]


def likely_mains(rate: float | None, flicker: Flicker | None) -> tuple[float, float]:
    """50 and 60 Hz, first the one that would beat as it was seen.

    >>> likely_mains(25.0, Flicker(hz=5.0, stops=0.1)), likely_mains(24.0, Flicker(hz=4.0, stops=0.1))
    ((60.0, 50.0), (50.0, 60.0))
    """
    seen = flicker.hz if flicker is not None else None
    if rate is None or rate <= 0 or seen is None:
        return 50.0, 60.0
    first = min((50.0, 60.0), key=lambda hertz: abs(alias_hz(rate, hertz) - seen))
    return first, 110.0 - first


def _seen(reading: Reading | None) -> bool:
    return reading is not None and reading.flicker is not None and reading.flicker.seen


def _rate_words(told: Told) -> str:
    shape = told.showing.snapshot.feed.format
    return "" if told.reading is None or shape is None or shape.rate is None else f"angles at {shape.rate:g} a second"
