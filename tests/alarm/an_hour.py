"""How often the alarms of the picture speak in an hour of the boathouse: rendered, measured and judged on no clock.

``python -m tests.alarm.an_hour [SECONDS [QUERY]]``, for example ``3600 "nd=2&seed=3"``.
"""

from __future__ import annotations

import sys
from urllib.parse import parse_qsl

from analysis.alarm.book import opened, step
from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.metrics import AlarmMetrics, measured
from analysis.alarm.observation import Observation
from analysis.alarm.trend import Trend, minutes_left, noted
from analysis.alarm.values import reading_values
from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.source import FeedOptions
from analysis.measure.examiner import Examiner
from analysis.measure.meter import one_thread
from analysis.model.alarm import AlarmChange
from analysis.model.frame import Frame
from tests.alarm.timeline import at


def watched(seconds: float, query: str = "", *, width: int = 240, height: int = 136) -> list[AlarmChange]:
    """All changes of the alarms in so many seconds of the scene at 25 pictures a second."""
    controls = parse("boathouse", dict(parse_qsl(query)), FeedOptions(width=width, height=height))
    renderer, examiner, trend = Renderer(controls), Examiner(), Trend()
    book = opened(DEFAULT_RULES, at(0.0))
    changes: list[AlarmChange] = []
    left: float | None = None
    for number in range(round(seconds * controls.rate)):
        now = at(number / controls.rate)
        picture = renderer.picture(number / controls.rate, number)
        frame = Frame(planes=picture.planes, format=picture.format, instant=now, generation=1, sequence=number)
        reading = examiner.measure(frame, None, at(0.0)).reading
        values: dict[str, float | None] = dict(reading_values(reading))
        before = trend.times
        trend = noted(trend, reading.headroom_stops, now)
        if trend.times != before:
            left = minutes_left(trend)
        values["headroom"] = left
        book, made, _ = step(book, Observation(values=values), now)
        changes += made
    return changes


def main() -> None:
    one_thread()
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 3600.0
    changes = watched(seconds, sys.argv[2] if len(sys.argv) > 2 else "")
    counted: AlarmMetrics = measured(changes, at(0.0), at(seconds))
    for change in changes:
        print(f"{change.at.monotonic:8.1f} {change.alarm:14} {change.before} > {change.after}: {change.reason}")
    print(f"{counted.per_hour:.1f} an hour, {counted.by_alarm}, chattering {counted.chattering}, quiet {counted.quiet}")


if __name__ == "__main__":
    main()
