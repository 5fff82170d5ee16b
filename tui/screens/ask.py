"""Asking for one thing in words."""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label

LONGEST = 200


class AskScreen(ModalScreen[str | None]):
    """A strip at the foot of the screen: one question, one field, one line of help. Gives the answer, or None.

    ``complaint`` says what is wrong with an answer, None where nothing is; the strip stays until it is right.
    """

    BINDINGS = [Binding("escape", "forget", "Back", show=False)]
    DEFAULT_CSS = """
    AskScreen { align: left bottom; background: transparent; }
    AskScreen Vertical { width: 100%; height: 3; background: $panel; padding: 0 1; }
    AskScreen Label { color: $text; height: 1; }
    AskScreen Input, AskScreen Input:focus { border: none; height: 1; padding: 0; width: 1fr; background: $surface; }
    AskScreen #why { color: $text-muted; }
    """

    def __init__(
        self, question: str, help_: str, complaint: Callable[[str], str | None], value: str = "", placeholder: str = ""
    ) -> None:
        super().__init__()
        self._question, self._help, self._complaint = question, help_, complaint
        self._value, self._placeholder = value, placeholder

    def compose(self) -> ComposeResult:
        """One question, one field, one line of help."""
        with Vertical():
            yield Label(self._question, markup=False)
            yield Input(
                self._value, placeholder=self._placeholder, id="answer", select_on_focus=True, max_length=LONGEST
            )
            yield Label(self._help, id="why", markup=False)

    def on_mount(self) -> None:
        """Type at once."""
        self.query_one(Input).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take a sensible answer, say what is wrong with any other."""
        wrong = self._complaint(event.value)
        if wrong is None:
            self.dismiss(event.value.strip())
        else:
            self.query_one("#why", Label).update(wrong)

    def action_forget(self) -> None:
        """Nothing is done."""
        self.dismiss(None)
