"""How sure amounts are: findings that differ and faces that vary leave doubt, at least claims no more than is known."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.exposure.turn_compare import Look
from analysis.exposure.turn_doubt import DIFFERS, weighed
from analysis.exposure.turn_kind import Kind
from analysis.exposure.turn_zones import Lit
from analysis.model.turn import TurnKind
from tests.exposure.turn_maps import room, seen


def kind(stops: float, what: TurnKind = "sitter", **more: bool) -> Kind:
    return Kind(kind=what, stops=stops, share=1.0, sitter=stops, background=stops, **more)


def looks(scatter: float, count: int = 6) -> list[Look]:
    """Looks at a face whose light strays by so much from one to the next."""
    light, signs = seen(room(), 0.0), np.resize((1.0, -1.0), count)
    return [Look(light=light, sitters=(), face=Lit(stops=float(scatter * sign))) for sign in signs]


def test_two_findings_of_a_part_are_told_as_their_mean() -> None:
    for what in ("sitter", "background"):
        found = weighed(kind(1.04, what), kind(1.0, what), looks(0.0), looks(0.0))
        assert found.stops == pytest.approx(1.02) and not found.about


def test_of_the_whole_picture_the_newest_counts() -> None:
    assert weighed(kind(1.04, "whole"), kind(1.0, "whole"), looks(0.0), looks(0.0)).stops == 1.04


def test_findings_that_differ_leave_doubt() -> None:
    assert weighed(kind(1.0 + 1.1 * DIFFERS), kind(1.0), looks(0.0), looks(0.0)).about
    assert not weighed(kind(1.0 + 0.9 * DIFFERS), kind(1.0), looks(0.0), looks(0.0)).about


def test_a_face_that_is_lit_differently_each_time_leaves_doubt() -> None:
    assert weighed(kind(1.0), kind(1.0), looks(0.2), looks(0.0)).about
    assert weighed(kind(1.0), kind(1.0), looks(0.0), looks(0.2)).about
    assert not weighed(kind(1.0), kind(1.0), looks(0.03), looks(0.03)).about
    # Many looks say what few do not, and what the sitter does is nothing to the background.
    assert not weighed(kind(1.0), kind(1.0), looks(0.15, 60), looks(0.0)).about
    assert not weighed(kind(1.0, "background"), kind(1.0, "background"), looks(0.5), looks(0.5)).about


def test_at_least_is_the_lesser_of_two_findings() -> None:
    for stops in (2.0, -2.0):
        found = weighed(kind(stops * 1.1, at_least=True), kind(stops), looks(0.0), looks(0.0))
        assert found.stops == stops == found.sitter


def test_what_was_found_of_another_kind_says_nothing() -> None:
    assert weighed(kind(1.0), kind(0.3, "background"), looks(0.0), looks(0.0)).stops == 1.0
