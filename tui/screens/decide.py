"""Deciding what to move: what is set, the ways to the aim, and where each would bring the trace."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widgets import Static

from analysis.exposure.control_steps import CONTROL_OF, KNOBS, Knob, stepped, toggled
from analysis.exposure.control_words import set_words
from analysis.exposure.ghost import Ghost, ghost_of
from analysis.exposure.subject import subject_of
from analysis.measure.examiner import known_curve
from analysis.model.errors import UsageError
from analysis.model.plan import Plan
from analysis.model.planning import Planning
from tui.bridge import Showing, WatchLike
from tui.look import Look
from tui.screens.live import PlanningScreen
from tui.way_words import moves_of, why_lines
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.set_now import KEYS, SetNowPanel, value_words
from tui.widgets.status import StatusPanel
from tui.widgets.trace import TracePanel
from tui.widgets.ways import WaysPanel
from tui.widgets.why import WhyPanel

Pin = Callable[[Ghost | None], None]
"""Takes the ghost that is to stay on the main view's trace; None takes it away."""

_KEYS = (
    "1 2 3 choose  Enter I have set this  g keep the ghost  left right control  x lock  p policy  f for whom  "
    "Escape back",
    "1 2 3 way  Enter set it  g ghost  x lock  p policy  f for whom  Escape back",
    "1 2 3 way  Enter set it  g ghost  Escape back",
    "1 2 3 way  Escape back",
)
_TRACE_PART = 0.46
"""Part of the width that the trace takes at most."""
_LEAST_WAYS, _WIDE_WAYS, _LEAST_TRACE = 53, 75, 24
"""Cells the ways need in short words and in long ones; cells below which a trace shows nothing."""
_WAITS = 10
"""Moments after which what was told counts as refused: then what the watch says is shown again."""
_ROOMY = 32
"""Rows from which sentences get more of them."""


class DecideScreen(PlanningScreen):
    """The plan of the newest picture.

    ``pin`` takes a ghost that stays on the main view; ``pinned`` says that one is there already.
    """

    BINDINGS = [
        Binding("escape,d,q", "back", show=False),
        *(Binding(str(number + 1), f"choose({number})", show=False) for number in range(3)),
        Binding("up", "move(-1)", show=False, priority=True),
        Binding("down", "move(1)", show=False, priority=True),
        Binding("left", "control(-1)", show=False, priority=True),
        Binding("right", "control(1)", show=False, priority=True),
        Binding("plus", "step(True)", show=False),
        Binding("minus", "step(False)", show=False),
        Binding("enter", "take", show=False, priority=True),
        Binding("x", "lock", show=False),
        Binding("p", "policy", show=False),
        Binding("f", "subject", show=False),
        Binding("g", "pin", show=False),
        *(
            Binding(letter, f"step({up}, '{knob}')", show=False)
            for knob, small in KEYS.items()
            for letter, up in ((small, False), (small.upper(), True))
        ),
    ]
    DEFAULT_CSS = """
    DecideScreen { layout: vertical; }
    DecideScreen StatusPanel { height: 2; }
    DecideScreen SetNowPanel { height: 3; }
    DecideScreen Horizontal { height: 1fr; }
    DecideScreen WaysPanel { width: 1fr; margin: 0 0 0 1; }
    DecideScreen WhyPanel { height: 2; }
    DecideScreen AlarmsPanel { height: 2; }
    DecideScreen #decide-keys { height: 1; color: $text-muted; padding: 0 1; }
    """

    def __init__(self, look: Look, watch: WatchLike, pin: Pin, pinned: bool = False) -> None:
        super().__init__(watch, "decide")
        self._pin, self.pinned = pin, pinned
        self._status, self._alarms = StatusPanel(look, "decide-status"), AlarmsPanel(look, "decide-alarms")
        self._set_now = SetNowPanel(look, "decide-set-now")
        self._trace, self._ways = TracePanel(look, "decide-trace"), WaysPanel(look, "decide-ways")
        self._why = WhyPanel(look, "decide-why")
        self._hints = _KEYS[0]
        self._keys = Static(self._hints, id="decide-keys", markup=False)
        self._showing: Showing | None = None
        self._way: Plan | None = None
        self._pending: dict[str, object] = {}
        self._waited = 0
        self.chosen = 0

    def compose(self) -> ComposeResult:
        """Health, what is set, the trace beside the ways, the sentences, alarms, keys."""
        yield self._status
        yield self._set_now
        with Horizontal():
            yield self._trace
            yield self._ways
        yield self._why
        yield self._alarms
        yield self._keys

    def show(self, showing: Showing, picture: bool) -> None:
        """Draw one moment; the trace only when asked."""
        showing = self._with_pending(showing)
        self._follow(showing)
        self._fit(showing)
        showing = msgspec.structs.replace(showing, ghost=self._ghost(showing) if picture else None)
        self._showing = showing
        self._ways.chosen = self._why.chosen = self.chosen
        self._why.full = self.size.height >= _ROOMY
        for panel in (self._status, self._set_now, self._ways, self._why, self._alarms):
            panel.show(showing)
        if picture:
            self._trace.show(showing)

    @property
    def planning(self) -> Planning:
        """What the watch says of its plan."""
        found = self._showing.snapshot.planning if self._showing is not None else None
        return found or Planning()

    def _tell(self, **said: object) -> None:
        """Remember what was just told to the watch: it carries that out a moment later, the next key may be sooner."""
        self._pending |= said
        self._waited = 0

    def _with_pending(self, showing: Showing) -> Showing:
        """The moment with what was told to the watch and not carried out yet."""
        planning = showing.snapshot.planning or Planning()
        self._waited += 1
        if self._waited > _WAITS or all(getattr(planning, name) == value for name, value in self._pending.items()):
            self._pending = {}
        if not self._pending:
            return showing
        planning = msgspec.structs.replace(planning, **self._pending)
        return msgspec.structs.replace(showing, snapshot=msgspec.structs.replace(showing.snapshot, planning=planning))

    def _plans(self, showing: Showing | None) -> tuple[Plan, ...]:
        planning = showing.snapshot.planning if showing is not None and showing.reading is not None else None
        return planning.planned.plans if planning is not None and planning.planned is not None else ()

    def _follow(self, showing: Showing) -> None:
        """The chosen way stays the chosen one where the plan puts it in another place."""
        plans = self._plans(showing)
        if self._way is not None:
            same = [place for place, way in enumerate(plans) if way.controls == self._way.controls]
            self.chosen = same[0] if same else self.chosen
        if plans:
            self.chosen = min(self.chosen, len(plans) - 1)
            self._way = plans[self.chosen]

    def _fit(self, showing: Showing) -> None:
        """Share the screen out: the sentences take the rows they need, the ways the columns."""
        width, height = self.size
        if not width or not height:
            return
        roomy = height >= _ROOMY
        planning = showing.snapshot.planning
        needed = 0
        if planning is not None and showing.reading is not None:
            needed = len(why_lines(planning, self.chosen, width - 2, roomy))
        most = 12 if roomy else 5 if height >= 22 else 2 if height >= 16 else 0
        before = int(self._why.styles.height.value) if self._why.styles.height is not None else 2
        # Rows that were taken are not given back while the view is open: nothing jumps when a caution comes and goes.
        rows = min(max(needed, before, 4 if roomy else 2), most)
        if rows != before:
            self._why.styles.height = rows
        ways = _WIDE_WAYS if width >= _WIDE_WAYS + _LEAST_TRACE + 1 else _LEAST_WAYS
        trace = min(width - ways - 1, max(round(width * _TRACE_PART), _LEAST_TRACE + 2))
        trace = trace if trace >= _LEAST_TRACE else 0
        if self._trace.styles.width is None or self._trace.styles.width.value != trace:
            self._trace.styles.width = trace
            self._trace.display = trace > 0
            self._ways.styles.margin = (0, 0, 0, 1 if trace else 0)
        keys = next((each for each in _KEYS if len(each) + 2 <= width), _KEYS[-1])
        if keys != self._hints:
            self._hints = keys
            self._keys.update(keys)

    def _ghost(self, showing: Showing) -> Ghost | None:
        """Where the chosen way would bring the trace that is shown."""
        planning, reading = showing.snapshot.planning, showing.reading
        view = showing.view if showing.paused is None else showing.paused.view
        plans = self._plans(showing)
        if planning is None or planning.planned is None or reading is None or view is None or not plans:
            return None
        curve = known_curve(reading.encoding.curve)
        if curve is None or reading.clipped is None or reading.crushed is None:
            return None
        try:
            snapshot = showing.snapshot
            sitter = subject_of(reading, snapshot.aims, curve, planning.subject, snapshot.spots).sitter
        except UsageError:
            sitter = None  # whom it was planned for has just been lost: the picture around them is still there
        way, now = plans[self.chosen], planning.planned.now.controls
        made = ghost_of(view, reading, way, now, curve, limits=planning.limits, camera=planning.profile, sitter=sitter)
        return msgspec.structs.replace(made, label=", ".join(moves_of(way, planning.planned, planning.said)))

    def _say(self, words: str) -> None:
        """One line beside what is set, until the next key."""
        self._set_now.words = words
        self._again()

    def _again(self) -> None:
        if self._showing is not None:
            snapshot = self._watch.snapshot()
            usable = self._showing.reading is not None
            newest = msgspec.structs.replace(self._showing.snapshot, planning=snapshot.planning)
            self.show(msgspec.structs.replace(self._showing, snapshot=newest), usable)

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)

    def action_choose(self, place: int) -> None:
        """Look at this way."""
        plans = self._plans(self._showing)
        if place < len(plans):
            self.chosen, self._way = place, plans[place]
        self._say("")

    def action_move(self, by: int) -> None:
        """Look at the way before or after."""
        plans = self._plans(self._showing)
        if plans:
            self.action_choose((self.chosen + by) % len(plans))

    def action_control(self, by: int) -> None:
        """The control that plus, minus and x are for."""
        self._set_now.chosen = KNOBS[(KNOBS.index(self._set_now.chosen) + by) % len(KNOBS)]
        self._say("")

    def action_step(self, up: bool, knob: Knob | None = None) -> None:
        """Say that a control is set a step up or down."""
        if knob is not None:
            self._set_now.chosen = knob
        knob, now = self._set_now.chosen, self.planning
        after = stepped(knob, up, now.controls, now.limits, now.profile)
        if after == now.controls and now.said:
            self._say(f"{value_words(knob, after)} is the last step")
            return
        self._watch.set_controls(after)
        self._tell(controls=after, said=True)
        self._say("")

    def action_lock(self) -> None:
        """Let the planner move the chosen control, or leave it as it is."""
        control, now = CONTROL_OF[self._set_now.chosen], self.planning
        limits = toggled(now.limits, control)
        self._watch.set_controls(now.controls, limits)
        self._tell(controls=now.controls, limits=limits, said=True)
        self._say(f"{control.replace('_', ' ')} {'may move' if limits.free(control) else 'stays'}")

    def action_policy(self) -> None:
        """The next policy; after the last the picture suggests one again."""
        now = self.planning
        names: list[str | None] = [*now.policies, None]
        name = names[(names.index(now.policy) + 1) % len(names)] if now.policy in names else None
        self._watch.set_policy(name)
        self._tell(policy=name)
        self._say(f"policy {name}" if name is not None else "the picture suggests the policy")

    def action_subject(self) -> None:
        """Plan for the next sitter, spot or the middle; after the last it is chosen by itself again."""
        now = self.planning
        names: list[str | None] = [None, *now.targets]
        at = names.index(now.target) if now.target in names else 0
        name = names[(at + 1) % len(names)]
        self._watch.plan_for(name)
        self._tell(target=name)
        self._say(f"for {name}" if name is not None else "for the main sitter, or a spot with an aim")

    def action_take(self) -> None:
        """The chosen way is what is set from now on."""
        now, plans = self.planning, self._plans(self._showing)
        if not plans:
            return
        if not now.said:
            self._say("say what is set first, with two keys each")
            return
        taken = plans[self.chosen].controls
        self._watch.set_controls(taken)
        self._tell(controls=taken, said=True)
        if self.pinned:
            self._unpin()
        self._way, self.chosen = None, 0
        self._say(f"set: {'  '.join(set_words(taken))}")

    def action_pin(self) -> None:
        """Keep the ghost on the main view as it is now, to bring the trace to it; or take it away."""
        if self.pinned:
            self._unpin()
            self._say("no ghost on the main view")
            return
        ghost = self._ghost(self._showing) if self._showing is not None else None
        if ghost is None:
            self._say("there is no ghost to keep")
            return
        self.pinned = True
        self._pin(ghost)
        self._say("the ghost stays on the main view")

    def _unpin(self) -> None:
        self.pinned = False
        self._pin(None)
