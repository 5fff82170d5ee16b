"""Feed health: the state in words, the picture's age, what the feed says it is, and what got lost."""

from __future__ import annotations

from analysis.exposure.control_words import set_words
from tui.bridge import Showing
from tui.palette import Ink
from tui.sheet import Sheet
from tui.widgets.panel import Panel
from tui.widgets.pieces import Piece, put_pieces
from tui.wording import counts, evidence, feed_state, lasted, picture_age, picture_format


class StatusPanel(Panel):
    """Two lines at the top of every view."""

    def draw(self, sheet: Sheet, showing: Showing) -> None:
        """First line: how the feed is doing now. Second: what it is, and what is set where that was told."""
        feed = showing.snapshot.feed
        words = feed_state(feed.state)
        if showing.unheard and showing.trust == "none" and showing.banner and "ANSWER" in showing.banner[0]:
            chip = Piece(" ○ NO ANSWER ", Ink.GONE, 9)
        else:
            chip = Piece(f" {words.glyph} {words.word} ", words.ink, 9)
        age_ink = {"full": Ink.STRONG, "mind": Ink.CARE, "none": Ink.CARE}[showing.trust]
        pieces = [
            chip,
            Piece(picture_age(feed, showing.unheard), age_ink, 8),
            Piece("" if feed.fps is None or showing.trust == "none" else f"{feed.fps:.1f} a second", Ink.TEXT, 5),
            Piece(feed.address, Ink.TEXT, 6, cut=True),
        ]
        if feed.state != "live":
            pieces.append(Piece(evidence(feed), Ink.SOFT, 4, cut=True))
        link = showing.link
        right = ""
        if link is not None and link.slow:
            right = f"link {link.frames:.1f} fps, {lasted(link.delay)}"
            right = right if len(right) + 40 < sheet.width else ""
        put_pieces(sheet, 0, 0, sheet.width - len(right) - 2 * bool(right), pieces)
        sheet.put_right(sheet.width - 1, 0, right, Ink.CARE)
        fault = showing.snapshot.fault
        if fault or showing.note:
            sheet.put(1, 1, f"! {fault}" if fault else showing.note or "", Ink.CARE)
            return
        weights = [8, 3, 6, 6, 7, 5]
        shape = picture_format(feed.format)
        if feed.format is not None and feed.format.rate is None:
            weights = [8, 6, 6, 7, 5]
        details = [
            Piece(text, Ink.CARE if "ASSUMED" in text or "NOT SAID" in text else Ink.SOFT, weight)
            for text, weight in zip(shape, weights, strict=False)
        ]
        details += [Piece(text, _count_ink(text), _count_weight(text)) for text in counts(feed)]
        planning = showing.snapshot.planning
        if planning is not None and planning.said:
            # ND and ISO are what is moved most; the rest gives way to what the feed says of itself.
            said = set_words(planning.controls)
            details += [Piece(text, Ink.TEXT, 7 if number < 2 else 4) for number, text in enumerate(said)]
        put_pieces(sheet, 1, 1, sheet.width - 1, details)


def _count_weight(text: str) -> int:
    """What was really lost is more important than what the feed says of its curve."""
    if text.startswith("opening"):
        return 2
    return 4 if text.endswith(" 0") else 8


def _count_ink(text: str) -> Ink:
    if text.startswith("APPROX"):
        return Ink.CARE
    return Ink.SOFT if text.endswith(" 0") or text.startswith("opening") else Ink.TEXT
