"""The terminal bell: the one sound that reaches an operator wherever the terminal is."""

from __future__ import annotations

from collections.abc import Callable

BellWriter = Callable[[], None]


class Bell:
    """Counts the bells asked for; a screen rings when it sees the count grow.

    Without a screen ``writer`` rings each one. A writer that fails is kept as ``fault`` in
    words and never tried to death: the next alarm tries it again.

    >>> bell = Bell()
    >>> bell.ring(2)
    >>> bell.rung
    2
    """

    def __init__(self, writer: BellWriter | None = None) -> None:
        self._writer = writer
        self.rung = 0
        self.fault: str | None = None

    def ring(self, times: int = 1) -> None:
        """Ring; never raises for a terminal that has gone."""
        self.rung += times
        if self._writer is None:
            return
        try:
            for _ in range(times):
                self._writer()
            self.fault = None
        except (OSError, ValueError) as error:
            self.fault = f"the terminal bell cannot be rung: {error}"
