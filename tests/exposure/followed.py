"""What is told to move, carried out and looked at again, as a user would: ``python -m tests.exposure.followed``.

Every situation is an address of the rendered boathouse that is read as ``stopkeeper plan`` and ``stopkeeper match``
read it, with the face that is found in it. The first table plans to the sitter's aim, sets the scene to each way and
reads it again; the second matches a picture to another that was kept. ``left`` is what is left to the aim (or the
hold) once it is done, ``missed`` how far that lies from what was told. Stops, and percent points of the picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import msgspec

from analysis.exposure.aims import ANY_SITTER, stops_of
from analysis.exposure.match import difference
from analysis.exposure.match_light import Light
from analysis.exposure.match_plan import to_match
from analysis.exposure.plan import plan
from analysis.exposure.policy import suggest
from analysis.exposure.predict import Outlook
from analysis.exposure.series import exact_aperture
from analysis.feed.address import parse_address
from analysis.feed.scene.query import parse
from analysis.feed.scene.renderer import Renderer
from analysis.feed.source import FeedOptions
from analysis.measure.examiner import known_curve
from analysis.model.controls import ControlLimits, Controls
from analysis.model.hold import Apart
from analysis.model.plan import Plan
from analysis.model.reading import Reading
from analysis.model.sitter import Aim
from analysis.settings.policy_files import load_policy
from analysis.settings.schema import Settings
from tests.exposure.boathouse import controls_of, profile
from tests.exposure.boathouse import key_share as share_of_key
from tui.cli.match_side import picture

STILL = "scene:boathouse?size=640x360&clouds=off&sway=off"
LOG = "&curve=acescct&bits=10"
KEY = "&lamp_at=key&sun=off"
FRAMES = 12
AIM = Aim(target=ANY_SITTER, value=0.6, tolerance=1.0 / 6.0, unit="stops")
VARIABLE = ControlLimits(nd_range=(0.0, 8.0), nd_step=0.1)
LENS = msgspec.structs.replace(VARIABLE, nd_range=None, nd_steps=(0.0, 2.0, 4.0, 6.0, 8.0), locked=("shutter_angle",))
FIXED = ControlLimits(nd_steps=(0.0, 2.0, 4.0, 6.0, 8.0))

DECIDE: dict[str, tuple[str, ControlLimits]] = {
    "lake in sun, too dark": (f"{LOG}&sun=on&nd=4", FIXED),
    "lake in sun, too bright": (f"{LOG}&sun=on&nd=0", FIXED),
    "grey day, variable filter": (f"{LOG}&sun=off&nd=3.3", VARIABLE),
    "doors shut, the lens is free": (f"{LOG}&doors=shut&nd=3&t=5.6569", LENS),
    "8 bit, short shutter": ("&curve=bt709&sun=off&nd=2&shutter=45", FIXED),
    "hlg, dark skin": ("&curve=hlg&bits=10&sun=on&nd=2&complexion=dark", VARIABLE),
    "key at dusk": (f"{LOG}{KEY}&lake=0.15&lamp=0.3&nd=2", VARIABLE),
    "key and doors shut": (f"&curve=hlg&bits=10{KEY}&doors=shut&lake=0.4&lamp=0.9&nd=1", VARIABLE),
}
"""Situations to decide in: the scene and what may move."""

MATCH: dict[str, tuple[str, str, ControlLimits]] = {
    "filter put in": (f"{LOG}&sun=off&nd=2", f"{LOG}&sun=off&nd=4", FIXED),
    "ISO of another day": (f"{LOG}&sun=on&nd=4&iso=2500", f"{LOG}&sun=on&nd=4", VARIABLE),
    "a cloud": (f"{LOG}&sun=off&nd=2", f"{LOG}&sun=off&nd=2&lake=0.55", VARIABLE),
    "short shutter, 8 bit": ("&curve=bt709&sun=off&nd=3", "&curve=bt709&sun=off&nd=2&shutter=90", VARIABLE),
    "another curve and depth": ("&curve=hlg&bits=10&sun=off&nd=2", "&curve=bt709&sun=off&nd=4", FIXED),
    "key dimmed": (f"{LOG}{KEY}&lake=0.15&lamp=0.8", f"{LOG}{KEY}&lake=0.15&lamp=0.4", VARIABLE),
    "key moved away, filter": (
        f"{LOG}{KEY}&doors=shut&lake=0.3&lamp=0.5",
        f"{LOG}{KEY}&doors=shut&lake=0.3&lamp=0.5&distance=2.6&nd=3",
        VARIABLE,
    ),
    "lens closed": (f"{LOG}&doors=shut&nd=2", f"{LOG}&doors=shut&nd=2&t=4", LENS),
}
"""Situations to match in: the scene that was kept, the one that is to match it, and what may move."""


class Told(NamedTuple):
    """A line of a table: what was moved, what was off before and after, and what was told of it."""

    situation: str
    moves: str
    before: tuple[float, ...]
    after: tuple[float, ...]
    missed: tuple[float, ...]


def whole(address: str) -> str:
    """The whole address, with the lens at what its number stands for: T2.8 is the square root of eight."""
    return STILL + address + ("" if "&t=" in address else f"&t={exact_aperture(2.8):.6g}")


@cache
def seen(address: str) -> Light:
    """A picture of the scene as the program reads it."""
    shot = picture(whole(address), Settings(), {}, FRAMES)
    assert shot.view is not None
    return Light(shot.reading, known_curve(shot.reading.encoding.curve), shot.view.small)


@cache
def rendered(address: str) -> Renderer:
    """What renders that picture, for what is set on it."""
    found = parse_address(whole(address))
    return Renderer(parse(found.target, found.query, FeedOptions()))


def set_to(address: str, controls: Controls) -> str:
    """The address with what is set in place of what it says."""
    parts = dict(part.split("=", 1) for part in address.lstrip("&").split("&"))
    parts |= {"nd": f"{controls.nd_stops:.6g}", "iso": f"{controls.iso:g}", "shutter": f"{controls.shutter_angle:g}"}
    if controls.t_stop is not None:
        parts["t"] = f"{exact_aperture(controls.t_stop):.6g}"
    if controls.key_percent is not None and controls.key_distance is not None:
        parts |= {"lamp": f"{controls.key_percent / 100.0:.6g}", "distance": f"{controls.key_distance:.6g}"}
    return "&" + "&".join(f"{name}={value}" for name, value in parts.items())


def shown(scene: Renderer) -> Controls:
    """What is set on the scene, by the nominal numbers that stand on a camera."""
    made = controls_of(scene)
    if made.key_percent is not None:
        made = msgspec.structs.replace(made, key_share=round(share_of_key(scene), 2))
    return msgspec.structs.replace(made, t_stop=round(made.t_stop, 1) if made.t_stop is not None else None)


def decided(situation: str) -> Iterator[Told]:
    """Every way to the aim, carried out."""
    address, limits = DECIDE[situation]
    scene, now = rendered(address), seen(address)
    curve, controls, camera = now.curve, shown(scene), profile(scene)
    assert curve is not None
    clips_at = Outlook(now.reading, controls, curve, camera=camera).clips_at
    policy = load_policy(suggest(now.reading, curve, controls, clips_at).policy, {})
    for way in plan(now.reading, controls, policy, curve, (AIM,), limits=limits, camera=camera).plans:
        after = seen(set_to(address, way.controls)).reading
        told, read = way.predicted, _skin(after)
        assert told.sitter_stops is not None and told.sitter_level is not None and after.clipped is not None
        level = stops_of(told.sitter_level, curve)
        assert level is not None
        low, high, share = told.clipped, told.clipped_at_most, after.clipped.any
        missed = (read - told.sitter_stops, share - min(max(share, low), high))
        yield Told(situation, _moves(way), (_skin(now.reading) - AIM.value,), (read - AIM.value,), missed)


def matched(situation: str) -> Iterator[Told]:
    """The best way to what was kept, carried out."""
    was, address, limits = MATCH[situation]
    hold, live, scene = seen(was), seen(address), rendered(address)
    found = difference(live, hold)
    way = to_match(live, hold, shown(scene), limits=limits, camera=profile(scene), found=found).plans[0]
    left = difference(seen(set_to(address, way.controls)), hold)
    told = [way.costs.off_aim_stops, 0.0]
    if way.predicted.background_stops is not None and found.background is not None:
        told[1] = way.predicted.background_stops - (found.background.hold or 0.0)
    before, after = ([_stops(each.sitter), _stops(each.background)] for each in (found, left))
    missed = tuple(one - other for one, other in zip(after, told, strict=True))
    yield Told(situation, _moves(way), tuple(before), tuple(after), missed)


def _skin(reading: Reading) -> float:
    sitter = next((each for each in reading.sitters or () if each.main), None)
    assert sitter is not None and sitter.stops is not None, "no face is found"
    return sitter.stops


def _stops(apart: Apart | None) -> float:
    assert apart is not None
    return apart.stops


def _moves(way: Plan) -> str:
    return ", ".join(each.partition(" (")[0] for each in way.moves)


def _say(line: Told) -> None:
    figures = "".join(f"  {' '.join(f'{value:+6.2f}' for value in each):15}" for each in line[2:])
    print(f"{line.situation:30}{line.moves:70}{figures}", flush=True)


def main() -> None:
    """Print both tables."""
    print(f"{'decide':30}{'moves':70}  {'off before':15}  {'left':15}  missed: skin, clipped")
    for situation in DECIDE:
        for line in decided(situation):
            _say(line)
    print(f"{'match':30}{'moves':70}  {'skin, background':15}  {'left':15}  missed: skin, background")
    for situation in MATCH:
        for line in matched(situation):
            _say(line)


if __name__ == "__main__":
    main()
