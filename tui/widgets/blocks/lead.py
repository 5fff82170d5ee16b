"""The figures that are read from afar: the sitter's skin, or the middle of the picture; and the headroom."""

from __future__ import annotations

from analysis.model.sitter import SitterReading
from tui.figures import figure_size, put_figure
from tui.measured_words import aim_words, distance_words, nobody, set_by, side_words, sitter_state, stops
from tui.palette import Ink
from tui.placing import band_of, main_sitter, sitter_distance
from tui.sheet import Sheet
from tui.widgets.blocks.block import Step, Told
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import NOTHING, level, share

_BESIDE = 4  # rows under a heading with two figures side by side and their names
_LARGE = 5


class Lead:
    """A level and the headroom, large where there is room. With sitters looked for, two lines on the sitter as well."""

    def steps(self, told: Told) -> tuple[Step, ...]:
        """One line; two figures side by side; one large figure and one below it; both large."""
        more = 2 if _sought(told) else 0
        steps = [Step(2), Step(1 + _BESIDE, 90), Step(1 + _BESIDE + more, 89)]
        if figure_size("00.0", 2)[0] < told.width:
            steps += [Step(1 + _LARGE + more + 4, 60), Step(1 + _LARGE + more + 6, 30)]
        return tuple(sorted(steps))

    def draw(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """Heading, figures, words."""
        sitter = main_sitter(told.reading)
        self._put_heading(sheet, y, told, sitter)
        if rows <= 2:
            self._put_line(sheet, y + 1, told, sitter)
            return
        more = 2 if _sought(told) and rows != 1 + _BESIDE else 0
        if rows <= 1 + _BESIDE + more:
            self._put_beside(sheet, y + 1, told, sitter)
            end = y + 1 + _BESIDE
        else:
            self._put_level(sheet, y + 1, told, sitter, 2)
            end = y + 1 + _LARGE
        if more:
            self._put_sitter(sheet, end, told, sitter)
            end += more
        if end < y + rows:
            self._put_headroom(sheet, end, y + rows - end - 1, told)

    def _put_heading(self, sheet: Sheet, y: int, told: Told, sitter: SitterReading | None) -> None:
        banner = told.showing.banner
        note, ink = (f" {banner[0]} ", Ink.CARE) if told.stale and banner else ("IRE", Ink.SOFT)
        if note == "IRE" and _sought(told) and told.reading is not None:
            if sitter is None:
                note = f"{nobody(told.reading.sitters or ())}, IRE"
            elif sitter.state != "seen":
                note, ink = f" {sitter_state(sitter)} ", Ink.CARE
        title = "LEVEL" if sitter is None else sitter.name.upper()
        sheet.rule(y, title, note, Ink.STRONG, ink)

    def _put_line(self, sheet: Sheet, y: int, told: Told, sitter: SitterReading | None) -> None:
        name, text = _level(told, sitter)
        pieces = [
            Piece(f"{name} {text}", told.ink(Ink.STRONG), 9),
            Piece(f"headroom {_headroom(told)}", told.ink(Ink.TEXT), 5),
        ]
        put_pieces(sheet, 1, y, sheet.width - 1, pieces)

    def _put_beside(self, sheet: Sheet, y: int, told: Told, sitter: SitterReading | None) -> None:
        """The level at the left and the headroom at the right, their names beneath them."""
        self._put_level(sheet, y, told, sitter, 1)
        name, _ = _level(told, sitter)
        sheet.put(1, y + 3, name, Ink.SOFT)
        text = _headroom(told)
        width = figure_size(text, 1)[0] if text != NOTHING else 1
        start = sheet.width - max(width, len("headroom")) - 1
        beside = 1 if _level(told, sitter)[1] == NOTHING else figure_size(_level(told, sitter)[1], 1)[0]
        if start + width > sheet.width or start <= beside + 1:
            sheet.put_right(sheet.width - 1, y + 1, text, told.ink(Ink.STRONG))
        else:
            _put_large(sheet, start, y, text, 1, told.ink(Ink.TEXT))
        sheet.put_right(sheet.width - 1, y + 3, "headroom", Ink.SOFT)

    def _put_level(self, sheet: Sheet, y: int, told: Told, sitter: SitterReading | None, scale: int) -> None:
        name, text = _level(told, sitter)
        ink = told.ink(Ink.FIGURE)
        if sitter is not None and sitter.level is None:
            put_figure_word(sheet, y, sitter_state(sitter) or "not measured")
            return
        end = _put_large(sheet, 1, y, text, scale, ink)
        if scale == 2 and end + 1 + len(name) < sheet.width:
            sheet.put_right(sheet.width - 1, y + _LARGE - 1, name, Ink.SOFT)

    def _put_sitter(self, sheet: Sheet, y: int, told: Told, sitter: SitterReading | None) -> None:
        """The distance to the aim in words, then what else is known of the sitter."""
        reading = told.reading
        if reading is None:
            return
        aims = told.showing.snapshot.aims
        band = band_of(reading, sitter.name if sitter is not None else "sitter", aims)
        if sitter is None:
            sheet.put(1, y, f"{nobody(reading.sitters or ())}, so the middle", Ink.TEXT)
            sheet.put(1, y + 1, f"sitter {aim_words(band)}" if band is not None else "no aim for sitters", Ink.SOFT)
            return
        if sitter.level is None:
            sheet.put(1, y, "the skin cannot be read", Ink.TEXT)
            sheet.put(1, y + 1, aim_words(band), Ink.SOFT)
            return
        off = sitter_distance(reading, sitter, aims)
        ink = Ink.AIM if off is not None and off.within else Ink.SEEN
        words = [Piece(distance_words(off), told.ink(ink), 9), Piece(aim_words(band), Ink.SOFT, 5)]
        put_pieces(sheet, 1, y, sheet.width - 1, words, gap=1 if sheet.width < 34 else 2)
        ratio = side_words(sitter.ratio_stops)
        spread = "" if sitter.low is None else f"{level(sitter.low)}-{level(sitter.high)}"
        details = [
            Piece("" if sitter.stops is None else f"{stops(sitter.stops)} st", told.ink(Ink.TEXT), 7),
            Piece(spread, told.ink(Ink.TEXT), 5),
            Piece(f"clip {share(sitter.clipped)} %" if sitter.clipped else "", told.ink(Ink.OVER), 8),
            Piece(ratio, told.ink(Ink.TEXT), 6),
        ]
        put_pieces(sheet, 1, y + 1, sheet.width - 1, details)

    def _put_headroom(self, sheet: Sheet, y: int, rows: int, told: Told) -> None:
        """The stops up to the ceiling, and beside them those down to the floor."""
        reading = told.reading
        clip = reading.clipped if reading is not None else None
        notes = ["stops"]
        planning = told.showing.snapshot.planning
        full = planning.sensor_end if planning is not None else None
        if full is not None:
            notes = [f"stops to {level(full)}, sensor's end", f"stops to {level(full)}", "stops"]
        elif clip is not None:
            notes = [f"stops to {level(clip.level)}, {set_by(clip.by)}", f"stops to {level(clip.level)}", "stops"]
        note = next(text for text in notes if len(text) + 10 <= sheet.width or text == "stops")
        sheet.rule(y, "HEADROOM", note, Ink.STRONG)
        text = _headroom(told)
        scale = 2 if rows >= _LARGE else 1
        height = figure_size("0", scale)[1]
        end = _put_large(sheet, 1, y + 1, text, scale, told.ink(Ink.FIGURE))
        x = max(end + 3, 16)
        if reading is not None and text == NOTHING:
            why = "no curve, no stops" if reading.encoding.curve is None else "not measured yet"
            sheet.put(4, y + 1 + height // 2, why, Ink.CARE if reading.encoding.curve is None else Ink.SOFT)
            return
        sheet.put(x, y + 1 + height // 2, "footroom", Ink.SOFT)
        footroom = reading.footroom_stops if reading is not None else None
        sheet.put(x + 10, y + 1 + height // 2, stops(footroom, signed=False), told.ink(Ink.STRONG))


def put_figure_word(sheet: Sheet, y: int, word: str) -> None:
    """A word where a large figure would stand."""
    sheet.put(1, y + 1, f" {word} ", Ink.GONE)


def _put_large(sheet: Sheet, x: int, y: int, text: str, scale: int, ink: Ink) -> int:
    if text == NOTHING:  # nothing large where nothing was measured
        return sheet.put(x, y + figure_size("0", scale)[1] // 2, text, Ink.SOFT)
    return put_figure(sheet, x, y, text, scale, ink)


def _sought(told: Told) -> bool:
    """Whether sitters are looked for: then their lines stay, so that nothing jumps when a face is lost."""
    return told.reading is not None and told.reading.sitters is not None


def _level(told: Told, sitter: SitterReading | None) -> tuple[str, str]:
    """What the large level is of, and the level."""
    if sitter is not None:
        return "skin", level(sitter.level)
    luma = told.reading.luma if told.reading is not None else None
    return "middle", level(luma.p50 if luma is not None else None)


def _headroom(told: Told) -> str:
    return stops(told.reading.headroom_stops if told.reading is not None else None, signed=False)
