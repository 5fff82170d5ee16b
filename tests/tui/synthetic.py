"""Made-up watches for the screen's tests: a boathouse interview drawn with a few gradients."""

from __future__ import annotations

from functools import cache

import msgspec
import numpy as np

from analysis.model.alarm import AlarmStatus
from analysis.model.controls import ControlLimits, Controls
from analysis.model.feed import FeedState, FeedStatus
from analysis.model.frame import Encoding, FrameFormat
from analysis.model.instant import Instant
from analysis.model.planning import Planning
from analysis.model.reading import FeedHealth, Luma, PictureArea, Reading, Shares, View
from analysis.model.sitter import Spot
from analysis.model.snapshot import OutletStatus, Snapshot, TimelinePoint

LOW, STEP, BINS = -8.0, 0.5, 236
ENCODING = Encoding(bits=10, range="narrow", matrix="bt709", range_from="tag")
FORMAT = FrameFormat(layout="yuv422p10le", width=1920, height=1080, encoding=ENCODING, rate=25.0)
START = Instant(1000.0, 1_790_000_000.0)


def picture(seed: int = 0, light: float = 1.0, noise: float = 1.2) -> np.ndarray:
    """Levels in IRE, shape (3, 135, 240): rafters, doors with lake light, a sitter, a brass fitting."""
    rnd = np.random.default_rng(seed)
    y, x = np.mgrid[0:135, 0:240].astype(np.float32)
    base = 14 + 10 * np.sin(x / 37) ** 2 + y * 0.05
    base = np.where(y < 26 + 6 * np.sin(x / 15), 4 + 3 * np.sin(x / 9) ** 2, base)
    doors = (x > 152) & (x < 226) & (y > 22) & (y < 104)
    base = np.where(doors, 74 + 22 * (1 - (y - 22) / 82) + 4 * np.sin(y / 3) + (x - 152) * 0.16, base)
    face = ((x - 92) / 20) ** 2 + ((y - 58) / 27) ** 2 < 1
    base = np.where(face, 54 + (x - 92) * 0.75 - np.abs(y - 58) * 0.1, base)
    body = (np.abs(x - 92) < 46 - 30 * np.exp(-(y - 84) / 18)) & (y > 86)
    base = np.where(body & ~face, 24 + (x - 92) * 0.22 + 3 * np.sin(y / 2), base)
    brass = ((x - 44) / 3) ** 2 + ((y - 96) / 3) ** 2 < 1
    base = np.where(brass, 106, base)
    tint = np.array([1.04, 1.0, 0.93], np.float32)[:, None, None]
    cool = np.array([0.95, 1.0, 1.07], np.float32)[:, None, None]
    levels = base[None] * np.where(doors | (y < 30), cool, tint) * light
    return np.clip(levels + rnd.normal(0, noise, (3, 135, 240)), -6.8, 109).astype(np.float32)


def density(levels: np.ndarray) -> np.ndarray:
    """Counts (columns, bins) of one plane."""
    _rows, columns = levels.shape
    bins = np.clip(((levels - LOW) / STEP).astype(int), 0, BINS - 1)
    flat = np.bincount((np.arange(columns) * BINS + bins).ravel(), minlength=columns * BINS)
    return flat.reshape(columns, BINS).astype(np.float32)


def measure(rgb: np.ndarray, sequence: int = 0) -> tuple[Reading, View]:
    """A reading and a view as the measurement would make them, closely enough to draw."""
    luma = np.tensordot(np.array([0.2126, 0.7152, 0.0722]), rgb, 1).astype(np.float32)
    p1, p5, p50, p95, p99 = np.percentile(luma, [1, 5, 50, 95, 99])

    def shares(beyond, level: float) -> Shares:
        each = [float(beyond(plane).mean() * 100) for plane in rgb]
        any_of = float(np.any([beyond(plane) for plane in rgb], axis=0).mean() * 100)
        return Shares(
            any=any_of, luma=float(beyond(luma).mean() * 100), r=each[0], g=each[1], b=each[2], level=level, by="narrow"
        )

    reading = Reading(
        sequence=sequence,
        seconds=sequence / 25,
        validity="good",
        encoding=ENCODING,
        picture=PictureArea(width=1920, height=1080, active=(0, 0, 1920, 1080)),
        luma=Luma(
            mean=float(luma.mean()), min=float(luma.min()), p1=p1, p5=p5, p50=p50, p95=p95, p99=p99,
            max=float(luma.max()),
        ),
        clipped=shares(lambda plane: plane >= 100, 100.0),
        crushed=shares(lambda plane: plane <= 0, 0.0),
        feed=FeedHealth(fps=25.0, age_ms=30.0, skipped=0, generation=1),
    )  # fmt: skip
    small = np.clip(rgb * 2.35, 0, 255).astype(np.uint8).transpose(1, 2, 0)
    view = View(trace=density(luma), trace_rgb=np.stack([density(p) for p in rgb]), low=LOW, step=STEP, small=small)
    return reading, view


@cache
def usual() -> tuple[Reading, View]:
    """The picture that is used where any will do."""
    return measure(picture())


def alarm(name: str, state: str = "normal", since: float = 990.0, **more) -> AlarmStatus:
    """One alarm; the words are examples."""
    known = {
        "highlights": (
            "up",
            2,
            "highlights clipped",
            "3.10 % above 100 IRE, limit 1 %",
            "close by 1/3 stop or add ND 0.3",
        ),
        "shadows": ("down", 3, "shadows crushed", "8.00 % under 0 IRE, limit 5 %", "bring fill to the dark side"),
        "feed": ("none", 1, "feed lost", "no picture for 2.0 s", "look at cable and source"),
    }
    direction, priority, words, reason, advice = known[name]
    values = {
        "alarm": name, "kind": name, "direction": direction, "state": state, "priority": priority, "occurrence": 1,
        "since": Instant(since, START.utc), "reason": reason, "words": words, "advice": advice,
    }  # fmt: skip
    return AlarmStatus(**(values | more))


def timeline(seconds: int = 240, gap: tuple[int, int] | None = None) -> tuple[TimelinePoint, ...]:
    """A past with a passing cloud, some clipping, and perhaps a gap without pictures."""
    points = []
    for second in range(seconds):
        away = gap is not None and gap[0] <= second < gap[1]
        cloud = 12 * np.sin(second / 31) + np.sin(second * 1.7)
        high = 92 + cloud * 0.8
        points.append(
            TimelinePoint(
                second=second,
                low=None if away else 3 + np.sin(second / 9),
                middle=None if away else 24 + cloud * 0.5,
                high=None if away else float(high),
                clipped=None if away else max(0.0, (high - 100) * 0.5),
                crushed=None if away else 0.0,
                feed="lost" if away else "live",
                alarm=bool(not away and high > 101),
            )
        )
    return tuple(points)


QUIET = (alarm("highlights"), alarm("shadows"), alarm("feed"))


def snapshot(
    state: FeedState = "live",
    *,
    seconds: float = 0.0,
    levels: np.ndarray | None = None,
    validity: str = "good",
    with_picture: bool = True,
    **more,
) -> Snapshot:
    """A snapshot ``seconds`` after the start."""
    at = Instant(START.monotonic + seconds, START.utc + seconds)
    reading, view = usual() if levels is None else measure(levels)
    reading = msgspec.structs.replace(reading, validity=validity)
    feed = FeedStatus(
        address="scene:boathouse", kind="scene", state=state, evidence="" if state == "live" else "no frame for 2.4 s",
        since=Instant(990.0, START.utc), generation=1, format=FORMAT, age=0.04, fps=25.0, arrived=100,
    )  # fmt: skip
    made = Snapshot(
        at=at,
        feed=feed,
        reading=reading if with_picture else None,
        view=view if with_picture else None,
        alarms=QUIET,
        timeline=timeline(),
        outlet=OutletStatus(outlet="speakers", reason="default device"),
    )
    return msgspec.structs.replace(made, **more) if more else made


class FakeWatch:
    """A watch that says what the test tells it to, and remembers what it was asked."""

    def __init__(self, now: Snapshot) -> None:
        self.now = now
        self.asked: list[object] = []
        self.answers = True
        self._step = 0

    def snapshot(self) -> Snapshot:
        """The told snapshot, renewed at every look."""
        if self.answers:
            self._step += 1
            at = self.now.at
            step = Instant(at.monotonic + self._step * 1e-6, at.utc)
            return msgspec.structs.replace(self.now, at=step)
        return self.now

    def change(self, **more) -> None:
        """Replace parts of what it says."""
        self.now = msgspec.structs.replace(self.now, **more)

    def acknowledge(self, alarm: str | None, occurrence: int | None = None) -> None:
        self.asked.append(("acknowledge", alarm) if occurrence is None else ("acknowledge", alarm, occurrence))

    def acknowledge_seen(self, rises) -> None:
        self.asked.append(("acknowledge seen", *rises))

    def mute(self, seconds: float) -> None:
        self.asked.append(("mute", seconds))

    def unmute(self) -> None:
        self.asked.append(("unmute",))

    def sound_from(self, mode: str | None) -> None:
        self.asked.append(("sound from", mode))

    def restart_feed(self) -> None:
        self.asked.append(("restart",))

    def set_spots(self, spots: tuple[Spot, ...]) -> None:
        self.asked.append(("spots", spots))
        self.change(spots=spots)

    def line_up(self, on: bool) -> None:
        self.asked.append(("line up", on))

    def choose_sitter(self, name: str | None) -> None:
        self.asked.append(("choose", name))

    def plan(self, on: bool) -> None:
        self.asked.append(("plan", on))

    def set_controls(self, controls: Controls, limits: ControlLimits | None = None) -> None:
        self.asked.append(("controls", controls, limits))
        before = self.now.planning or Planning()
        told = msgspec.structs.replace(before, controls=controls, limits=limits or before.limits, said=True)
        self.change(planning=told)

    def set_policy(self, name: str | None) -> None:
        self.asked.append(("policy", name))

    def plan_for(self, name: str | None) -> None:
        self.asked.append(("plan for", name))

    def keep_hold(self, name: str | None = None) -> None:
        self.asked.append(("keep", name))

    def match_with(self, name: str | None) -> None:
        self.asked.append(("match", name))

    def drop_hold(self, name: str) -> None:
        self.asked.append(("drop", name))

    def shelve(self, alarm: str, seconds: float) -> None:
        self.asked.append(("shelve", alarm, seconds))

    def unshelve(self, alarm: str) -> None:
        self.asked.append(("unshelve", alarm))

    def reset(self, alarm: str) -> None:
        self.asked.append(("reset", alarm))

    def take_out_of_service(self, alarm: str, why: str) -> None:
        self.asked.append(("out of service", alarm, why))

    def return_to_service(self, alarm: str) -> None:
        self.asked.append(("in service", alarm))

    def say_now(self) -> None:
        self.asked.append(("say",))

    def close(self) -> None:
        self.asked.append(("close",))
