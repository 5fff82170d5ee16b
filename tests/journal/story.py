"""Entries to write, and a clock to write them by."""

from __future__ import annotations

from analysis.model.alarm import AlarmChange, AlarmState
from analysis.model.feed import FeedEvent
from analysis.model.frame import Encoding
from analysis.model.instant import Instant
from analysis.model.reading import Luma, PictureArea, Reading, Shares, Validity
from analysis.model.sitter import SitterReading

UTC = 1_700_000_000.0


def at(seconds: float) -> Instant:
    return Instant(seconds, UTC + seconds)


def change(
    number: int = 1, alarm: str = "highlights", after: AlarmState = "active-unacknowledged", **fields: object
) -> AlarmChange:
    """The ``number``-th rise of an alarm, by default at that second."""
    given: dict[str, object] = {
        "alarm": alarm, "occurrence": number, "before": "normal", "after": after, "priority": 2,
        "reason": f"clipped {number}.0 % of the picture", "at": at(float(number)), "seconds": 1.0,
        "value": float(number),
    }  # fmt: skip
    return AlarmChange(**(given | fields))  # type: ignore[arg-type]


def event(after: str = "lost", seconds: float = 2.0) -> FeedEvent:
    return FeedEvent(before="live", after=after, evidence="unplugged", generation=3, at=at(seconds))  # type: ignore[arg-type]


def reading(
    high: float = 90.0, clipped: float | None = 0.1, *, validity: Validity = "good", skin: float | None = None
) -> Reading:
    shares = Shares(any=clipped or 0.0, luma=0.0, r=0.0, g=0.0, b=0.0, level=100.0, by="narrow")
    sitter = SitterReading(
        name="sitter", main=True, state="seen", box=(0, 0, 4, 4), confidence=0.9, level=skin, stops=1.0
    )
    return Reading(
        sequence=1, seconds=0.0, validity=validity,
        encoding=Encoding(bits=8, range="narrow", matrix="bt709", curve="bt709"),
        picture=PictureArea(width=8, height=8, active=(0, 0, 8, 8)),
        luma=Luma(mean=40, min=0, p1=high - 80, p5=10, p50=high - 45, p95=80, p99=high, max=100),
        clipped=None if clipped is None else shares, crushed=shares, headroom_stops=1.5 - high / 100,
        sitters=None if skin is None else (sitter,),
    )  # fmt: skip
