"""One side of ``stopkeeper match``: a feed, a file, a saved reading or a hold, as light that can be compared."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Literal, NamedTuple

from analysis.exposure.match_light import Light, Pixels, pixels_of
from analysis.measure.examiner import known_curve
from analysis.model.controls import Controls
from analysis.model.errors import FeedUnreadable, UsageError
from analysis.model.hold import Hold
from analysis.model.reading import Reading, View
from analysis.settings.curve_files import adopt_curves
from tui.cli.options import feed_options_from, settled_options

Which = Literal["a", "b"]
HOLD = "hold:"
"""What a hold's name is written after."""


class Side(NamedTuple):
    """One of the two: how it is called, its light, what was set, and its frame rate; None where nobody told."""

    label: str
    light: Light
    controls: Controls | None = None
    rate: float | None = None


def side(said: str, which: Which, settings: Any, given: dict[str, Any], frames: int) -> Side:
    """The side that ``said`` names. ``given`` are the command's options, first those of ``which``.

    Raises StopkeeperError in one line where it cannot be read, or has no curve.
    """
    own = {name: given.get(f"{name}_{which}") or given.get(name) for name in ("curve", "range_", "matrix", "skin")}
    own |= {name: given.get(name) for name in ("size", "rate", "layout", "background")}
    if said.startswith(HOLD):
        from analysis.settings.hold_files import load_named

        adopt_curves()
        return _of_hold(load_named(said.removeprefix(HOLD)), which, own["curve"])
    if said.casefold().endswith((".json", ".jsonl")):
        if own["skin"] is not None or own["background"] is not None:
            raise UsageError("a saved reading has no picture", "--skin", "give the feed or file itself")
        adopt_curves()
        return _saved(Path(said), which, own["curve"])
    reading, view, label, rate = picture(said, settings, own, frames)
    pixels = None if view is None else view.small
    return Side(label, _light(reading, own["curve"], which, label, pixels), None, rate)


class Shot(NamedTuple):
    """The last of some frames of a feed: its reading and view, the feed's masked address and its rate."""

    reading: Reading
    view: View | None
    label: str
    rate: float | None


def picture(feed: str, settings: Any, given: dict[str, Any], frames: int) -> Shot:
    """A picture of a feed, with faces, or ``skin``, and ``background`` where ``given`` says so. Raises FeedError."""
    from analysis.feed.address import parse_address
    from tui.cli.plan_reading import read_feed

    options = settled_options(feed_options_from(settings, given, realtime=False), feed, given)
    views: list[View] = []

    def shown(view: View) -> None:
        views[:] = [view]

    reading, rate = read_feed(
        feed, options, settings, frames, given.get("skin"), given.get("background"), look=True, shown=shown
    )
    return Shot(reading, views[0] if views else None, parse_address(feed).masked, rate)


def _of_hold(hold: Hold, which: Which, curve: str | None) -> Side:
    label = f"{HOLD}{hold.name}"
    return Side(label, _light(hold.reading, curve, which, label, pixels_of(hold.picture)), hold.controls)


def _saved(path: Path, which: Which, curve: str | None) -> Side:
    """A saved reading, or the file of a hold."""
    from analysis.settings.hold_files import load_hold
    from tui.cli.plan_reading import saved_reading

    try:
        with path.open("rb") as file:
            is_hold = b'"stopkeeper_hold"' in file.read(64)
    except OSError:
        is_hold = False  # what cannot be read is told by the reader of saved readings
    if is_hold:
        return _of_hold(load_hold(path), which, curve)
    return Side(os.fspath(path), _light(saved_reading(path), curve, which, os.fspath(path), None))


def _light(reading: Reading, said: str | None, which: Which, label: str, pixels: Pixels | None) -> Light:
    if reading.clipped is None or reading.crushed is None:
        raise FeedUnreadable("this reading was not measured", label, "read it again")
    curve = known_curve(said or reading.encoding.curve)
    if curve is None:
        raise UsageError("stops need the curve of this picture", label, f"name it with --curve-{which}")
    return Light(reading, curve, pixels)
