"""``stopkeeper lineup``: what colour bars or a grey ramp say of the chain between camera and program."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analysis.model.errors import FeedUnreadable
from tui.cli.options import feed_options, feed_options_from, settings_from, settled_options
from tui.cli.say import say

if TYPE_CHECKING:
    from analysis.feed.source import FeedOptions
    from analysis.measure.lineup import BarDifference, Lineup
    from analysis.model.frame import Encoding, Frame

_PATIENCE = 10
_FROM = {"tag": "tag", "asked": "asked for", "line-up": "line-up", "assumed": "assumed"}
_COMPONENTS = {3: ("Y'", "Cb", "Cr"), 1: ("Y'",)}


@click.command("lineup", epilog="Example: stopkeeper lineup /dev/video0 --range full")
@click.argument("feed")
@click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")
@click.option(
    "--frames",
    type=click.IntRange(1, 1000),
    default=8,
    show_default=True,
    metavar="N",
    help="Average over N frames: noise goes, bars stay.",
)
@click.option("--keep", is_flag=True, help="When the chain is true, remember range, matrix and curve for this feed.")
@feed_options
@click.pass_context
def command(
    ctx: click.Context, /, feed: str, as_json: bool, frames: int, keep: bool, config: Path | None, **given: Any
) -> None:
    """Say which line-up picture FEED shows, and whether the chain carries it truly.

    Send colour bars (75 % or 100 %, with or without grey sides, the multi-pattern of RP 219) or a
    grey ramp or grey steps down the very cable the picture will use. Every bar is compared with the
    codes it must have in the encoding the feed declares, or in the one named with --range, --matrix
    and --curve; the chain is true when none is further off than two codes of 8 bit: three for the
    coloured bars of an R'G'B' feed, four for the small colour patches beneath multi-pattern bars.
    Prefer 75 % bars: what lies beyond the last code leaves no trace.

    Exit code 0: true. 1: not true, or nothing recognised. 2: used wrongly.
    """
    import msgspec

    from analysis.measure.lineup import look

    options = settled_options(feed_options_from(settings_from(config), given, realtime=False), feed, given)
    frame = mean_frame(feed, options, frames)
    found = look(frame)
    if as_json:
        say(msgspec.json.encode(found))
    else:
        say("\n".join(words(found, frame.format.encoding)))
    if not found.true:
        ctx.exit(1)
    if keep:
        from analysis.feed.address import parse_address
        from analysis.settings.feed_memory import keep as remember

        path = remember(parse_address(feed).masked, frame.format.encoding)
        if not as_json:
            say(f"Kept for this feed in {path}.")


def mean_frame(feed: str, options: FeedOptions, count: int) -> Frame:
    """The mean of the first ``count`` whole frames of a feed; a camera's first few, which still settle, are left out.

    Raises FeedError where the feed fails, and FeedUnreadable where it ends without a whole frame.
    """
    from analysis.feed.address import parse_address
    from analysis.feed.clock import SystemClock
    from analysis.feed.every import EveryFrame, settling_frames
    from analysis.feed.factory import make_source
    from analysis.feed.pool import FramePool
    from analysis.measure.lineup import Average

    pool, clock, average = FramePool(), SystemClock(), Average()
    source = make_source(parse_address(feed), options, pool, clock)
    settling = settling_frames(source.kind)
    reader = EveryFrame(source, options, pool, clock)
    try:
        for frame in reader:
            if frame.sequence >= settling:
                average.add(frame)
            reader.give_back(frame)
            # Damaged frames do not count; a feed of nothing else is given up.
            if average.count >= count or frame.sequence >= settling + _PATIENCE * count:
                break
    finally:
        reader.close()
    mean = average.frame()
    if mean is None:
        raise FeedUnreadable("ended before there was a whole picture", feed, "check the feed")
    return mean


def words(found: Lineup, encoding: Encoding) -> list[str]:
    """The verdict for a person: the pattern, the differences in codes, then the tick or what to set.

    >>> from analysis.measure.lineup import NOTHING
    >>> from analysis.model.frame import Encoding
    >>> words(NOTHING, Encoding(bits=8, range="narrow", matrix="bt709"))
    ['No line-up picture recognised: send colour bars or a grey ramp that fill the picture, and look again.']
    """
    if found.pattern is None:
        return ["No line-up picture recognised: send colour bars or a grey ramp that fill the picture, and look again."]
    lines = [found.pattern, f"compared as {_encoding_words(encoding)}"]
    if found.bars:
        lines += _table(found.bars, encoding.matrix == "rgb")
    if found.true:
        return [*lines, "[x] The chain is true."]
    lines.append("[ ] The chain is not true:")
    for fault in found.faults:
        lines += [f"    {fault.what}: {fault.detail}", f"      set: {fault.set}"]
    return lines


def _encoding_words(encoding: Encoding) -> str:
    """What the feed declares, and where each statement comes from.

    >>> from analysis.model.frame import Encoding
    >>> _encoding_words(Encoding(bits=10, range="narrow", matrix="bt709", range_from="tag"))
    '10 bit, narrow range (tag), bt709 (assumed), no curve declared'
    """
    curve = f"{encoding.curve} ({_FROM[encoding.curve_from]})" if encoding.curve else "no curve declared"
    return (
        f"{encoding.bits} bit, {encoding.range} range ({_FROM[encoding.range_from]}), "
        f"{encoding.matrix} ({_FROM[encoding.matrix_from]}), {curve}"
    )


def _table(bars: tuple[BarDifference, ...], rgb: bool) -> list[str]:
    """Expected codes, found codes and their difference, one bar a line."""
    names = ("R'", "G'", "B'") if rgb and len(bars[0].found) == 3 else _COMPONENTS[len(bars[0].found)]
    wide = max(len(bar.name) for bar in bars)
    heads = [" ".join(f"{name:>6}" for name in names)] * 3
    span = len(heads[0])
    rows = [
        f"{'':{wide}}  {'expected':>{span}}  {'found':>{span}}  {'difference':>{span}}",
        f"{'codes':{wide}}  {'  '.join(heads)}",
    ]
    for bar in bars:
        expected = " ".join(f"{code:6.0f}" for code in bar.expected)
        codes = " ".join(f"{_plain(code):>6}" for code in bar.found)
        apart = " ".join(f"{_signed(code):>6}" for code in bar.difference)
        rows.append(f"{bar.name:{wide}}  {expected}  {codes}  {apart}")
    return rows


def _plain(code: float) -> str:
    """A code to a tenth, whole ones without a point.

    >>> _plain(60160.0), _plain(128.25)
    ('60160', '128.2')
    """
    return f"{code:.0f}" if code == round(code) else f"{code:.1f}"


def _signed(code: float) -> str:
    """A difference with its sign; nothing where there is none.

    >>> _signed(3.0), _signed(-0.5), _signed(0.0)
    ('+3', '-0.5', '0')
    """
    return "0" if not code else f"{code:+.0f}" if code == round(code) else f"{code:+.1f}"
