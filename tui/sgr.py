"""Terminal pens: reading SGR parameters and saying the shortest change from one pen to another.

Source: ECMA-48 (5th edition) 8.3.117 "SGR - Select Graphic Rendition"; the 38/48 colour
forms are those of ISO/IEC 8613-6 as terminals write them (``38;2;r;g;b`` and ``38;5;n``).
"""

from __future__ import annotations

from typing import NamedTuple

DEFAULT_FRONT, DEFAULT_BACK = "39", "49"


class Pen(NamedTuple):
    """How cells are drawn: attributes such as ``1;7``, foreground and background as SGR parameters."""

    attributes: str = ""
    front: str = DEFAULT_FRONT
    back: str = DEFAULT_BACK


PLAIN = Pen()


def parse_pen(parameters: str) -> Pen:
    """The pen that one SGR sequence selects when it starts from the plain pen.

    >>> parse_pen("1;38;2;1;2;3;48;5;9")
    Pen(attributes='1', front='38;2;1;2;3', back='48;5;9')
    >>> parse_pen("7;0;93")
    Pen(attributes='', front='93', back='49')
    """
    attributes: list[str] = []
    front, back = DEFAULT_FRONT, DEFAULT_BACK
    parts = parameters.split(";") if parameters else []
    position = 0
    while position < len(parts):
        part = parts[position]
        if part in {"38", "48"}:
            length = 5 if parts[position + 1 : position + 2] == ["2"] else 3
            colour = ";".join(parts[position : position + length])
            front, back = (colour, back) if part == "38" else (front, colour)
            position += length
            continue
        number = int(part or 0)
        if number == 0:
            attributes, front, back = [], DEFAULT_FRONT, DEFAULT_BACK
        elif 30 <= number <= 39 or 90 <= number <= 97:
            front = part
        elif 40 <= number <= 49 or 100 <= number <= 107:
            back = part
        else:
            attributes.append(part)
        position += 1
    return Pen(";".join(attributes), front, back)


def change_pen(now: Pen | None, then: Pen) -> str:
    """The shortest escape sequence that turns the terminal's pen ``now`` into ``then``.

    ``now`` is None when the terminal's pen is not known. Attributes are only ever added
    after a reset, since switching a single one off is not reliable everywhere.

    >>> change_pen(Pen("", "93", "40"), Pen("", "92", "40"))
    '\\x1b[92m'
    >>> change_pen(Pen("1"), Pen())
    '\\x1b[0m'
    """
    if now == then:
        return ""
    if now is None or now.attributes != then.attributes:
        front = then.front if then.front != DEFAULT_FRONT else ""
        back = then.back if then.back != DEFAULT_BACK else ""
        parameters = ["0", then.attributes, front, back]
    else:
        parameters = [then.front if then.front != now.front else "", then.back if then.back != now.back else ""]
    return f"\x1b[{';'.join(part for part in parameters if part)}m"
