"""A running screen as an SVG picture in which every cell stands exactly where a terminal puts it.

The library's own export leaves braille to whatever font the viewer falls back to, which
shifts whole rows; here dots and blocks are drawn as shapes. From the command line it draws the
real watch: ``python -m tests.tui.portrait scene:boathouse screen.svg [120x40 [SECONDS [KEYS]]]``; keys are pressed
one after the other, with the controls of ``configs/controls.toml`` set.
"""

from __future__ import annotations

import asyncio
import sys
from html import escape
from pathlib import Path

from rich.color import Color
from rich.style import Style
from rich.terminal_theme import DIMMED_MONOKAI
from textual.app import App

from tui.theme import BOATHOUSE

WIDE, HIGH = 10, 20
_FONT = "DejaVu Sans Mono, Liberation Mono, Menlo, Consolas, monospace"
_FRONT, _BACK = str(BOATHOUSE.foreground), str(BOATHOUSE.background)
# Across and down, of each of the eight bits of a braille character.
_DOTS = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))


class Canvas:
    """Shapes, gathered by colour so that the file stays small."""

    def __init__(self) -> None:
        self.boxes: list[str] = []
        self.dots: dict[str, list[str]] = {}
        self.words: list[str] = []

    def box(self, x: float, y: float, width: float, height: float, fill: str) -> None:
        if fill != _BACK:
            self.boxes.append(f'<path fill="{fill}" d="M{x} {y}h{width}v{height}h-{width}z"/>')

    def cell(self, character: str, x: int, y: int, front: str, bold: bool) -> None:
        """One character."""
        code = ord(character)
        if 0x2800 <= code < 0x2900:
            lit = [place for bit, place in enumerate(_DOTS) if (code - 0x2800) >> bit & 1]
            places = [f"M{x + 2.5 + 5 * across:g} {y + 2.5 + 5 * down:g}h0" for across, down in lit]
            self.dots.setdefault(front, []).extend(places)
        elif character in "▀▄█":
            top = y + HIGH // 2 if character == "▄" else y
            self.box(x, top, WIDE, HIGH if character == "█" else HIGH // 2, front)
        elif character == "─":
            self.box(x, y + HIGH // 2, WIDE, 1, front)
        elif character != " ":
            weight = ' font-weight="bold"' if bold else ""
            self.words.append(f'<text x="{x}" y="{y + 15}" fill="{front}"{weight}>{escape(character)}</text>')

    def svg(self, width: int, height: int) -> str:
        """The whole picture."""
        dots = "".join(
            f'<path stroke="{colour}" stroke-width="3" stroke-linecap="round" d="{"".join(places)}"/>'
            for colour, places in self.dots.items()
        )
        size = f'viewBox="0 0 {width * WIDE} {height * HIGH}" width="{width * WIDE}" height="{height * HIGH}"'
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="{_FONT}" font-size="16">'
            f'<rect width="100%" height="100%" fill="{_BACK}"/>'
            f'<g shape-rendering="crispEdges">{"".join(self.boxes)}</g>'
            f"{dots}{''.join(self.words)}</svg>\n"
        )


def portrait(app: App, path: Path) -> None:
    """Write what ``app`` shows now to ``path``."""
    canvas = Canvas()
    for row, strip in enumerate(app.screen._compositor.render_strips()):
        column = 0
        for text, style, _ in strip:
            front, back = _colours(style or Style())
            canvas.box(column * WIDE, row * HIGH, len(text) * WIDE, HIGH, back)
            if style and style.underline:
                canvas.box(column * WIDE, row * HIGH + HIGH - 3, len(text) * WIDE, 1, front)
            for character in text:
                canvas.cell(character, column * WIDE, row * HIGH, front, bool(style and style.bold))
                column += 1
    path.write_text(canvas.svg(*app.size))


def _colours(style: Style) -> tuple[str, str]:
    front = _hex(style.color, _FRONT)
    back = _hex(style.bgcolor, _BACK)
    return (back, front) if style.reverse else (front, back)


def _hex(colour: Color | None, default: str) -> str:
    return default if colour is None or colour.is_default else colour.get_truecolor(DIMMED_MONOKAI).hex


async def _draw(feed: str, path: Path, size: tuple[int, int], seconds: float, keys: str) -> None:
    from analysis.feed.source import FeedOptions
    from tui.app import StopkeeperApp
    from tui.cli.desks import open_desks
    from tui.cli.options import settings_from
    from tui.cli.watch import build
    from tui.look import Look

    settings = settings_from(None)
    desks = open_desks(settings, feed, Path("configs/controls.toml")).desks if keys else None
    if desks is not None:
        desks.archive = None  # nothing of it is to outlive the picture
    watch = build(feed, FeedOptions(realtime=True, loop=True), settings, "off", desks=desks)
    try:
        watch.start()
        app = StopkeeperApp(watch, Look(glyphs="braille", colours="full"))
        async with app.run_test(size=size) as pilot:
            await pilot.pause(seconds)
            for key in keys:
                await pilot.press(key)
                await pilot.pause(4.0)
            portrait(app, path)
    finally:
        watch.close()


if __name__ == "__main__":
    feed, path, *more = sys.argv[1:]
    width, height = (more[0] if more else "120x40").split("x")
    seconds, keys = float(more[1]) if len(more) > 1 else 8.0, more[2] if len(more) > 2 else ""
    asyncio.run(_draw(feed, Path(path), (int(width), int(height)), seconds, keys))
