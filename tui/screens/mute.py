"""Asking for how long to be silent."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label

DEFAULT_MINUTES = 10.0
LONGEST_MINUTES = 240.0


def minutes_from(text: str) -> float | None:
    """Minutes from what was typed, None when it is not a time between a second and four hours.

    >>> minutes_from("10"), minutes_from(" 2,5 "), minutes_from("x"), minutes_from("9999")
    (10.0, 2.5, None, None)
    """
    try:
        minutes = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return minutes if 1 / 60 <= minutes <= LONGEST_MINUTES else None


class MuteScreen(ModalScreen[float | None]):
    """A strip at the foot of the screen; the main view goes on above it. Gives seconds, or None."""

    BINDINGS = [Binding("escape", "forget", "Back", show=False)]
    DEFAULT_CSS = """
    MuteScreen { align: left bottom; background: transparent; }
    MuteScreen Vertical { width: 100%; height: 3; background: $panel; padding: 0 1; }
    MuteScreen Label { color: $text; height: 1; }
    MuteScreen Input, MuteScreen Input:focus { border: none; height: 1; padding: 0; width: 20; background: $surface; }
    MuteScreen #why { color: $text-muted; }
    """

    def compose(self) -> ComposeResult:
        """One question, one field, one line of help."""
        with Vertical():
            yield Label("Silent for how many minutes? Alarms stay on the screen.")
            yield Input(f"{DEFAULT_MINUTES:g}", id="minutes", select_on_focus=True)
            yield Label("Enter mutes, Escape goes back.", id="why")

    def on_mount(self) -> None:
        """Type at once."""
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take a sensible time, say what is wrong with any other."""
        minutes = minutes_from(event.value)
        if minutes is None:
            self.query_one("#why", Label).update(f"Between 0.02 and {LONGEST_MINUTES:g} minutes, for example 10.")
            return
        self.dismiss(minutes * 60)

    def action_forget(self) -> None:
        """Nothing is muted."""
        self.dismiss(None)
