"""The bracket of a grey card as it is taken: steps from files, or one after another on a live feed."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import click

from analysis.model.errors import FeedUnreadable, StopkeeperError, Unmeasurable, UsageError

if TYPE_CHECKING:
    from analysis.feed.source import FeedOptions
    from analysis.measure.card import CardArea, CardView, StepReading

_SETTLE_SECONDS = 0.4
_MOST_STEPS = 41
_LARGEST_STOP = 20.0


def card_area(text: str | None) -> CardArea:
    """The area that ``--card`` names. Raises UsageError for anything but four sensible numbers.

    >>> card_area("0.4,0.4,0.2,0.2").in_pixels, card_area("600,300,90,80").in_pixels
    (False, True)
    """
    from analysis.measure.card import CardArea

    if text is None:
        return CardArea()
    try:
        x, y, width, height = (float(part) for part in text.split(","))
    except ValueError:
        raise UsageError(f'"{text}" is no area', "--card", "write x,y,w,h such as 600,300,90,80") from None
    if not (x >= 0 and y >= 0 and 0 < width < math.inf and 0 < height < math.inf):
        raise UsageError(f'"{text}" is no area', "--card", "write x,y,w,h such as 600,300,90,80")
    in_pixels = max(x, y, width, height) > 1.0
    return CardArea(x=x, y=y, width=width, height=height, in_pixels=in_pixels)


def split_step(text: str) -> tuple[float, str]:
    """Stops and feed of one ``--step``. Raises UsageError when it is not of that form.

    >>> split_step("-2=minus2.mov"), split_step("+1=scene:boathouse?nd=1")
    ((-2.0, 'minus2.mov'), (1.0, 'scene:boathouse?nd=1'))
    """
    stops, equals, feed = text.partition("=")
    try:
        value = float(stops)
    except ValueError:
        value = math.nan
    if not equals or not feed or not abs(value) <= _LARGEST_STOP:
        raise UsageError(f'"{text}" is no step', "--step", "write stops and a file, such as -2=minus2.mov")
    return value, feed


def planned(lowest: float, highest: float, every: float) -> list[float]:
    """The steps in the order they are asked for: middle grey, upwards, then downwards.

    >>> planned(-2, 2, 1)
    [0.0, 1.0, 2.0, -1.0, -2.0]
    """
    if not (-_LARGEST_STOP <= lowest <= 0 <= highest <= _LARGEST_STOP and every > 0):
        raise UsageError("the steps make no bracket", "--from --to --every", "use such as --from -6 --to 6 --every 1")
    up, down = math.floor(highest / every + 1e-9), math.floor(-lowest / every + 1e-9)
    if up + down + 1 > _MOST_STEPS:
        raise UsageError(f"{up + down + 1} steps are too many", "--every", f"ask for {_MOST_STEPS} at most")
    return [float(i * every) for i in range(up + 1)] + [float(-i * every) for i in range(1, down + 1)]


def guided(
    plan: list[float], views: Callable[[float], list[CardView]], ask: Callable[[str], str], noise: bool = True
) -> list[StepReading]:
    """Readings of the planned steps, asking before each; a step that fails is told and asked for again.

    Upward steps end where the signal stands still, downward ones where it does too. ``ask`` says a line
    and returns the operator's word: empty to read, ``b`` for the step before again, ``d`` for done.
    """
    from analysis.measure.card import read_step, signed

    done: dict[float, StepReading] = {}
    left, fault = list(plan), ""
    while left:
        stops = left[0]
        word = ask(f"{fault}step {signed(stops)}: {_how(stops)}, then Enter (b: the step before again, d: done)")
        fault = ""
        if word == "d":
            break
        if word == "b" and done:
            last, _ = done.popitem()
            left.insert(0, last)
            continue
        if word:
            continue
        try:
            done[stops] = read_step(stops, views(stops), noise)
        except Unmeasurable as error:
            fault = f"{error.line()}\n"
            continue
        left.pop(0)
        if _stands_still(done, stops):
            left = [each for each in left if each * stops <= 0]
    return list(done.values())


def _stands_still(done: dict[float, StepReading], stops: float) -> bool:
    """Whether this step reads as the one before it in its direction: the clip, or the dark."""
    inward = [each for each in done if each * stops >= 0 and abs(each) < abs(stops)]
    if not inward:
        return False
    before, now = done[max(inward, key=abs)], done[stops]
    return abs(now.level - before.level) < (1.5 if stops > 0 else 0.25) * now.code


def _how(stops: float) -> str:
    if stops == 0:
        return "set the card to middle grey"
    return f"{abs(stops):g} stop{'s' if abs(stops) != 1 else ''} {'more' if stops > 0 else 'less'} light than at step 0"


def ask_on_terminal(line: str) -> str:
    """Say a line on standard error and return the answer in small letters; ``d`` when the input has ended."""
    click.echo(line, err=True)
    answer = sys.stdin.readline()
    return answer.strip().casefold() if answer else "d"


class LiveCard:
    """The card on a live feed: fresh frames whenever a step is ready."""

    def __init__(self, feed: str, options: FeedOptions, area: CardArea, frames: int) -> None:
        from analysis.feed.clock import SystemClock

        self._area, self._frames, self._clock = area, frames, SystemClock()
        self._reader, kind = _reader(feed, options)
        if kind in {"file", "pipe"}:
            self._reader.close()
            raise UsageError("a file does not wait for the next step", feed, "give --step STOPS=FILE for each")
        self._stream: Iterator[Any] = iter(self._reader)

    def views(self, stops: float) -> list[CardView]:
        """The card on the next frames that began after this call and a moment for the camera to settle."""
        return _take(self._fresh(), self._reader, self._area, self._frames, stops)

    def _fresh(self) -> Iterator[Any]:
        began = self._clock.now()
        for frame in self._stream:
            if frame.instant.since(began) >= _SETTLE_SECONDS:
                yield frame
            else:
                self._reader.give_back(frame)

    def close(self) -> None:
        """Let the feed go."""
        self._reader.close()


def from_file(stops: float, feed: str, options: FeedOptions, area: CardArea, frames: int, noise: bool) -> StepReading:
    """The reading of one step from the first frames of a file or another feed; errors name the feed."""
    from analysis.measure.card import read_step

    reader, _ = _reader(feed, options)
    try:
        return read_step(stops, _take(iter(reader), reader, area, frames, stops), noise)
    except StopkeeperError as error:
        if feed in error.line():
            raise
        raise type(error)(error.what, f"{feed}: {error.where}" if error.where else feed, error.todo) from None
    finally:
        reader.close()


def _reader(feed: str, options: FeedOptions) -> tuple[Any, str]:
    from analysis.feed.address import parse_address
    from analysis.feed.clock import SystemClock
    from analysis.feed.every import EveryFrame
    from analysis.feed.factory import make_source
    from analysis.feed.pool import FramePool

    pool, clock = FramePool(), SystemClock()
    source = make_source(parse_address(feed), options, pool, clock)
    return EveryFrame(source, options, pool, clock), source.kind


def _take(stream: Iterator[Any], reader: Any, area: CardArea, frames: int, stops: float) -> list[CardView]:
    from analysis.measure.card import see_card, signed

    views: list[CardView] = []
    shown = sys.stderr.isatty()
    for frame in stream:
        if not frame.corrupt:
            views.append(see_card(frame, area))
        reader.give_back(frame)
        if shown:
            click.echo(f"\rstep {signed(stops)}: frame {len(views)} of {frames} ", nl=False, err=True)
        if len(views) == frames:
            break
    if shown:
        click.echo("", err=True)
    if not views:
        raise FeedUnreadable("ended before there was a picture", f"step {signed(stops)}", "check the feed")
    return views
