"""The reading that ``stopkeeper plan`` starts from: of a feed, with sitter and peaks, or of a saved line."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from analysis.model.camera import CameraProfile
from analysis.model.errors import FeedUnreadable, SettingsError, UsageError
from analysis.model.frame import Frame
from analysis.model.reading import Reading, View
from analysis.model.sitter import SitterReading, Spot
from tui.cli.plan_asked import BACKGROUND

SKIN = "skin"
"""The name of the spot that ``--skin`` places."""
_LINES = 1 << 24


def saved_reading(path: Path) -> Reading:
    """The last reading of a file that ``stopkeeper read --json`` wrote. Raises SettingsError in one line."""
    try:
        with path.open("rb") as file:
            text = file.read(_LINES + 1)
    except OSError as error:
        raise SettingsError(error.strerror or "cannot be read", str(path), "check the path") from None
    if len(text) > _LINES:
        raise SettingsError("too large for saved readings", str(path), "keep its last line")
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise SettingsError("no reading in this file", str(path), "write one with stopkeeper read FEED --json")
    try:
        return msgspec.json.decode(lines[-1], type=Reading)
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        what = f"not a saved reading: {error}"
        raise SettingsError(what, str(path), "write one with stopkeeper read FEED --json") from None


def read_feed(
    feed: str,
    options: Any,
    settings: Any,
    frames: int,
    skin: str | None,
    background: str | None,
    *,
    look: bool,
    shown: Callable[[View], None] | None = None,
    known: CameraProfile | None = None,
) -> tuple[Reading, float | None]:
    """The reading of the last of ``frames`` frames of a feed and the feed's rate, None where it tells none.

    The sitter is the spot ``skin`` (``X,Y,W,H`` in parts of the picture), else the face that is found, if ``look``.
    ``shown`` is given the view of every frame, where somebody wants it; ``known`` is the camera's profile, where it is
    loaded already. Raises FeedError where the feed fails and FeedUnreadable where it ends without a picture.
    """
    from analysis.feed.address import parse_address
    from analysis.feed.clock import SystemClock
    from analysis.feed.every import EveryFrame, on_feed_clock, settling_frames
    from analysis.feed.factory import make_source
    from analysis.feed.pool import FramePool
    from analysis.measure.examiner import Examiner
    from analysis.measure.meter import one_thread
    from analysis.settings.measuring import examiner_settings

    one_thread()
    spots = tuple(
        _spot(name, text, kind)
        for name, text, kind in ((SKIN, skin, "watch"), (BACKGROUND, background, "background"))
        if text is not None
    )
    examiner = Examiner(examiner_settings(settings.meter, view=shown is not None, known=known))
    examiner.place_spots(spots)
    pool, clock = FramePool(), SystemClock()
    source = make_source(parse_address(feed), options, pool, clock)
    reader = EveryFrame(source, options, pool, clock)
    faces = _Faces() if look and skin is None else None
    reading: Reading | None = None
    first: Frame | None = None
    with contextlib.closing(reader):
        settling = settling_frames(source.kind)
        for frame in reader:
            first = first or frame
            timed = on_feed_clock(frame, first)
            measurement = examiner.measure(timed, None, first.instant)
            measured = measurement.reading
            if shown is not None and measurement.view is not None:
                shown(measurement.view)
            if measured.clipped is not None:
                sitters = faces.see(timed, measured) if faces is not None else None
                reading = msgspec.structs.replace(measured, **_closely(timed, measured), sitters=sitters)
            reader.give_back(frame)
            if frame.sequence + 1 >= settling + frames:
                break
    if reading is None or first is None:
        raise FeedUnreadable("ended before there was a whole picture", feed, "check the feed")
    if skin is not None:
        reading = msgspec.structs.replace(reading, sitters=(_sitter_of(reading, spots[0]),))
    return reading, first.format.rate


def _closely(frame: Frame, reading: Reading) -> dict[str, Any]:
    """The tables of both ends of the picture, which only a command has the time for; none without a known curve."""
    from analysis.measure.depths import DepthsMeter
    from analysis.measure.examiner import known_curve
    from analysis.measure.peaks import PeaksMeter

    curve, area = known_curve(frame.format.encoding.curve), reading.picture.active
    if curve is None:
        return {}
    return {
        "peaks": PeaksMeter(frame.format, curve).look_closely(frame, area),
        "depths": DepthsMeter(frame.format, curve).look_closely(frame, area),
    }


class _Faces:
    """Looks for faces on every frame, one after the other: a command has the time that a watch has not."""

    def __init__(self) -> None:
        from analysis.measure.face import FaceFinder
        from analysis.measure.follow import Company
        from analysis.settings.face_model import face_model

        self._finder, self._company = FaceFinder(face_model()), Company()

    def see(self, frame: Frame, reading: Reading) -> tuple[SitterReading, ...]:
        """The sitters of a frame."""
        from analysis.measure.examiner import known_curve
        from analysis.measure.face import WIDE
        from analysis.measure.follow import follow
        from analysis.measure.shrunken import Shrinker
        from analysis.measure.skin import SkinReader

        assert reading.clipped is not None
        curve, end = known_curve(frame.format.encoding.curve), reading.clipped.level
        small = Shrinker(frame.format).take(frame, reading.picture.active, WIDE)
        self._company = follow(self._company, self._finder.find(small), small, frame.instant, end=end)
        return SkinReader(frame.format, curve).read(frame, self._company, frame.instant, clip=end)


def _sitter_of(reading: Reading, spot: Spot) -> SitterReading:
    found = (reading.spots or {}).get(spot.name)
    if found is None:
        raise FeedUnreadable("the skin could not be read", spot.name, "place --skin inside the picture")
    left, top, wide, high = reading.picture.active
    box = (left + int(spot.x * wide), top + int(spot.y * high), int(spot.width * wide), int(spot.height * high))
    return SitterReading(
        name="sitter", main=True, state="seen", box=box, confidence=1.0, level=found.level, low=found.level,
        high=found.level, stops=found.stops, clipped=found.clipped,
    )  # fmt: skip


def _spot(name: str, text: str, kind: Any) -> Spot:
    try:
        x, y, width, height = (float(part) for part in text.split(","))
    except ValueError:
        raise UsageError(f"{text} is not a place", f"--{name}", "write X,Y,W,H in parts of 1") from None
    if not (x >= 0.0 and y >= 0.0 and width > 0.0 and height > 0.0 and x + width <= 1.0 and y + height <= 1.0):
        raise UsageError(f"{text} reaches beyond the picture", f"--{name}", "write X,Y,W,H in parts of 1")
    return Spot(name=name, kind=kind, x=x, y=y, width=width, height=height)
