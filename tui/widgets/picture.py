"""The small picture: through the viewing transform, as the plain signal, or as a map of zones."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from analysis.measure.examiner import known_curve
from analysis.measure.zones import Aimed, Free, ZoneMapper, levels_of, only_outside
from analysis.model.frame import Encoding
from analysis.model.reading import Reading, View
from analysis.model.sitter import Spot
from analysis.signal.matrix import luma_weights
from analysis.signal.tables import LookUpTable
from analysis.signal.viewing import ViewingTransform, viewing_for
from tui.arrange import Box
from tui.bridge import Showing
from tui.cells import PictureCells, fit
from tui.look import Look
from tui.palette import Ink
from tui.placing import band_of
from tui.sheet import Codes, Sheet
from tui.widgets.frames import part_of, put_frames
from tui.widgets.panel import Panel
from tui.zone_map import Steady, ZoneCells, zones_at

Seen = Literal["eye", "signal", "zones", "outside"]
"""How the picture is shown: for the eye, as it comes, as zones, only what is outside the aims."""
SEEN: tuple[Seen, ...] = ("eye", "signal", "zones", "outside")

_TITLES: dict[Seen, str] = {"eye": "PICTURE", "signal": "PICTURE", "zones": "ZONES", "outside": "OUTSIDE AIMS"}


class PicturePanel(Panel):
    """The picture as large as its proportions allow, with sitters and spots framed.

    ``seen`` chooses how it is shown; ``place`` is where it was drawn last, None where it was not.
    """

    def __init__(self, look: Look, name: str, table: LookUpTable | None = None) -> None:
        super().__init__(look, name)
        self.seen: Seen = "signal" if look.viewing == "signal" else "eye"
        self.place: Box | None = None
        self.picked: str | None = None
        self._table = table
        self._cells = PictureCells(look.glyphs, greys=look.colours in {"full", "256", "auto"})
        self._zones = ZoneCells(look)
        self._steady = Steady()
        self._viewing: tuple[Encoding, Seen, ViewingTransform] | None = None
        self._mapper: tuple[object, ZoneMapper] | None = None

    def see(self, seen: Seen) -> None:
        """Show the picture another way."""
        self.seen = seen
        self._cells.forget()
        self._steady.forget()

    def see_next(self) -> None:
        """Show the picture the next way: for the eye, as it comes, as zones, only what is outside the aims."""
        self.see(SEEN[(SEEN.index(self.seen) + 1) % len(SEEN)])

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """The picture under a heading; nothing at all when there is no picture to vouch for."""
        view, reading = showing.view, showing.reading
        self.place = None
        self._put_heading(sheet, showing)
        if view is None or reading is None:
            self._cells.forget()
            self._steady.forget()
            self._put_words(sheet, "no picture")
            return
        mapped = self.seen in {"zones", "outside"}
        mapper = self._mapper_for(reading) if mapped else None
        if mapped and mapper is None:
            self._put_words(sheet, "no curve, so no zones (--curve says it)")
            return
        height, width = view.small.shape[:2]
        columns, rows = fit(width, height, sheet.width, sheet.height - (2 if mapped else 1))
        if columns < 2 or rows < 1:
            return
        self.place = Box((sheet.width - columns) // 2, 1, columns, rows)
        if mapper is not None:
            codes, inks = self._draw_zones(mapper, view, showing, columns, rows)
            self._zones.put_legend(sheet, sheet.height - 1)
        else:
            codes, inks = self._cells.draw(self._viewed(reading.encoding).apply(view.small), columns, rows)
        sheet.block(self.place.x, 1, codes, inks)
        put_frames(sheet, self.place, reading, self.spots(showing), self.picked)

    def spots(self, showing: Showing) -> tuple[Spot, ...]:
        """The spots that are framed."""
        return showing.snapshot.spots

    def _put_words(self, sheet: Sheet, text: str) -> None:
        sheet.put(max((sheet.width - len(text)) // 2, 0), sheet.height // 2, text, Ink.SOFT)

    def _put_heading(self, sheet: Sheet, showing: Showing) -> None:
        title = _TITLES[self.seen]
        if showing.trust == "mind" and showing.banner:
            sheet.rule(0, title, f" {showing.banner[0]} ", Ink.STRONG, Ink.CARE)
            return
        note, ink = "", Ink.SOFT
        if self.seen in {"zones", "outside"}:
            note = "▲ clip ▼ crush"
        elif showing.reading is not None:
            viewing = self._viewed(showing.reading.encoding)
            note = "plain signal" if self.seen == "signal" else viewing.trouble or viewing.label
            ink = Ink.CARE if self.seen == "eye" and viewing.trouble else Ink.SOFT
        if len(title) + len(note) + 3 > sheet.width and ink == Ink.CARE:
            note = "as it comes"
        sheet.rule(0, title, note, Ink.STRONG, ink)

    def _viewed(self, encoding: Encoding) -> ViewingTransform:
        """The transform for this encoding, made once."""
        if self._viewing is None or self._viewing[:2] != (encoding, self.seen):
            choice: Literal["auto", "signal", "table"] = "table" if self._table is not None else "auto"
            made = viewing_for(encoding, "signal" if self.seen == "signal" else choice, self._table)
            self._viewing = (encoding, self.seen, made)
        return self._viewing[2]

    def _mapper_for(self, reading: Reading) -> ZoneMapper | None:
        """What makes zones of this feed; made anew when its curve or its ends change by a code of the small picture."""
        known = known_curve(reading.encoding.curve)
        if known is None:
            return None
        clip = reading.clipped.level if reading.clipped is not None else 100.0
        crush = reading.crushed.level if reading.crushed is not None else 0.0
        key = (known.name, reading.encoding.matrix, round(clip, 1), round(crush, 1))
        if self._mapper is None or self._mapper[0] != key:
            self._mapper = (key, ZoneMapper(known, luma_weights(reading.encoding.matrix), clip, crush))
        return self._mapper[1]

    def _draw_zones(
        self, mapper: ZoneMapper, view: View, showing: Showing, columns: int, rows: int
    ) -> tuple[Codes, npt.NDArray[np.uint16]]:
        small = self._steady.calm(view.small)
        down = rows * self._zones.down
        zones = zones_at(mapper, small, mapper.of_picture(small, view.clip_marks, view.crush_marks), columns, down)
        if self.seen == "outside":
            aimed, free = _aims(showing)
            levels = zones_levels(small, mapper.weights, columns, down)
            zones = only_outside(zones, levels, aimed, free)
        return self._zones.draw(zones)


def zones_levels(
    small: npt.NDArray[np.uint8], weights: tuple[float, float, float], columns: int, rows: int
) -> npt.NDArray[np.float32]:
    """Luma in IRE of a small picture brought to another size."""
    return np.asarray(cv2.resize(levels_of(small, weights), (columns, rows), interpolation=cv2.INTER_AREA), np.float32)


def _aims(showing: Showing) -> tuple[list[Aimed], list[Free]]:
    """Sitters and spots that have an aim, and spots that may clip, as parts of the picture."""
    reading, aims = showing.reading, showing.snapshot.aims
    assert reading is not None
    aimed, free = [], []
    for sitter in reading.sitters or ():
        band = band_of(reading, sitter.name, aims)
        if band is not None:
            part = part_of(sitter.box, reading.picture.active)
            aimed.append(Aimed(**part._asdict(), low=band.low, high=band.high))
    for spot in showing.snapshot.spots:
        area = {"x": spot.x, "y": spot.y, "width": spot.width, "height": spot.height}
        if spot.kind == "let go":
            free.append(Free(**area))
        band = band_of(reading, spot.name, aims)
        if band is not None:
            aimed.append(Aimed(**area, low=band.low, high=band.high))
    return aimed, free
