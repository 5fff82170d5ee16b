"""Numbers and states as words: the only place where the screen's values become text."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from analysis.model.alarm import AlarmStatus
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.frame import Encoding, FrameFormat
from analysis.model.snapshot import OutletStatus
from tui.palette import Ink

NOTHING = "–"
"""What stands where nothing was measured: never a zero."""


def level(value: float | None) -> str:
    """A level in IRE with one decimal.

    >>> level(41.23), level(-0.02), level(None)
    ('41.2', '0.0', '–')
    """
    if value is None:
        return NOTHING
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


def share(value: float | None) -> str:
    """A share in percent; a share that is there but tiny never reads as none at all.

    >>> [share(v) for v in (0.0, 0.004, 0.314, 12.44, 99.97, 100.0, None)]
    ['0', '<0.01', '0.31', '12.4', '99.9', '100', '–']
    """
    if value is None:
        return NOTHING
    if value <= 0:
        return "0"
    if value < 0.01:
        return "<0.01"
    if value < 9.995:
        return f"{value:.2f}"
    if value < 100:
        return f"{min(value, 99.9):.1f}"
    return "100"


def lasted(seconds: float | None) -> str:
    """A short time in words.

    >>> [lasted(s) for s in (0.04, 3.14, 75, 7300, None)]
    ['0.04 s', '3.1 s', '1 min 15 s', '2 h 01 min', '–']
    """
    if seconds is None:
        return NOTHING
    seconds = max(seconds, 0.0)
    if seconds < 0.995:
        return f"{seconds:.2f} s"
    if seconds < 59.95:
        return f"{seconds:.1f} s" if seconds < 10 else f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 60:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def clock(seconds: float) -> str:
    """Minutes and seconds as on a clock.

    >>> clock(571.2), clock(4)
    ('9:32', '0:04')
    """
    whole = int(-(-seconds // 1)) if seconds > 0 else 0
    return f"{whole // 60}:{whole % 60:02d}"


class StateWords(NamedTuple):
    """A feed state for a person: one word, one sentence, a glyph and an ink."""

    word: str
    meaning: str
    glyph: str
    ink: Ink


_STATES: dict[FeedState, StateWords] = {
    "closed": StateWords("CLOSED", "the feed is not open", "○", Ink.CARE),
    "opening": StateWords("OPENING", "waiting for the feed to open", "◐", Ink.CARE),
    "priming": StateWords("PRIMING", "the first pictures are coming in", "◐", Ink.CARE),
    "live": StateWords("LIVE", "pictures arrive as they should", "●", Ink.LIVE),
    "late": StateWords("LATE", "pictures come too slowly or have paused", "◐", Ink.CARE),
    "still": StateWords("STILL", "pictures arrive but nothing in them moves", "●", Ink.LIVE),
    "frozen": StateWords("FROZEN", "the same picture again and again", "○", Ink.GONE),
    "dark": StateWords("DARK", "pictures arrive but they are black", "◐", Ink.CARE),
    "suspect": StateWords("SUSPECT", "something about the pictures is wrong", "◐", Ink.CARE),
    "reshaped": StateWords("RESHAPED", "the picture has changed its size or format", "◐", Ink.CARE),
    "lost": StateWords("LOST", "no picture comes any more", "○", Ink.GONE),
    "waiting": StateWords("WAITING", "trying to open the feed again", "○", Ink.GONE),
    "ended": StateWords("ENDED", "the recording is at its end", "○", Ink.CARE),
}


def feed_state(state: FeedState) -> StateWords:
    """A feed state in words.

    >>> feed_state("late").word
    'LATE'
    """
    return _STATES[state]


def evidence(feed: FeedStatus) -> str:
    """Why the feed is in its state: its own evidence, or what the state means where that only repeats the name."""
    said = feed.evidence.strip()
    return said if said and said.lower() != feed.state else feed_state(feed.state).meaning


_MATRICES = {"bt709": "BT.709", "bt601": "BT.601", "bt2020": "BT.2020", "rgb": "R'G'B'"}
_ORIGINS = {"tag": " (tag)", "asked": " (asked)", "line-up": " (line-up)", "assumed": " ASSUMED"}


def encoding(code: Encoding) -> list[str]:
    """How the feed writes light, piece by piece; what nobody said is marked as assumed.

    >>> encoding(Encoding(bits=10, range="narrow", matrix="bt709", range_from="tag"))
    ['10 bit', 'narrow range (tag)', 'BT.709 matrix ASSUMED', 'CURVE NOT SAID']
    """
    return [
        f"{code.bits} bit",
        f"{code.range} range{_ORIGINS[code.range_from]}",
        f"{_MATRICES[code.matrix]} matrix{_ORIGINS[code.matrix_from]}",
        "CURVE NOT SAID" if code.curve is None else f"curve {code.curve}{_ORIGINS[code.curve_from]}",
    ]


def picture_format(shape: FrameFormat | None) -> list[str]:
    """Size, nominal rate and encoding of a feed, piece by piece."""
    if shape is None:
        return ["no picture yet"]
    rate = [] if shape.rate is None else [f"{shape.rate:g} nominal"]
    return [f"{shape.width}×{shape.height}", *rate, *encoding(shape.encoding)]


def picture_age(feed: FeedStatus, extra: float = 0.0) -> str:
    """The age of the newest picture; ``extra`` is how long ago the feed was asked."""
    return "no picture yet" if feed.age is None else f"picture {lasted(feed.age + extra)} old"


def counts(feed: FeedStatus) -> list[str]:
    """What did not reach the measurement, and how often the feed was opened.

    >>> counts(FeedStatus(address="", kind="scene", state="live", evidence="", since=None, generation=3, skipped=7))
    ['skipped 7', 'missing 0', 'opening no. 3']
    """
    pieces = [f"skipped {feed.skipped}", f"missing {feed.missing}"]
    if feed.discarded:
        pieces.append(f"discarded {feed.discarded}")
    pieces.append(f"opening no. {feed.generation}")
    if feed.approximate:
        pieces.insert(0, "APPROXIMATE CODES")
    return pieces


def outlet(status: OutletStatus, notices: bool = False) -> str:
    """Where alarms are heard, in a few words; ``notices`` where the terminal shows notifications as well.

    >>> outlet(OutletStatus(outlet="speakers", reason="", muted_seconds=571.5))
    'muted 9:32'
    >>> outlet(OutletStatus(outlet="bell", reason=""), True)
    'sound: bell + notices'
    """
    if status.muted_seconds > 0:
        return f"muted {clock(status.muted_seconds)}"
    words = {"speakers": "sound: speakers", "bell": "sound: bell", "off": "no sound"}[status.outlet]
    return f"{words} + notices" if notices else words


class AlarmWords(NamedTuple):
    """An alarm's state for a person: rank for sorting (first things first), a word, a glyph and an ink."""

    rank: int
    word: str
    glyph: str
    ink: Ink


def alarm_state(alarm: AlarmStatus) -> AlarmWords:
    """The state of an alarm in words; each differs in word and glyph, not only in its ink.

    Of one that makes no sound the word says why, and the glyph whether it holds all the same.
    """
    if alarm.quiet:
        word = {"shelved": "shelved", "suppressed": "suppr.", "out of service": "out"}[alarm.quiet[0]]
        # One that nobody silenced and that has nothing to say rests: it takes no line from those that have.
        rests = alarm.quiet == ("suppressed",) and alarm.state == "normal"
        stands = _state_of(alarm)
        return AlarmWords(4 if rests else 3, word, "‖" if stands.rank == 4 else stands.glyph, Ink.SOFT)
    return _state_of(alarm)


def unseen(alarms: Iterable[AlarmStatus]) -> tuple[tuple[str, int], ...]:
    """The rises among these alarms that nobody acknowledged: each an alarm and its occurrence."""
    return tuple((each.alarm, each.occurrence) for each in alarms if each.state.endswith("unacknowledged"))


def standing(alarm: AlarmStatus) -> str:
    """Where an alarm that makes no sound stands all the same; empty where nothing is wrong.

    >>> from analysis.model.instant import Instant
    >>> shelved = AlarmStatus(
    ...     alarm="shadows", kind="shadows", direction="down", state="active-acknowledged", priority=3, occurrence=1,
    ...     since=Instant(0.0, 0.0), reason="", words="shadows crushed", advice="", quiet=("shelved",))
    >>> standing(shelved), alarm_state(shelved).word
    ('▼ seen', 'shelved')
    """
    state = _state_of(alarm)
    return "" if state.rank == 4 else f"{state.glyph} {state.word}"


def _state_of(alarm: AlarmStatus) -> AlarmWords:
    raised = {"up": "▲", "down": "▼", "none": "◆"}[alarm.direction]
    hollow = {"up": "△", "down": "▽", "none": "◇"}[alarm.direction]
    if alarm.state == "active-unacknowledged":
        return AlarmWords(0, "NEW", raised, Ink.NEW)
    if alarm.state == "active-acknowledged":
        return AlarmWords(1, "seen", raised, Ink.SEEN)
    if alarm.state == "returned-unacknowledged":
        return AlarmWords(2, "was", hollow, Ink.BACK)
    if alarm.state == "latched-unacknowledged":
        return AlarmWords(2, "latched", hollow, Ink.BACK)
    if alarm.state == "latched-acknowledged":
        return AlarmWords(2, "to reset", hollow, Ink.SEEN)
    return AlarmWords(4, "quiet", "·", Ink.SOFT)
