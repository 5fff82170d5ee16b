"""Asking for the name of a spot."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label

from analysis.measure.spot_edit import usable_name
from analysis.model.errors import UsageError


class RenameScreen(ModalScreen[str | None]):
    """A strip at the foot of the screen. Gives a usable name, or None."""

    BINDINGS = [Binding("escape", "forget", "Back", show=False)]
    DEFAULT_CSS = """
    RenameScreen { align: left bottom; background: transparent; }
    RenameScreen Vertical { width: 100%; height: 3; background: $panel; padding: 0 1; }
    RenameScreen Label { color: $text; height: 1; }
    RenameScreen Input, RenameScreen Input:focus {
        border: none; height: 1; padding: 0; width: 30; background: $surface;
    }
    RenameScreen #why { color: $text-muted; }
    """

    def __init__(self, name: str) -> None:
        super().__init__()
        self._old = name

    def compose(self) -> ComposeResult:
        """One question, one field, one line of help."""
        with Vertical():
            yield Label(f"What is {self._old} to be called?")
            yield Input(self._old, id="name", select_on_focus=True)
            yield Label("Enter takes the name, Escape goes back.", id="why")

    def on_mount(self) -> None:
        """Type at once."""
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take a usable name, say what is wrong with any other."""
        try:
            self.dismiss(usable_name(event.value))
        except UsageError as error:
            self.query_one("#why", Label).update(f"{error.what}: {error.todo}")

    def action_forget(self) -> None:
        """The name stays."""
        self.dismiss(None)
