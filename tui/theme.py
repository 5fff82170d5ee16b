"""The colours of everything that is not a measurement."""

from __future__ import annotations

from textual.theme import Theme

NAME = "boathouse"
PLAIN_NAME = "ansi-dark"
"""The library's theme of terminal default colours, for terminals of 16 or no colours."""

BOATHOUSE = Theme(
    name=NAME,
    primary="#8fb2b9",
    secondary="#c9b78c",
    warning="#f2bd55",
    error="#e79a85",
    success="#8fc7b1",
    accent="#c9b78c",
    foreground="#c3c9cd",
    background="#121517",
    surface="#1a1e21",
    panel="#22272b",
    dark=True,
)
