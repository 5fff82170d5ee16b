"""What a reading says to the alarms: what is there, and never a zero for what was not measured."""

from __future__ import annotations

import msgspec
import pytest

from analysis.alarm.book import opened, step
from analysis.alarm.defaults import DEFAULT_RULES
from analysis.alarm.observation import Observation
from analysis.alarm.values import beyond_aim, highlight_words, reading_values, spots_beyond_aim
from analysis.model.frame import Encoding
from analysis.model.reading import Flicker, Noise, PictureArea, Reading, Shares
from analysis.model.sitter import SitterReading, Spot, SpotReading
from tests.alarm.an_hour import boathouse, judged, watched
from tests.alarm.timeline import at


def shares(any_: float, luma: float, r: float | None, g: float | None, b: float | None) -> Shares:
    return Shares(any=any_, luma=luma, r=r, g=g, b=b, level=100.0, by="narrow")


def sitter(name: str, main: bool, clipped: float | None, state: str = "seen") -> SitterReading:
    return SitterReading(
        name=name, main=main, state=state, box=(0, 0, 9, 9), confidence=0.9, level=55.0, clipped=clipped,  # type: ignore[arg-type]
    )  # fmt: skip


WHOLE = Reading(
    sequence=1,
    seconds=0.0,
    validity="good",
    encoding=Encoding(bits=8, range="narrow", matrix="bt709", curve="bt709"),
    picture=PictureArea(width=8, height=8, active=(0, 0, 8, 8)),
    clipped=shares(2.5, 0.4, 1.9, 0.3, 0.2),
    crushed=shares(9.0, 4.0, 0.0, 0.0, 0.0),
    sitters=(sitter("her", True, 0.7), sitter("him", False, 30.0)),
    spots={
        "boat": SpotReading(level=60.0, stops=1.0, clipped=3.0, kind="watch"),
        "doors": SpotReading(level=99.0, stops=2.5, clipped=90.0, kind="let go"),
        "oars": SpotReading(level=50.0, stops=0.0, clipped=1.0, kind="watch"),
    },
    noise=Noise(shadow_snr_db=21.0),
    flicker=Flicker(hz=5.0, stops=0.3),
)


def test_each_value_finds_its_alarm() -> None:
    values = reading_values(WHOLE)
    assert values == {
        "highlights": 2.5,
        "shadows": 4.0,
        "one-channel": pytest.approx(1.5),
        "skin-clipped": 0.7,
        "spot-clipped": 3.0,
        "flicker": 0.3,
        "noise": 21.0,
    }
    assert set(values) | set(beyond_aim(0.0)) <= {rule.name for rule in DEFAULT_RULES}


@pytest.mark.parametrize("validity", ["priming", "late", "suspect"])
def test_what_may_not_be_judged_says_nothing(validity: str) -> None:
    assert reading_values(msgspec.structs.replace(WHOLE, validity=validity)) == {}


@pytest.mark.parametrize(
    ("changed", "missing"),
    [
        ({"clipped": None}, {"highlights", "one-channel"}),
        ({"clipped": shares(1.0, 1.0, None, None, None)}, {"one-channel"}),
        ({"crushed": None}, {"shadows"}),
        ({"sitters": None}, {"skin-clipped"}),
        ({"sitters": ()}, {"skin-clipped"}),
        ({"sitters": (sitter("him", False, 30.0),)}, {"skin-clipped"}),
        ({"sitters": (sitter("her", True, 5.0, "too dark"),)}, {"skin-clipped"}),
        ({"spots": None}, {"spot-clipped"}),
        ({"spots": {"doors": SpotReading(level=99.0, stops=2.5, clipped=90.0, kind="let go")}}, {"spot-clipped"}),
        ({"noise": Noise(refused="too much moves")}, {"noise"}),
        ({"noise": None}, {"noise"}),
        ({"flicker": None}, {"flicker"}),
    ],
)
def test_what_was_not_measured_is_missing(changed: dict[str, object], missing: set[str]) -> None:
    whole = reading_values(WHOLE)
    left = reading_values(msgspec.structs.replace(WHOLE, **changed))
    assert set(whole) - set(left) == missing


def test_luma_that_clips_with_the_channels_is_not_one_channel_alone() -> None:
    reading = msgspec.structs.replace(WHOLE, clipped=shares(8.0, 8.0, 8.0, 8.0, 7.9))
    assert reading_values(reading)["one-channel"] == 0.0


def test_what_was_let_go_may_clip() -> None:
    """Nine tenths of doors that cover two percent of the picture: 1.8 of its 2.5 percent; they clip white."""
    doors = SpotReading(level=99.0, stops=2.5, clipped=90.0, kind="let go", share=2.0)
    reading = msgspec.structs.replace(WHOLE, spots={"doors": doors})
    assert reading_values(reading)["highlights"] == pytest.approx(0.7)
    assert reading_values(reading)["one-channel"] == pytest.approx(1.5), "another colour is another loss"
    blue = msgspec.structs.replace(doors, coloured=60.0)
    reading = msgspec.structs.replace(WHOLE, spots={"doors": blue})
    assert reading_values(reading)["one-channel"] == pytest.approx(0.3)
    assert highlight_words(reading) == "not counting what was let go: doors 1.8 %"
    for kind in ("watch", "background"):
        counted = msgspec.structs.replace(WHOLE, spots={"doors": msgspec.structs.replace(doors, kind=kind)})
        assert reading_values(counted)["highlights"] == 2.5
        assert highlight_words(counted) == "most of it in red alone"


@pytest.mark.parametrize(
    ("clipped", "words"),
    [
        (shares(2.5, 0.4, 1.9, 0.3, 0.2), "most of it in red alone"),
        (shares(2.5, 0.4, 0.5, 0.3, 2.4), "most of it in blue alone"),
        (shares(2.5, 1.9, 2.0, 2.0, 2.4), ""),
        (shares(0.0, 0.0, 0.0, 0.0, 0.0), ""),
        (shares(2.5, 2.5, None, None, None), ""),
        (None, ""),
    ],
)
def test_one_colour_alone_is_said(clipped: Shares | None, words: str) -> None:
    assert highlight_words(msgspec.structs.replace(WHOLE, clipped=clipped, spots=None)) == words


def test_never_less_than_nothing_clips() -> None:
    """A spot is read on a lattice, the picture on every pixel: the two need not agree to the last digit."""
    doors = SpotReading(level=99.0, stops=2.5, clipped=100.0, coloured=100.0, kind="let go", share=2.6)
    values = reading_values(msgspec.structs.replace(WHOLE, spots={"doors": doors}))
    assert (values["highlights"], values["one-channel"]) == (0.0, 0.0)


DOORS = Spot(name="doors", kind="let go", x=0.05, y=0.16, width=0.33, height=0.71)


@pytest.mark.parametrize("kind", ["let go", "background"])
def test_the_sun_on_the_lake_rings_unless_its_doors_were_let_go(kind: str) -> None:
    spots = (msgspec.structs.replace(DOORS, kind=kind),)
    changes, heard = judged(boathouse("sun=on&nd=2", 4.0), spots=spots)
    assert len(heard) == (0 if kind == "let go" else 1)
    assert {change.alarm for change in changes} == (set() if kind == "let go" else {"highlights"})


def test_what_clips_beside_what_was_let_go_still_rings() -> None:
    """Two stops over: the room itself clips, and the reason says what was left out."""
    changes, _ = judged(boathouse("sun=on&nd=0&iso=6400", 4.0), spots=(DOORS,))
    (told,) = [change for change in changes if change.alarm == "highlights"]
    assert "not counting what was let go: doors" in told.reason


@pytest.mark.parametrize(("above", "rises"), [(0.6, "skin-high"), (-0.6, "skin-low"), (0.4, None), (-0.4, None)])
def test_skin_beyond_its_aim_says_which_way(above: float, rises: str | None) -> None:
    book, told = opened(DEFAULT_RULES, at(0.0)), []
    for number in range(100):
        book, changes, _ = step(book, Observation(values=dict(beyond_aim(above))), at(number / 25))
        told += changes
    assert [change.alarm for change in told] == ([rises] if rises else [])
    if rises:
        side = "above" if above > 0 else "below"
        assert told[0].reason == f"skin 0.6 stops {side} its aim, at or over the limit 0.5 stops for 3.0 s"
    assert beyond_aim(None) == {}


@pytest.mark.parametrize(("spots", "rises"), [((0.6, 0.0), ["spot-high"]), ((0.9, -0.8), ["spot-high", "spot-low"])])
def test_the_worst_spot_speaks_each_way(spots: tuple[float, ...], rises: list[str]) -> None:
    book, told = opened(DEFAULT_RULES, at(0.0)), []
    for number in range(100):
        book, changes, _ = step(book, Observation(values=dict(spots_beyond_aim(spots))), at(number / 25))
        told += changes
    assert [change.alarm for change in told] == rises
    assert spots_beyond_aim(()) == {}


def test_half_a_minute_of_a_grey_day_in_the_boathouse_is_silent() -> None:
    """The lake light drifts; whole hours are counted by ``python -m tests.alarm.an_hour``."""
    assert watched(30.0, "nd=3&sun=off&rate=5") == []


def test_the_same_with_two_stops_less_of_nd_is_not() -> None:
    told = [change.alarm for change in watched(4.0, "nd=1&sun=off&rate=5")]
    assert "highlights" in told
