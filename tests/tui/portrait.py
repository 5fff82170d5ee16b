"""A running screen as an SVG picture in which every cell stands exactly where a terminal puts it.

The library's own export leaves braille to whatever font the viewer falls back to, which
shifts whole rows; here dots and blocks are drawn as shapes.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from rich.color import Color
from rich.terminal_theme import DIMMED_MONOKAI
from textual.app import App

WIDE, HIGH = 10, 20
_FONT = "DejaVu Sans Mono, Liberation Mono, monospace"


def portrait(app: App, path: Path) -> None:
    """Write what ``app`` shows now to ``path``."""
    strips = app.screen._compositor.render_strips()
    width, height = app.size
    shapes: list[str] = []
    for row, strip in enumerate(strips):
        column = 0
        for text, style, _ in strip:
            front, back = _colours(style)
            shapes.append(_rectangle(column * WIDE, row * HIGH, len(text) * WIDE, HIGH, back))
            for character in text:
                shapes += _cell(character, column * WIDE, row * HIGH, front, bool(style and style.bold), style)
                column += 1
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width * WIDE} {height * HIGH}" '
        f'width="{width * WIDE}" height="{height * HIGH}" font-family="{_FONT}" font-size="16">'
        f'<rect width="100%" height="100%" fill="#121517"/>{"".join(shapes)}</svg>\n'
    )


def _colours(style) -> tuple[str, str]:
    front, back = "#c3c9cd", "#121517"
    if style is None:
        return front, back
    if style.color is not None and not style.color.is_default:
        front = _hex(style.color)
    if style.bgcolor is not None and not style.bgcolor.is_default:
        back = _hex(style.bgcolor)
    if style.dim:
        front = "#6f7880"
    return (back, front) if style.reverse else (front, back)


def _hex(colour: Color) -> str:
    return colour.get_truecolor(DIMMED_MONOKAI).hex


def _rectangle(x: float, y: float, width: float, height: float, fill: str) -> str:
    return f'<rect x="{x}" y="{y}" width="{width}" height="{height}" fill="{fill}" shape-rendering="crispEdges"/>'


def _cell(character: str, x: int, y: int, front: str, bold: bool, style) -> list[str]:
    code = ord(character)
    out = []
    if style is not None and style.underline:
        out.append(_rectangle(x, y + HIGH - 3, WIDE, 1, front))
    if 0x2800 <= code < 0x2900:
        bits = code - 0x2800
        places = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)]
        for bit, (across, down) in enumerate(places):
            if bits >> bit & 1:
                out.append(f'<circle cx="{x + 2.5 + across * 5}" cy="{y + 2.5 + down * 5}" r="1.5" fill="{front}"/>')
    elif character in "▀▄█":
        top = y + HIGH // 2 if character == "▄" else y
        out.append(_rectangle(x, top, WIDE, HIGH if character == "█" else HIGH // 2, front))
    elif character == "─":
        out.append(_rectangle(x, y + HIGH // 2, WIDE, 1, front))
    elif character != " ":
        weight = ' font-weight="bold"' if bold else ""
        out.append(f'<text x="{x}" y="{y + 15}" fill="{front}"{weight}>{escape(character)}</text>')
    return out
