"""Help: every label, unit, mark and key of the screen, and what readings are not."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from tui.bridge import Showing
from tui.keys import ACTIONS
from tui.look import Look
from tui.screens.live import LiveScreen
from tui.sheet import Sheet
from tui.widgets.alarms import AlarmsPanel
from tui.widgets.status import StatusPanel

_SECTIONS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Mind",
        (
            ("readings", "are an aid, not a certified measurement: they are as good as what the feed says of itself"),
            ("ASSUMED", "nobody said so; if it is wrong, levels are wrong (--range, --matrix, --curve say it)"),
            ("sound", "keep earphones low: alarms come without warning"),
            ("blank", "no figures and no trace: there is no picture to vouch for, and an old one is never shown"),
            ("dim", "figures of a picture that is late or doubtful; the word beside them says which"),
        ),
    ),
    (
        "Top lines",
        (
            ("LIVE ...", "state of the feed: LIVE, LATE, STILL, FROZEN, DARK, SUSPECT, RESHAPED, LOST, WAITING, ENDED"),
            ("picture 0.04 s old", "time since the newest picture arrived"),
            ("25.0 a second", "pictures a second, measured"),
            ("skipped", "pictures that arrived but were not measured, for want of time"),
            ("missing", "pictures that the source counted but never delivered"),
            ("discarded", "pictures refused: malformed, or of an earlier opening of the feed"),
            ("opening no. 3", "the feed has been opened three times since the start"),
            ("link 3.1 fps, 0.6 s", "the way to this terminal is slow: frames drawn a second, delay of what you see"),
        ),
    ),
    (
        "Trace",
        (
            ("LUMA", "level against picture column: left is left in the picture, up is brighter, denser is more of it"),
            ("R G B", "the same for each colour part, side by side, after the matrix of the encoding"),
            ("0 ... 100", "percent of the signal range, as IRE: 0 is black and 100 nominal white of the range"),
            ("clip", "line at the level where this signal counts as clipped; brass above it"),
            ("floor", "line at the level below which it counts as crushed; violet below it"),
            ("HELD", "you hold an old trace with space; figures and alarms go on with the newest picture"),
        ),
    ),
    (
        "Figures",
        (
            ("middle", "half of the picture is darker, half brighter (50th percentile of luma), IRE"),
            ("mean", "average luma, IRE"),
            ("low, high", "1st and 99th percentile of luma, IRE; min and max are the very extremes"),
            ("CLIPPED any", "percent of the picture at or above the clip level in luma, R, G or B; Y is luma alone"),
            ("CRUSHED any", "percent of the picture at or below the floor, likewise"),
            ("–", "not measured; never means zero. <0.01 is little, but not nothing"),
        ),
    ),
    (
        "Last minutes",
        (
            ("band", "low to high of every second, with the middle in it; a cell is two seconds, newest at the right"),
            ("! ▲ ▼ ╱", "an alarm was on; highlights clipped; shadows crushed; there was no picture"),
        ),
    ),
    (
        "Alarms",
        (
            ("NEW", "on and not acknowledged: the whole line is inverse; press a"),
            ("seen", "acknowledged, and still there"),
            ("was", "gone by itself before anyone acknowledged it; press a"),
            ("quiet", "watching, nothing wrong"),
            ("▲ ▼ ◆", "too bright, too dark, neither; hollow when it is over"),
            ("held", "its picture is missing, so it stays as it was"),
        ),
    ),
    ("Keys", tuple((hint.shown, hint.sentence) for hint in ACTIONS)),
)


class ManualText(Static):
    """The text itself, through the same door that makes everything plain ASCII where needed."""

    def __init__(self, look: Look) -> None:
        super().__init__(id="manual-text")
        self._ascii = look.glyphs == "ascii"

    def render(self) -> Table:
        """All sections, terms in one column and meanings beside them."""
        table = Table.grid(padding=(0, 2, 0, 0))
        table.add_column(no_wrap=True)
        table.add_column(ratio=1)
        for title, rows in _SECTIONS:
            table.add_row(Text(title, "bold underline"), "")
            for term, meaning in rows:
                table.add_row(Text(f"  {self._plain(term)}", "bold"), Text(self._plain(meaning)))
            table.add_row("", "")
        return table

    def _plain(self, line: str) -> str:
        sheet = Sheet(len(line), 1, self._ascii)
        sheet.put(0, 0, line)
        return sheet.lines()[0]


class ManualScreen(LiveScreen):
    """Help over the full screen, with feed health and alarms still on top of it."""

    BINDINGS = [Binding("escape,question_mark,f1,q", "back", "Back", show=False)]
    DEFAULT_CSS = """
    ManualScreen { layout: vertical; }
    ManualScreen StatusPanel { height: 2; }
    ManualScreen AlarmsPanel { height: 4; }
    ManualScreen VerticalScroll { height: 1fr; padding: 0 1; }
    """

    def __init__(self, look: Look) -> None:
        super().__init__(id="manual")
        self._look = look
        self._panels = (StatusPanel(look, "manual-status"), AlarmsPanel(look, "manual-alarms"))

    def compose(self) -> ComposeResult:
        """Health and alarms stay, help scrolls beneath them."""
        yield from self._panels
        with VerticalScroll(can_focus=True):
            yield ManualText(self._look)
        yield Static("Escape or ? goes back, arrows scroll", id="manual-keys")

    def show(self, showing: Showing, picture: bool) -> None:
        """Keep the lines that must not go stale up to date."""
        for panel in self._panels:
            panel.show(showing)

    def action_back(self) -> None:
        """Return to the main view."""
        self.dismiss(None)
