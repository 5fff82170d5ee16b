"""``stopkeeper plan``: what to move, by how much, and what it costs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import msgspec

from analysis.model.errors import FeedUnreadable, UsageError
from tui.cli.desks import controls_named
from tui.cli.options import feed_options, feed_options_from, settings_from
from tui.cli.plan_asked import aims_asked, controls_asked, skin_given, told_of
from tui.cli.plan_reading import read_feed, saved_reading
from tui.cli.say import say


@click.command(
    "plan",
    epilog="Example: stopkeeper plan /dev/video0 --controls lakecam.toml --complexion light",
)
@click.argument("feed")
@click.option(
    "--controls",
    "controls_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="What is set and what may move, in TOML.",
)
@click.option("--camera", metavar="NAME", help="Camera profile, such as large-sensor-log, or a path.")
@click.option(
    "--policy", metavar="NAME", help="open-sky, even-light, built-light, your own, or a path; else suggested."
)
@click.option("--nd", type=float, metavar="STOPS", help="ND that is set, in stops.")
@click.option("--iso", type=float, metavar="N", help="ISO that is set.")
@click.option("--t-stop", type=float, metavar="T", help="Aperture that is set.")
@click.option("--angle", metavar="DEGREES|1/N", help="Shutter that is set: its angle, or a time such as 1/50.")
@click.option("--key", type=float, metavar="PERCENT", help="Power of the key light.")
@click.option("--key-distance", type=float, metavar="D", help="Distance of the key light from the sitter.")
@click.option("--key-share", type=float, metavar="0-1", help="Part of the light on the sitter that is the key's.")
@click.option("--lock", multiple=True, metavar="CONTROL", help="Leave nd, iso, t_stop, shutter_angle or key as it is.")
@click.option("--free", multiple=True, metavar="CONTROL", help="Let a locked control move.")
@click.option("--aim", metavar="VALUE", help="Where the skin should lie: IRE such as 50, or stops such as +0.8st.")
@click.option("--complexion", type=click.Choice(["light", "medium", "dark"]), help="The usual aim for this skin.")
@click.option(
    "--skin", metavar="X,Y,W,H", help="Where the skin is, in parts of the picture; else a face is looked for."
)
@click.option("--skin-level", type=float, metavar="IRE", help="Level of the skin, where nobody is read.")
@click.option("--background", metavar="X,Y,W,H", help="Where the background is, in parts of the picture.")
@click.option("--background-aim", metavar="VALUE", help="Where the background should lie: IRE or stops.")
@click.option("--frames", type=click.IntRange(1, 1000), default=12, show_default=True, metavar="N", help="Frames read.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")
@feed_options
def command(
    feed: str,
    controls_file: Path | None,
    camera: str | None,
    policy: str | None,
    skin: str | None,
    skin_level: float | None,
    background: str | None,
    background_aim: str | None,
    frames: int,
    as_json: bool,
    config: Path | None,
    **given: Any,
) -> None:
    """Say what to move so that the sitter lies on the aim: the three best different ways and their costs.

    FEED is a live feed, a file, a rendered scene, or a reading saved from stopkeeper read --json (a .json file, its
    last line). What is set now comes from --controls and the options, which stand before the file.

    Lost highlights are never promised back: where light is hidden beyond the clip, it says "at least".
    """
    from analysis.engine.planning import untold
    from analysis.exposure.control_words import relative_missing
    from analysis.exposure.plan import plan
    from analysis.exposure.policy import Suggestion, suggest
    from analysis.exposure.predict import Outlook
    from analysis.measure.examiner import known_curve
    from analysis.settings.control_files import ControlFile, camera_named, load_controls
    from analysis.settings.policy_files import load_policy

    settings = settings_from(config)
    options = feed_options_from(settings, given)
    named = controls_named(controls_file, settings)
    file = load_controls(named) if named is not None else ControlFile()
    profile_name = camera or file.camera or settings.meter.camera
    from_camera = "--camera" if camera else str(named) if file.camera else "meter.camera"
    profile = camera_named(profile_name, where=from_camera) if profile_name else None
    asked = policy or file.policy
    chosen = load_policy(asked, where="--policy" if policy else str(named)) if asked else None
    if feed.casefold().endswith((".json", ".jsonl")):
        if skin is not None or background is not None:
            raise UsageError("a saved reading has no picture", "--skin", "give --skin-level, or the feed itself")
        reading, rate = saved_reading(Path(feed)), None
    else:
        look = skin_level is None
        reading, rate = read_feed(feed, options, settings, frames, skin, background, look=look, known=profile)
    if reading.clipped is None or reading.crushed is None:
        raise FeedUnreadable("this reading was not measured", feed, "read the feed again")
    curve = known_curve(options.curve or reading.encoding.curve)
    if curve is None:
        raise UsageError("stops need the curve of this feed", feed, "name it with --curve")
    behind = [name for name, each in (reading.spots or {}).items() if each.kind == "background"]
    if background_aim is not None and not behind:
        raise UsageError("--background-aim, but no background", todo="say where it is with --background X,Y,W,H")
    if skin_level is not None:
        reading = skin_given(reading, skin_level, curve)
    controls, limits = controls_asked(file, given, rate)
    said = named is not None or told_of(given)
    if not said:
        controls = msgspec.structs.replace(untold(limits, profile), rate=controls.rate)
    aims = aims_asked(settings.aims, given.get("aim"), given.get("complexion"), background_aim, curve, *behind[:1])
    if chosen is None:
        clips_at = Outlook(reading, controls, curve, camera=profile).clips_at
        suggested = suggest(reading, curve, controls, clips_at)
        chosen = load_policy(suggested.policy)
    else:
        suggested = Suggestion(policy=chosen.name, why="asked for")
    planned = plan(reading, controls, chosen, curve, aims, limits=limits, camera=profile)
    if not said:
        planned = msgspec.structs.replace(planned, missing=relative_missing(planned))
    from tui.cli.plan_words import as_object, words

    if as_json:
        say(msgspec.json.encode(as_object(planned, suggested, said)))
    else:
        say("\n".join(words(planned, chosen, suggested, said)))
