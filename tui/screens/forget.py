"""Asking before something is gone for good."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Label


class ForgetScreen(ModalScreen[bool]):
    """A strip at the foot of the screen: one question, answered by one key."""

    BINDINGS = [
        Binding("y,enter", "answer(True)", "Yes", show=False),
        Binding("n,escape,q", "answer(False)", "No", show=False),
    ]
    DEFAULT_CSS = """
    ForgetScreen { align: left bottom; background: transparent; }
    ForgetScreen Vertical { width: 100%; height: 2; background: $panel; padding: 0 1; }
    ForgetScreen Label { color: $text; height: 1; }
    ForgetScreen #why { color: $text-muted; }
    """

    def __init__(self, question: str) -> None:
        super().__init__()
        self._question = question

    def compose(self) -> ComposeResult:
        """The question and its two answers."""
        with Vertical():
            yield Label(self._question, markup=False)
            yield Label("Enter or y: yes, it is gone for good.  Escape or n: no.", id="why", markup=False)

    def action_answer(self, yes: bool) -> None:
        """Give the answer."""
        self.dismiss(yes)
