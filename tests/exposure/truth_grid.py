"""How true predictions are, over a grid: ``python -m tests.exposure.truth_grid [SITUATION ...]``.

Every situation is rendered and read with a dozen settings of the camera (and of the key); from each reading every
other setting is predicted, and held against what the camera model says of the scene as it then is. A table tells the
largest errors by curve and depth.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from analysis.exposure.aims import level_of
from analysis.exposure.predict import Forecast, Outlook
from analysis.exposure.settings_grid import Settings
from analysis.feed.scene.lights import levels
from analysis.feed.scene.renderer import Renderer
from analysis.model.reading import Reading
from analysis.settings.curve_files import load_curve
from analysis.signal.curves import MIDDLE_GREY, Curve, adopt, curve
from tests.exposure.boathouse import controls_of, counted_clipped, profile, read, renderer, true_clipped

LAYOUTS = {8: "yuyv422", 10: "yuv422p10le"}
WRITTEN = "example-log"
"""A log curve by its numbers, from the folder of examples."""
CODINGS = (
    ("bt709", 8), ("bt709", 10), ("hlg", 8), ("hlg", 10), ("acescct", 8), ("acescct", 10), ("acescc", 10),
    ("cineon", 8), ("cineon", 10), (WRITTEN, 8), (WRITTEN, 10),
)  # fmt: skip
SITUATIONS: dict[str, dict[str, Any]] = {
    "lake in sun": {"sun": "on"},
    "lake on a grey day": {"sun": "off"},
    "doors shut": {"doors": "shut"},
    "lamp over the bench": {"lamp": True, "sun": "off", "complexion": "dark"},
    "key at dusk": {"lamp": True, "lamp_at": "key", "lake": 0.15, "lamp_power": 0.5, "sun": "off"},
    "key and doors shut": {"lamp": True, "lamp_at": "key", "lake": 0.4, "lamp_power": 0.4, "doors": "shut"},
}
CAMERA: tuple[dict[str, float], ...] = (
    {"nd": 2.0}, {"nd": 4.0}, {"nd": 1.0, "iso": 400.0}, {"nd": 0.0}, {"nd": 2.0, "iso": 2016.0}, {"nd": 6.0},
    {"t_stop": 4.0}, {"t_stop": 5.6569, "iso": 1600.0}, {"shutter": 90.0}, {"shutter": 270.0, "nd": 3.0},
    {"t_stop": 2.0, "shutter": 45.0, "nd": 1.0, "iso": 640.0},
)  # fmt: skip
"""Settings of the camera; what is not named is ND 2, ISO 800, T2.83, 180 degrees."""
KEYS: tuple[dict[str, float], ...] = (
    {}, {"lamp_power": 1.0}, {"lamp_power": 0.2}, {"lamp_distance": 1.0}, {"lamp_distance": 3.0, "lamp_power": 0.8},
    {"nd": 4.0, "lamp_power": 1.0}, {"nd": 1.0, "lamp_power": 0.1},
)  # fmt: skip
BASE = {"nd": 2.0, "iso": 800.0, "t_stop": 2.0**1.5, "shutter": 180.0}


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """One prediction and what is true of it. Shares are percent of the picture, light is stops.

    ``clipped`` is counted on the moved scene as the meter counts, noise and rounding and all; ``clipped_light`` is the
    same of its light alone. ``skin`` and ``level`` are errors, None where the skin clips or is clipped;
    ``crushed_true`` is read again on the moved scene, with its noise. ``snr`` is the signal-to-noise ratio that is lost
    in the shadows and ``snr_true`` what the sensor loses at the same place; ``moved`` is by how much the picture
    changes, ``key`` by how much the key does.
    """

    situation: str
    coding: tuple[str, int]
    before: dict[str, float]
    after: dict[str, float]
    skin: float | None
    level: float | None
    known: float
    most: float
    clipped: float
    clipped_light: float
    at_least: bool
    key: float
    crushed: float
    crushed_least: float
    crushed_true: float
    headroom: float
    headroom_true: float
    snr: float | None
    snr_true: float | None
    moved: float
    same_floor: bool


@cache
def written_curve() -> Curve:
    """The example curve, known by name from now on."""
    made = load_curve(Path("configs/curves") / f"{WRITTEN}.toml", WRITTEN)
    adopt([made])
    return made


def coded(name: str) -> Curve:
    """The curve of a coding."""
    return written_curve() if name == WRITTEN else curve(name)


@cache
def _scene(situation: str, coding: tuple[str, int], settings: tuple[tuple[str, float], ...]) -> Renderer:
    if coding[0] == WRITTEN:
        adopt([written_curve()])
    made = {**SITUATIONS[situation], **BASE, **dict(settings)}
    return renderer(curve=coding[0], layout=LAYOUTS[coding[1]], **made)


@cache
def _read(situation: str, coding: tuple[str, int], settings: tuple[tuple[str, float], ...]) -> Reading:
    scene = _scene(situation, coding, settings)
    return read(scene)


@cache
def _counted(
    situation: str, coding: tuple[str, int], settings: tuple[tuple[str, float], ...], level: float
) -> float:
    return counted_clipped(_scene(situation, coding, settings), level)


def settings_of(situation: str) -> tuple[dict[str, float], ...]:
    """The settings that a situation is tried with."""
    return (*CAMERA, *KEYS[1:]) if SITUATIONS[situation].get("lamp_at") == "key" else CAMERA


def cases(situation: str, coding: tuple[str, int], every: int = 1) -> Iterator[Case]:
    """From every setting to every other; ``every`` leaves out all but each so-manieth pair."""
    pairs = [(one, other) for one in settings_of(situation) for other in settings_of(situation)]
    for before, after in pairs[::every]:
        yield case(situation, coding, before, after)


def case(situation: str, coding: tuple[str, int], before: dict[str, float], after: dict[str, float]) -> Case:
    """One of them."""
    start, end = tuple(sorted(before.items())), tuple(sorted(after.items()))
    scene, reading, how = _scene(situation, coding, start), _read(situation, coding, start), coded(coding[0])
    new = _scene(situation, coding, end)
    now, to = controls_of(scene), controls_of(new)
    sitter = (reading.sitters or ())[0]
    outlook = Outlook(reading, now, how, camera=profile(scene), sitter=sitter)
    assert to.t_stop is not None
    one = Settings(
        nd=np.array([to.nd_stops]), iso=np.array([to.iso]), t_stop=np.array([to.t_stop]),
        angle=np.array([to.shutter_angle]),
    )  # fmt: skip
    factor = outlook.key_factor(to.key_percent, to.key_distance)
    found: Forecast = outlook.over(one, factor)
    ends = float(outlook.ends(one.iso)[0])
    level = min(100.0, level_of(ends, how))
    truth, again = new.truth(0.0), _read(situation, coding, end)
    skin = truth.skin
    # Skin whose brightest channel lies at the end of the signal is brighter than it reads.
    clear = (
        skin.saturated == 0.0
        and skin.level < level - 1.0
        and not found.skin_clipped[0]
        and (sitter.clipped or 0.0) < 1.0
        and max(skin.linear) < 0.98 * MIDDLE_GREY * 2.0**ends
    )
    assert again.crushed is not None
    return Case(
        situation=situation,
        coding=coding,
        before=before,
        after=after,
        skin=float(found.sitter_stops[0]) - skin.stops if clear else None,
        level=float(found.sitter_level[0]) - skin.level if clear else None,
        known=float(found.clipped[0]),
        most=float(found.clipped_at_most[0]),
        clipped=_counted(situation, coding, end, level),
        clipped_light=true_clipped(new, level),
        at_least=bool(found.at_least[0]),
        key=float(np.log2(factor)),
        crushed=float(found.crushed[0]),
        crushed_least=float(getattr(found, "crushed_at_least", found.crushed)[0]),
        crushed_true=again.crushed.any,
        headroom=float(found.headroom[0]),
        headroom_true=headroom(new, how),
        snr=None if np.isnan(found.snr_stops[0]) else float(found.snr_lost[0]),
        snr_true=_shadow_snr(scene) - _shadow_snr(new),
        moved=float(found.camera_stops[0]),
        same_floor=again.crushed.level == reading.crushed.level,
    )


def _shadow_snr(scene: Renderer) -> float:
    """Signal-to-noise ratio in stops, by the sensor's own figures, of a shadow five stops below the card's light."""
    mean, sigma = scene._camera.noise_of(MIDDLE_GREY * scene.controls.lake / 32.0)
    return float(np.log2(mean / sigma))


@cache
def headroom(scene: Renderer, how: Curve) -> float:
    """Stops from the brightest light that means something (99.9 % of the picture) to where the signal ends."""
    light = scene._stage.palette.under(levels(scene.controls, 0.0))
    count = np.bincount(scene._stage.index().ravel(), minlength=light.shape[1])
    caught = scene._camera.caught(light).max(axis=0).astype(np.float64)
    order = np.argsort(caught)
    below = np.cumsum(count[order]) / count.sum()
    brightest = caught[order][np.searchsorted(below, 0.999)]
    sensor = MIDDLE_GREY * 2.0**scene.controls.sensor.headroom * scene.controls.gain
    end = min(sensor, float(how.decode(np.array(1.0))))
    return max(0.0, float(np.log2(end / max(brightest, 1e-9))))


class Errors:
    """The errors of many cases, gathered."""

    def __init__(self) -> None:
        self.by: dict[str, list[float]] = {}
        self.count = 0

    def add(self, name: str, value: float | None) -> None:
        """One more, where there is one."""
        if value is not None:
            self.by.setdefault(name, []).append(value)

    def say(self, name: str) -> str:
        """Count, largest and 95th percentile of the absolute errors."""
        each = np.abs(self.by.get(name, []))
        return f"{each.size:5d} {each.max():6.2f} {np.percentile(each, 95):6.2f}" if each.size else f"{0:5d}{'':14}"


def _outside(each: Case) -> float:
    """Percent points by which the crushed share lies outside what was told."""
    return max(each.crushed_least - each.crushed_true, each.crushed_true - each.crushed, 0.0)


def gathered(found: Iterator[Case]) -> Errors:
    """The errors of some cases."""
    errors = Errors()
    for each in found:
        errors.count += 1
        errors.add("skin", each.skin)
        hidden, keyed = each.most > each.known + 0.02, abs(each.key) > 1e-6
        if each.key > 1e-6:  # at least so much
            errors.add("bounds", max(each.known - each.clipped, 0.0))
        elif hidden or keyed:
            errors.add("bounds", max(each.known - each.clipped, each.clipped - each.most, 0.0))
        else:
            errors.add("clipped", each.known - each.clipped)
            errors.add("of light", each.known - each.clipped_light)
        if each.same_floor and not keyed:
            errors.add("crushed" if each.moved > -2.1 else "dark", _outside(each))
        if each.headroom > 0.0:
            over = each.headroom - each.headroom_true
            errors.add("keyed headroom" if keyed else "headroom", max(over, 0.0) if keyed else over)
        if each.snr is not None and each.snr_true is not None:
            errors.add("snr", each.snr - each.snr_true)
    return errors


COLUMNS = ("skin", "clipped", "of light", "bounds", "crushed", "dark", "headroom", "keyed headroom", "snr")


def main(asked: list[str]) -> None:
    """Print the table."""
    print(f"{'count, largest and 95th percentile of errors':44}" + "".join(f"{name:>20}" for name in COLUMNS))
    total = 0
    for situation in asked or SITUATIONS:
        for coding in CODINGS:
            errors = gathered(cases(situation, coding))
            total += errors.count
            figures = "".join(f"{errors.say(name):>20}" for name in COLUMNS)
            print(f"{situation:24}{coding[0]:>14}{coding[1]:>4} {figures}", flush=True)
    print(f"{total} cases; stops, and percent points of the picture for shares")


if __name__ == "__main__":
    main(sys.argv[1:])
