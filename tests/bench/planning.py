"""What one plan costs: every setting of a camera tried, predicted and ranked, in milliseconds of processor time.

Then the same as a watch does it from a rendered picture (whom it is for, which policy, the plan), and the ghost
that the screen draws of it.
"""

from __future__ import annotations

import time
from statistics import median

import msgspec

from analysis.engine.planning import EVERY, PlanDesk
from analysis.exposure.ghost import ghost_of
from analysis.exposure.plan import plan
from analysis.exposure.policy import BUILT_LIGHT, OPEN_SKY
from analysis.model.controls import ControlLimits, Controls
from analysis.model.instant import Instant
from analysis.settings.policy_files import load_policy
from tests.bench.row import Row
from tests.exposure.outdoors import CAMERA, LOG, OUTDOORS, reading, skin_aim
from tests.tui.deciding import AIM, POLICIES, moment

TURNS = 15
BUDGET = 50.0


def run() -> list[Row]:
    """All rows of this section."""
    every = ControlLimits(nd_range=(0.0, 10.0), shutter_angles=(45.0, 90.0, 144.0, 172.8, 270.0), locked=())
    lit = msgspec.structs.replace(every, key_distances=(1.0, 1.5, 2.0, 3.0, 4.0))
    lamp = Controls(nd_stops=6.0, t_stop=2.8, key_percent=50.0, key_distance=2.0)
    cases = (
        ("fixed filters and ISO", OPEN_SKY, Controls(nd_stops=6.0, t_stop=2.8), ControlLimits()),
        ("variable filter, ISO, aperture and shutter free", OPEN_SKY, Controls(nd_stops=6.0, t_stop=2.8), every),
        ("everything free, with a key and five places for it", BUILT_LIGHT, lamp, lit),
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
    return [*rows, *_in_a_watch()]


def _in_a_watch() -> list[Row]:
    seen, view, file, camera = moment(nd=1.0)
    desk = PlanDesk(file, policies=POLICIES, camera=camera)
    desk.ask(True)
    planned, drawn = [], []
    for turn in range(TURNS):
        start = time.thread_time()
        desk.look(seen, LOG, (AIM,), Instant(turn * EVERY, turn * EVERY))
        planned.append(1000.0 * (time.thread_time() - start))
        found = desk.planning.planned
        assert found is not None, desk.planning.trouble
        start = time.thread_time()
        ghost_of(view, seen, found.plans[0], file.controls, LOG, camera=camera, sitter=(seen.sitters or (None,))[0])
        drawn.append(1000.0 * (time.thread_time() - start))
    return [
        Row(
            section="planning",
            name="a look of the desk, rendered picture",
            value=median(planned),
            unit="ms",
            most=BUDGET,
        ),
        Row(section="planning", name="the ghost of a way", value=median(drawn), unit="ms", most=BUDGET),
    ]
