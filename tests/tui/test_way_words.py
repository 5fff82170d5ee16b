"""The ways of a plan in words: short where there is little room, never a share without what hides it."""

from __future__ import annotations

import msgspec
import pytest

from analysis.model.controls import Controls
from analysis.model.plan import Costs, Now, Plan, Planned, Predicted
from analysis.model.planning import Planning
from tests.tui.measured import complete
from tui.palette import Ink
from tui.way_words import merged, moves_of, policy_words, rows, skin, why_lines

NOW = Controls(nd_stops=6.0, iso=800.0, t_stop=2.8)
NEXT = Controls(nd_stops=8.0, iso=2000.0, t_stop=2.8)


def predicted(**more) -> Predicted:
    usual = {
        "sitter_level": 50.1, "sitter_stops": 0.5, "clipped": 0.31, "clipped_at_most": 0.31, "at_least": False,
        "crushed": 0.02, "headroom_stops": 2.5, "shadow_snr_stops": 4.6,
    }  # fmt: skip
    return Predicted(**(usual | more))


def costs(**more) -> Costs:
    usual = {
        "off_aim_stops": 0.05, "clipped": 0.0, "noise_stops": 0.6, "depth_of_field_stops": 0.0, "motion_stops": 0.0,
        "below_native_stops": 0.0, "total": 1.0,
    }  # fmt: skip
    return Costs(**(usual | more))


def way(controls: Controls = NEXT, **more) -> Plan:
    parts = {"predicted": predicted(), "costs": costs(), "moves": ("ND from 6 to 8 stops", "ISO from 800 to 2000")}
    return Plan(controls=controls, **(parts | {"reason": "Puts the sitter on the aim; 0.3 % clipped."} | more))


def planning(*ways: Plan, said: bool = True, **more) -> Planning:
    planned = Planned(
        now=Now(controls=NOW, sitter_level=54.2, clipped=0.4), policy="open-sky", plans=ways or (way(),), **more
    )
    return Planning(controls=NOW, planned=planned, said=said, suggested="open-sky", why="3.1 % is clipped")


def table(found: Planning, wide: bool = True) -> dict[str, tuple[str, ...]]:
    return {row.name: (row.now, *row.ways) for row in rows(found, complete().reading, wide)}


def test_every_quantity_has_its_row_with_how_it_is_now() -> None:
    told = table(planning())
    assert told == {
        "skin, IRE": ("54.2", "50.1"),
        "off its aim": ("2/3 over", "on aim"),
        "clipped, %": ("0.40", "0.31"),
        "crushed, %": ("<0.01", "0.02"),
        "headroom, stops": ("2.1", "2.5"),
        "shadow S/N": ("5.2", "4.6 (-0.6)"),
        "depth of field": ("", "same"),
        "motion blur": ("", "same"),
    }


@pytest.mark.parametrize(("subject", "name"), [(None, "skin"), ("sitter 2", "skin"), ("the middle", "level")])
def test_only_the_level_of_a_sitter_is_called_skin(subject: str | None, name: str) -> None:
    found = msgspec.structs.replace(planning(), subject=subject)
    first = rows(found, complete().reading, True)[0]
    assert (first.name, first.short, first.now, first.ways) == (f"{name}, IRE", f"{name} IRE", "54.2", ("50.1",))


@pytest.mark.parametrize("wide", [True, False])
def test_what_is_hidden_is_said_beside_every_share(wide: bool) -> None:
    least = way(predicted=predicted(at_least=True))
    most = way(predicted=predicted(clipped=0.0, clipped_at_most=4.9, at_least=True))
    both = way(predicted=predicted(clipped=0.4, clipped_at_most=4.9, at_least=True))
    told = table(planning(least, most, both), wide)["clipped, %"][1:]
    if wide:
        assert told == ("at least 0.31", "at most 4.90", "0.40 to 4.90")
    else:
        assert told == ("least 0.31", "most 4.90", "0.40-4.90")


def test_skin_that_is_clipped_now_may_come_out_higher() -> None:
    assert skin(way(predicted=predicted(sitter_at_least=True))) == "at least 50.1"
    assert skin(way(predicted=predicted(sitter_at_least=True)), wide=False) == "least 50.1"
    assert skin(way(predicted=predicted(sitter_level=None))) == "–"


def test_looks_and_noise_have_a_direction() -> None:
    changed = way(costs=costs(depth_of_field_stops=-1.0, motion_stops=0.67, noise_stops=-1.2))
    told = table(planning(changed))
    assert told["depth of field"][1] == "less 1.0"
    assert told["motion blur"][1] == "more 0.7"
    assert told["shadow S/N"][1] == "4.6 (+1.2)"
    unread = way(predicted=predicted(shadow_snr_stops=None, headroom_stops=None))
    told = table(planning(unread))
    assert told["shadow S/N"][1] == "-0.6"
    assert told["headroom, stops"][1] == "–"


def test_two_looks_share_a_row_where_there_is_little_room() -> None:
    changed = way(costs=costs(depth_of_field_stops=-1.0))
    found = merged(rows(planning(changed, way()), complete().reading, False))
    row = next(row for row in found if row.short == "depth/blur")
    assert row.ways == ("-1.0/0", "same")
    assert len(found) == 7


def test_a_background_has_a_row_where_it_is_read() -> None:
    lit = way(predicted=predicted(background_stops=-1.25))
    assert table(planning(lit))["background"] == ("", "-1.2")
    assert "background" not in table(planning())


def test_how_far_off_things_are_now_with_a_key_that_moves() -> None:
    now = msgspec.structs.replace(NOW, key_percent=50.0)
    to = msgspec.structs.replace(now, key_percent=100.0)
    found = planning(way(to, costs=costs(off_aim_stops=0.0)))
    assert found.planned is not None
    planned = msgspec.structs.replace(found.planned, now=msgspec.structs.replace(found.planned.now, controls=now))
    assert table(msgspec.structs.replace(found, planned=planned))["off its aim"] == ("1 under", "on aim")


def test_moves_by_setting_or_by_stops() -> None:
    found = planning().planned
    assert found is not None
    assert moves_of(way(), found, True) == ("ND 8", "ISO 2000")
    assert moves_of(way(), found, False) == ("2 stops more ND", "ISO up 1 1/3 stops")
    assert moves_of(way(), found, False, wide=False) == ("ND +2", "ISO +1 1/3")


def test_the_policy_and_who_says_so() -> None:
    found = planning()
    assert policy_words(found) == "open-sky, suggested: 3.1 % is clipped"
    mine = msgspec.structs.replace(found, policy="even-light")
    assert policy_words(mine) == "even-light, as you chose; the picture suggests open-sky: 3.1 % is clipped"
    same = msgspec.structs.replace(found, policy="open-sky")
    assert policy_words(same) == "open-sky, as you chose, and the picture suggests it: 3.1 % is clipped"
    assert policy_words(Planning(policy="open-sky")) == "open-sky, as you chose"
    assert policy_words(Planning()) == ""


def said(found: Planning, chosen: int = 0, full: bool = True) -> list[str]:
    return [text for text, _ in why_lines(found, chosen, 70, full)]


def test_the_chosen_way_in_sentences() -> None:
    assert said(planning()) == [
        "1: ND from 6 to 8 stops, then ISO from 800 to 2000",
        "Puts the sitter on the aim; 0.3 % clipped.",
    ]
    assert said(planning(), full=False) == ["Puts the sitter on the aim; 0.3 % clipped."]
    assert said(planning(said=False))[0] == "1: 2 stops more ND, then ISO up 1 1/3 stops"


def test_what_is_missing_comes_first_and_what_to_mind_last() -> None:
    found = planning(missing="1 1/3 stops short even at ISO 3200: more light", cautions=("Lamps are hot.",))
    lines = why_lines(found, 0, 70, True)
    assert lines[0] == ("NO WAY REACHES THE AIM: 1 1/3 stops short even at ISO 3200: more light", Ink.CARE)
    assert lines[1][0].startswith("nearest: ND from 6")
    assert lines[-1] == ("! Lamps are hot.", Ink.CARE)


def test_no_plan_has_no_sentences() -> None:
    assert why_lines(Planning(), 0, 70, True) == []
    assert why_lines(planning(), 0, 3, True) == []
    assert said(planning(), chosen=5) == []


@pytest.mark.parametrize(
    ("least", "most", "wide", "words"),
    [
        (0.02, 0.02, True, "0.02"),
        (0.0, 24.2, True, "at most 24.2"),
        (0.0, 24.2, False, "most 24.2"),
        (3.0, 24.2, True, "3.00 to 24.2"),
        (3.0, 24.2, False, "3.00-24.2"),
    ],
)
def test_a_crushed_share_that_the_floor_hides_is_told_as_a_range(
    least: float, most: float, wide: bool, words: str
) -> None:
    dark = way(predicted=predicted(crushed=most, crushed_at_least=least))
    assert table(planning(dark), wide)["crushed, %"][1] == words
