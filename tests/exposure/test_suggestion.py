"""Which policy the picture calls for, on rendered scenes of the three situations, and the words that say why."""

from __future__ import annotations

from typing import Any

import pytest

from analysis.exposure.policy import BUILT_LIGHT, EVEN_LIGHT, OPEN_SKY, suggest
from analysis.exposure.predict import Outlook
from analysis.model.controls import Controls
from analysis.signal.curves import curve
from tests.exposure.boathouse import controls_of, profile, read, renderer
from tests.exposure.outdoors import INDOORS, LOG, reading

LAYOUTS = {8: "yuyv422", 10: "yuv422p10le"}
KEY = {"lamp": True, "lamp_at": "key", "lake": 0.15, "lamp_power": 0.5, "sun": "off"}


@pytest.mark.parametrize("coding", [("bt709", 8), ("hlg", 10), ("acescct", 8), ("cineon", 10)], ids=lambda c: c[0])
@pytest.mark.parametrize("nd", [2.0, 4.0])
@pytest.mark.parametrize(
    ("arranged", "policy", "why"),
    [
        ({"sun": "on"}, OPEN_SKY, "% of the picture is"),
        ({"doors": "shut"}, EVEN_LIGHT, "nothing bright "),
        (KEY, BUILT_LIGHT, "there is a key light, at 50 %"),
    ],
    ids=["lake", "shut", "key"],
)
def test_rendered_situations(
    arranged: dict[str, Any], policy: str, why: str, nd: float, coding: tuple[str, int]
) -> None:
    scene = renderer(curve=coding[0], layout=LAYOUTS[coding[1]], nd=nd, **arranged)
    seen, how, now = read(scene), curve(coding[0]), controls_of(scene)
    clips_at = Outlook(seen, now, how, camera=profile(scene)).clips_at
    found = suggest(seen, how, now, clips_at)
    assert found.policy == policy and why in found.why, found


def test_why_tells_the_figure_that_decided() -> None:
    assert suggest(reading(0.8, *INDOORS), LOG).why == (
        "nothing bright lies near the clip: all but 0.5 % of the picture is 4.1 stops below it or more"
    )
    high = reading(2.0, (90.0, -4.0, 1.0), (10.0, 2.0, 2.4))
    assert suggest(high, curve("bt709")).why == (
        "nothing bright stands out from the sitter: all but 0.5 % of the picture is 0.0 stops below the clip or more"
    )
    lake = reading(0.8, (90.0, -4.0, 1.0), (10.0, 2.9, 3.4))
    assert suggest(lake, LOG).why == "10.0 % of the picture is 2 stops or more brighter than the sitter"
    assert suggest(lake, LOG).policy == OPEN_SKY
    dim = reading(-1.2, (90.0, -6.0, -1.0), (10.0, 0.9, 1.4))
    assert suggest(dim, LOG).policy == OPEN_SKY  # two stops less light: the same shot


def test_a_key_that_is_told_about_decides_before_highlights() -> None:
    bright = reading(0.8, (90.0, -4.0, 1.0), (10.0, 4.2, 4.8), clipped=2.0)
    assert suggest(bright, LOG, Controls(key_percent=35.0)).why == "there is a key light, at 35 %"
    assert suggest(bright, LOG, Controls()).why == "2.0 % of the picture is clipped"
