"""Snapshots with all that is measured beside levels: sitters, spots, stops, ends, noise, flicker, a line-up."""

from __future__ import annotations

import msgspec
import numpy as np

from analysis.measure.lineup.result import Fault, Lineup
from analysis.measure.lineup.result import difference as bar
from analysis.model.frame import Encoding
from analysis.model.reading import Flicker, Noise, SignalEnd, StopsSpread, Tolerance
from analysis.model.sitter import Aim, SitterReading, Spot, SpotReading
from analysis.model.snapshot import Snapshot
from tests.tui.synthetic import ENCODING, snapshot

KNOWN = msgspec.structs.replace(ENCODING, curve="bt709", curve_from="asked")
# The face of the made-up picture is an ellipse of 40 x 54 around (92, 58) of 240 x 135.
FACE = (576, 248, 320, 432)
SITTER = SitterReading(
    name="sitter 1", main=True, state="seen", box=FACE, confidence=0.93, level=52.1, low=44.0, high=58.3, stops=0.62,
    ratio_stops=0.93, clipped=0.0,
)  # fmt: skip
SECOND = SitterReading(
    name="sitter 2", main=False, state="seen", box=(1500, 300, 160, 220), confidence=0.8, level=61.0, low=50.0,
    high=70.0, stops=1.1, clipped=0.0,
)  # fmt: skip
AIM = Aim(target="sitter", value=50.0, tolerance=4.0)
WINDOW = Spot(name="window", kind="let go", x=0.64, y=0.17, width=0.3, height=0.6)
BENCH = Spot(name="bench", kind="watch", x=0.1, y=0.6, width=0.2, height=0.2)
SPOTS = (WINDOW, BENCH)
SPOT_READINGS = {
    "window": SpotReading(level=97.0, stops=2.31, clipped=12.0, kind="let go"),
    "bench": SpotReading(level=31.4, stops=-0.71, clipped=0.0, kind="watch"),
}
COUNTS = tuple(float(count) for count in np.r_[np.zeros(20), np.full(20, 4.0), np.full(10, 2.0), np.zeros(38)])
SPREAD = StopsSpread(low=-10.0, step=0.25, counts=COUNTS)


def read(**parts) -> Snapshot:
    """The usual snapshot with a known curve and these parts of the reading."""
    now = snapshot()
    return msgspec.structs.replace(now, reading=msgspec.structs.replace(now.reading, encoding=KNOWN, **parts))


def complete(**parts) -> Snapshot:
    """A snapshot of everything, with two sitters and two spots; ``parts`` replace parts of the reading."""
    usual = {
        "headroom_stops": 2.14,
        "footroom_stops": 4.32,
        "spread": SPREAD,
        "ceiling": SignalEnd(level=94.2, share=0.28, channels=("luma", "r", "g", "b"), seconds=3.0),
        "noise": Noise(shadow_snr_db=31.1, shadow_snr_stops=5.17, ire=0.81),
        "flicker": None,
        "tolerance": Tolerance(any=0.31, luma=0.02, r=0.31, g=0.0, b=0.0, within=True, estimated=True),
        "sitters": (SITTER, SECOND),
        "spots": SPOT_READINGS,
    }
    return msgspec.structs.replace(read(**(usual | parts)), spots=SPOTS, aims=(AIM,))


FLICKER = Flicker(hz=4.0, stops=0.031, kind="bands")
NO_CURVE: Encoding = ENCODING


def lined_up(*, true: bool) -> Lineup:
    """A line-up of three 75 % bars in 10 bit; narrow-range codes of BT.709-6 items 3.2 to 3.5, 4 and 5."""
    off = 0.0 if true else 43.0
    bars = (
        bar("white", (721.0, 512.0, 512.0), (721.0 + off, 512.0, 512.0)),
        bar("yellow", (674.0, 176.0, 543.0), (674.0 + off, 176.5, 542.0)),
        bar("blue", (111.0, 848.0, 481.0), (111.0, 848.0, 481.0)),
    )
    faults = () if true else (Fault(what="level", detail="gain is 6.5 % high", set="gain 0.94 at the sender"),)
    return Lineup(pattern="75 % colour bars", true=true, faults=faults, bars=bars)
