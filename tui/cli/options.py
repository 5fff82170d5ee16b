"""Options that every command with a feed understands."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click
import msgspec

from analysis.feed.source import FeedOptions
from analysis.model.errors import UsageError
from analysis.settings.load import load
from analysis.settings.schema import Settings

F = TypeVar("F", bound=Callable[..., Any])


def feed_options(function: F) -> F:
    """Adds ``--curve --range --matrix --size --rate --layout --config`` to a command."""
    for option in reversed(
        (
            click.option("--curve", metavar="NAME", help="Transfer curve of the feed, such as bt709 or acescct."),
            click.option(
                "--range", "range_", type=click.Choice(["auto", "narrow", "full"]), help="Code range of the feed."
            ),
            click.option(
                "--matrix",
                type=click.Choice(["auto", "bt709", "bt601", "bt2020"]),
                help="Colour matrix of the feed.",
            ),
            click.option("--size", metavar="WxH", help="Ask a device or scene for this size."),
            click.option("--rate", type=float, metavar="FPS", help="Ask a device or scene for this frame rate."),
            click.option("--layout", metavar="NAME", help="Ask a device for this pixel format, such as yuyv422."),
            click.option(
                "--config",
                type=click.Path(path_type=Path),
                metavar="FILE",
                help="Settings in TOML instead of your own settings file.",
            ),
        )
    ):
        function = option(function)
    return function


def settings_from(config: Path | None) -> Settings:
    """The operator's settings, or those of the named file."""
    return load(config)


def settled_options(options: FeedOptions, feed: str, given: dict[str, Any]) -> FeedOptions:
    """The options with what a kept line-up says of this feed, where neither operator nor settings said anything.

    ``auto`` is a word too: it asks for the feed's own tags.
    """
    from analysis.feed.address import parse_address
    from analysis.settings.feed_memory import settled

    if (options.range, options.matrix, options.curve) != (None, None, None):
        return options
    if "auto" in (given.get("range_"), given.get("matrix")):
        return options
    found = settled(parse_address(feed).masked)
    if found is None:
        return options
    matrix = None if found.matrix == "rgb" else found.matrix
    return msgspec.structs.replace(options, range=found.range, matrix=matrix, curve=found.curve, said="line-up")


def feed_options_from(
    settings: Settings, given: dict[str, Any], *, realtime: bool = True, loop: bool = False
) -> FeedOptions:
    """What to ask of the feed: the command's words first, the configuration after them.

    Raises UsageError for a size or rate that makes no sense, or an unknown curve.
    """
    from analysis.settings.curve_files import adopt_curves

    adopt_curves()
    width, height = _size(given.get("size"))
    rate = given.get("rate")
    if rate is not None and not 0 < rate <= 1000:
        raise UsageError(f"{rate:g} frames a second is not a frame rate", "--rate", "use a number such as 25")
    chosen = settings.feed
    curve = given.get("curve") or chosen.curve
    if curve is not None:
        from analysis.signal.curves import curve as known_curve

        known_curve(curve)
    return FeedOptions(
        width=width or chosen.width,
        height=height or chosen.height,
        rate=rate or chosen.rate,
        layout=given.get("layout") or chosen.layout,
        curve=curve,
        range=_unless_auto(given.get("range_")) or chosen.range,
        matrix=_unless_auto(given.get("matrix")) or chosen.matrix,
        realtime=realtime,
        loop=loop,
        open_seconds=chosen.open_seconds,
        read_seconds=chosen.read_seconds,
    )


def _unless_auto(word: str | None) -> Any:
    return None if word in (None, "auto") else word


def _size(text: str | None) -> tuple[int | None, int | None]:
    if text is None:
        return None, None
    match = re.fullmatch(r"(\d{1,5})[xX](\d{1,5})", text)
    if match is None or not (int(match[1]) and int(match[2])):
        raise UsageError(f'"{text}" is not a size', "--size", "write it like 1920x1080")
    return int(match[1]), int(match[2])
