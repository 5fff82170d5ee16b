"""What one plan costs: every setting of a camera tried, predicted and ranked, in milliseconds of processor time."""

from __future__ import annotations

import time
from statistics import median

from analysis.exposure.plan import plan
from analysis.exposure.policy import BUILT_LIGHT, OPEN_SKY
from analysis.model.controls import ControlLimits, Controls
from analysis.settings.policy_files import load_policy
from tests.bench.row import Row
from tests.exposure.outdoors import CAMERA, LOG, OUTDOORS, reading, skin_aim

TURNS = 15
BUDGET = 50.0


def run() -> list[Row]:
    """All rows of this section."""
    every = ControlLimits(nd_range=(0.0, 10.0), shutter_angles=(45.0, 90.0, 144.0, 172.8, 270.0), locked=())
    cases = (
        ("fixed filters and ISO", OPEN_SKY, Controls(nd_stops=6.0, t_stop=2.8), ControlLimits()),
        ("variable filter, ISO, aperture and shutter free", OPEN_SKY, Controls(nd_stops=6.0, t_stop=2.8), every),
        ("fixed filters, ISO and a key", BUILT_LIGHT, Controls(nd_stops=2.0, key_percent=50.0), ControlLimits()),
    )
    rows = []
    for name, policy, controls, limits in cases:
        chosen, aims = load_policy(policy, {}), (skin_aim(), skin_aim(-2.0, "wall"))
        seen = reading(1.3, *OUTDOORS, background=-1.0)
        spent = []
        for _ in range(TURNS):
            start = time.thread_time()
            plan(seen, controls, chosen, LOG, aims, limits=limits, camera=CAMERA)
            spent.append(1000.0 * (time.thread_time() - start))
        rows.append(Row(section="planning", name=name, value=median(spent), unit="ms", most=BUDGET))
    return rows
