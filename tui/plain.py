"""Plain ASCII twins for characters that a terminal cannot be trusted with."""

from __future__ import annotations

import unicodedata

_TWINS = {
    "×": "x", "·": "-", "–": "-", "—": "-", "−": "-", "…": ".", "±": "+", "²": "2", "’": "'", "‘": "'", "“": '"',
    "”": '"', "→": ">", "←": "<", "↑": "^", "↓": "v", "─": "-", "━": "-", "│": "|", "┃": "|", "●": "*", "○": "o",
    "◐": "~", "◆": "#", "◇": "o", "▲": "^", "▼": "v", "△": "^", "▽": "v", "█": "#", "▀": "#", "▄": "#", "░": ":",
    "╔": "#", "╗": "#", "╚": "#", "╝": "#", "╠": ">", "╣": ">", "╭": "/", "╮": "\\", "┏": "@", "┓": "@", "▶": ">",
    "▂": "_", "▃": "_", "▅": "#", "▆": "#", "▇": "#",  # edges of the library's scroll bar
    "°": "d", "╎": ":", "╌": "-", "║": "|", "‖": "=", "═": "=", "├": "[", "┤": "]",
    "▒": "+", "▓": "#", "≥": ">", "≤": "<", "╱": "/", "▔": "-", "▁": "_", "▊": "|", "▎": "|", "▏": "|", "▕": "|",
}  # fmt: skip


def plain(character: str) -> str:
    """One printable ASCII character for any character; ``?`` where nothing is near.

    >>> "".join(map(plain, "16×9 … é 図"))
    '16x9 . e ?'
    """
    if " " <= character <= "~":
        return character
    twin = _TWINS.get(character)
    if twin is None:
        base = unicodedata.normalize("NFKD", character)[0]
        twin = base if " " <= base <= "~" else "?"
    return twin
