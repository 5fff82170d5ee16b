"""The alarms view: every alarm with what is known of it, and everything an operator may do to it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from analysis.model.alarm import AlarmStatus
from tui.bridge import Showing
from tui.look import Look
from tui.screens.ask import AskScreen
from tui.screens.live import LiveScreen
from tui.widgets.alarm_list import AlarmList
from tui.widgets.status import StatusPanel
from tui.wording import unseen

DEFAULT_SHELF_MINUTES = 15.0
LONGEST_SHELF_MINUTES = 60.0
"""A shelf ends by itself after an hour at most (the watch refuses more)."""
_PAGE = 8
_KEYS = (
    "a seen  A all  s shelve  u unshelve  r reset  x out of service  i in service  h history  H of all  m mute  "
    "f sound from  Escape back"
)


class AlarmOrders(Protocol):
    """What of a watch this view needs: see :class:`tui.bridge.WatchLike`."""

    def acknowledge(self, alarm: str | None, occurrence: int | None = None) -> None:
        """Acknowledge one alarm, or all of them."""

    def acknowledge_seen(self, rises: Sequence[tuple[str, int]]) -> None:
        """Acknowledge these rises."""

    def shelve(self, alarm: str, seconds: float) -> None:
        """Keep one alarm quiet for a time."""

    def unshelve(self, alarm: str) -> None:
        """End a shelf early."""

    def reset(self, alarm: str) -> None:
        """Let a latched alarm go."""

    def take_out_of_service(self, alarm: str, why: str) -> None:
        """Keep one alarm quiet until it is put back."""

    def return_to_service(self, alarm: str) -> None:
        """Put one alarm back in service."""


def shelf_minutes(text: str) -> float | None:
    """Minutes on the shelf from what was typed, None when it is not a time between a second and an hour.

    >>> shelf_minutes("15"), shelf_minutes(" 2,5 "), shelf_minutes("61"), shelf_minutes("nan"), shelf_minutes("x")
    (15.0, 2.5, None, None, None)
    """
    try:
        minutes = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return minutes if 1 / 60 <= minutes <= LONGEST_SHELF_MINUTES else None


class AlarmsScreen(LiveScreen):
    """The list over the full screen, with feed health in sight.

    ``watch`` takes the orders; ``history`` opens what happened to one alarm, or with None to all. ``notices`` says
    what is sent to the terminal besides the sound, empty for nothing.
    """

    BINDINGS = [
        Binding("escape,q,o", "back", "Back", show=False),
        *(
            Binding(key, f"pick({step})", show=False, priority=True)
            for key, step in (("up", -1), ("down", 1), ("pageup", -_PAGE), ("pagedown", _PAGE))
        ),
        Binding("home", "pick(-1000)", show=False),
        Binding("end", "pick(1000)", show=False),
        Binding("a", "seen", show=False),
        Binding("A", "all_seen", show=False),
        Binding("s", "shelve", show=False),
        Binding("u", "unshelve", show=False),
        Binding("r", "reset", show=False),
        Binding("x", "retire", show=False),
        Binding("i", "put_back", show=False),
        Binding("h", "its_history", show=False),
        Binding("H,j", "all_history", show=False),
    ]
    DEFAULT_CSS = """
    AlarmsScreen { layout: vertical; }
    AlarmsScreen StatusPanel { height: 2; }
    AlarmsScreen AlarmList { height: 1fr; }
    AlarmsScreen #alarms-keys { height: auto; max-height: 2; color: $text-muted; padding: 0 1; }
    """

    def __init__(
        self, look: Look, watch: AlarmOrders, history: Callable[[str | None], None], notices: str = ""
    ) -> None:
        super().__init__(id="alarms-view")
        self._watch, self._history = watch, history
        self._status = StatusPanel(look, "alarms-status")
        self.list = AlarmList(look, "alarms-list", notices)
        self._alarms: dict[str, AlarmStatus] = {}

    def compose(self) -> ComposeResult:
        """Health, the list, keys."""
        yield self._status
        yield self.list
        yield Static(_KEYS, id="alarms-keys", markup=False)

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw the alarms as they stand."""
        self._alarms = {alarm.alarm: alarm for alarm in showing.snapshot.alarms}
        self._status.show(showing)
        self.list.show(showing)

    @property
    def picked(self) -> AlarmStatus | None:
        """The alarm that the keys act on."""
        return self._alarms.get(self.list.picked or "")

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)

    def action_pick(self, step: int) -> None:
        """Another alarm."""
        self.list.pick(step)

    def action_seen(self) -> None:
        """This alarm was seen: the rise that stands on the screen, never one that came since."""
        if self.picked is not None:
            self._watch.acknowledge(self.picked.alarm, self.picked.occurrence)

    def action_all_seen(self) -> None:
        """All alarms were seen: the rises that stand on the screen."""
        self._watch.acknowledge_seen(unseen(self._alarms.values()))

    def action_shelve(self) -> None:
        """Ask for how long this alarm is to be silent."""
        alarm = self.picked
        if alarm is None:
            return
        name = alarm.alarm

        def wrong(text: str) -> str | None:
            return (
                None if shelf_minutes(text) else f"Between 0.02 and {LONGEST_SHELF_MINUTES:g} minutes, for example 15."
            )

        def shelve(answer: str | None) -> None:
            minutes = shelf_minutes(answer or "")
            if minutes is not None:
                self._watch.shelve(name, minutes * 60)

        question = f"Shelve {name} for how many minutes? It comes back by itself."
        help_ = f"Enter shelves it, {LONGEST_SHELF_MINUTES:g} minutes at most; Escape goes back."
        self.app.push_screen(AskScreen(question, help_, wrong, f"{DEFAULT_SHELF_MINUTES:g}"), shelve)

    def action_unshelve(self) -> None:
        """End the shelf of this alarm."""
        if self.picked is not None:
            self._watch.unshelve(self.picked.alarm)

    def action_reset(self) -> None:
        """Let this alarm go, if it is latched."""
        if self.picked is not None:
            self._watch.reset(self.picked.alarm)

    def action_retire(self) -> None:
        """Ask why this alarm is to be silent until somebody puts it back."""
        alarm = self.picked
        if alarm is None:
            return
        name = alarm.alarm

        def wrong(text: str) -> str | None:
            return None if text.strip() else "Somebody will want to know why: a few words are enough."

        def retire(answer: str | None) -> None:
            if answer:
                self._watch.take_out_of_service(name, answer)

        question = f"Why is {name} taken out of service? It is silent until you put it back with i."
        ask = AskScreen(question, "Enter takes it out of service, Escape goes back.", wrong, "", "lamp taken down")
        self.app.push_screen(ask, retire)

    def action_put_back(self) -> None:
        """Put this alarm back in service."""
        if self.picked is not None:
            self._watch.return_to_service(self.picked.alarm)

    def action_its_history(self) -> None:
        """What happened to this alarm."""
        self._history(self.list.picked)

    def action_all_history(self) -> None:
        """What happened."""
        self._history(None)
