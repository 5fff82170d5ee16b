"""``stopkeeper reckon`` as a user calls it, against published tables and worked examples; its errors in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from math import log2
from pathlib import Path
from typing import Any

import pytest

from tests.tui.cli.here import program
from tests.tui.cli.program import Said

Run = Callable[..., Said]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return program(tmp_path, monkeypatch, capsys)


def answer(run: Run, line: str) -> dict[str, Any]:
    said = run("reckon", *line.split(), "--json")
    assert said.code == 0 and said.err == "" and said.out.count("\n") == 1, said
    found = json.loads(said.out)
    assert isinstance(found, dict)
    return found


# Density, exact stops, factor and transmittance of neutral density filters: an optics maker's published table, with
# exact stops calculated as D / log10(2).
FILTERS = [
    ("0.3", 0.997, 1.995, 50.1), ("0.6", 1.993, 3.98, 25.1), ("0.9", 2.990, 7.94, 12.6), ("1.2", 3.986, 15.8, 6.31),
    ("1.5", 4.983, 31.6, 3.16), ("1.8", 5.979, 63.1, 1.58), ("2.1", 6.976, 126, 0.79), ("3.0", 9.966, 1000, 0.10),
]  # fmt: skip


@pytest.mark.parametrize(("density", "stops", "factor", "percent"), FILTERS)
def test_filters_of_the_table(run: Run, density: str, stops: float, factor: float, percent: float) -> None:
    found = answer(run, f"filter {density}")["together"]
    assert found["stops"] == pytest.approx(stops, abs=0.001)
    assert found["density"] == float(density)
    assert found["factor"] == pytest.approx(factor, rel=0.005)
    assert found["percent"] == pytest.approx(percent, rel=0.01)


@pytest.mark.parametrize("text", ["8", "ND8", "nd8", "3st", "3 stops", "3.0st"])
def test_one_filter_written_in_several_ways(run: Run, text: str) -> None:
    """Camera practice: a factor has no point, a density has one; ND 8 and 0.9 are the same filter."""
    found = run("reckon", "filter", text, "--json")
    assert json.loads(found.out)["together"]["stops"] == 3.0


def test_filters_one_behind_the_other(run: Run) -> None:
    """A published worked example: 0.3 + 0.6 + 0.9 is a density of 1.8, six stops."""
    found = answer(run, "filter 0.3 0.6 0.9")
    assert found["together"]["density"] == pytest.approx(1.8)
    assert round(found["together"]["stops"]) == 6
    assert [row["filter"] for row in found["filters"]] == ["0.3", "0.6", "0.9"]
    assert run("reckon", "filter", "0.3", "0.6", "0.9").out.splitlines()[-1].startswith("together: 5.98 stops")


@pytest.mark.parametrize(
    ("angle", "denominator"),
    [("360", 24), ("270", 32), ("180", 48), ("172.8", 50), ("144", 60), ("90", 96), ("72", 120)],
)
def test_shutter_table_at_24(run: Run, angle: str, denominator: int) -> None:
    """A film school's published table for 24 pictures a second."""
    assert answer(run, f"shutter {angle} --rate 24")["one_over"] == pytest.approx(denominator, abs=0.01)
    assert answer(run, f"shutter 1/{denominator} --rate 24")["angle"] == pytest.approx(float(angle), abs=0.01)


def test_shutter_on_mains(run: Run) -> None:
    """A published worked example: 25 pictures on 60 Hz are steady at 75, 150, 225 and 300 degrees."""
    found = answer(run, "shutter 180 --rate 25 --mains 60")
    assert found["steady_angles"] == [75.0, 150.0, 225.0, 300.0]
    assert found["ripple_left"] == pytest.approx(0.126, abs=0.0006)  # |sinc|, calculated
    assert "on 50 Hz mains: steady" in run("reckon", "shutter", "180", "--mains", "50").out


@pytest.mark.parametrize(
    ("kind", "step", "names"),
    [
        ("aperture", "whole", [1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32]),
        (
            "aperture",
            "half",
            [1, 1.2, 1.4, 1.7, 2, 2.4, 2.8, 3.3, 4, 4.8, 5.6, 6.7, 8, 9.5, 11, 13, 16, 19, 22, 27, 32],
        ),
        ("iso", "third", [100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200]),
        ("iso", "whole", [100, 200, 400, 800, 1600, 3200, 6400, 12800]),
        ("time", "whole", [1, 2, 4, 8, 15, 30, 60, 125, 250, 500, 1000]),
    ],
)
def test_series_have_their_nominal_names(run: Run, kind: str, step: str, names: list[float]) -> None:
    """Thirds of f-numbers, ISO and times: published lists; halves common practice, no published source."""
    rows = answer(run, f"series {kind} --step {step}")["values"]
    assert [row["nominal"] for row in rows][: len(names)] == names
    per_double = 2.0 if kind == "aperture" else 1.0
    for row in rows:  # worst of the published list: 1.2 for 1.122, 0.14 stop; among halves 350 for 362
        assert per_double * abs(log2(row["nominal"] / row["exact"])) <= 0.195


@pytest.mark.parametrize(
    ("line", "stops"),
    [
        ("aperture 2 4", -2.0), ("aperture f/5.6 f/2.8", 2.0), ("aperture 11 8", 1.0), ("iso 800 2000", 4 / 3),
        ("iso 800 640", -1 / 3), ("iso 400 500", 1 / 3), ("time 1/50 1/100", -1.0), ("time 0.02s 1/25", 1.0),
        ("distance 1 2", -2.0), ("distance 2 3", -1.170), ("distance 3 2", 1.170), ("distance 5 3.5355", 1.0),
        ("key 50 100", 1.0), ("key 100% 25%", -2.0), ("light 200 800", 2.0), ("light 1 8", 3.0),
    ],
)  # fmt: skip
def test_stops_between(run: Run, line: str, stops: float) -> None:
    """Inverse square: a published example goes from 1 to 2 feet with a quarter of the light; 800:200 fc is 4:1."""
    found = answer(run, f"between {line}")
    assert found["stops"] == pytest.approx(stops, abs=0.001)
    assert ("caution" in found) == (stops > 0 and line.split()[0] in {"distance", "key"})


@pytest.mark.parametrize(
    ("line", "candles"), [("--t-stop 4 --iso 800 --rate 24", 24), ("--t-stop 2.8 --iso 100 --rate 25", 100)]
)
def test_light_that_a_setting_needs(run: Run, line: str, candles: float) -> None:
    """fc = 25 T^2 / (ISO t): a cinematographer's worked examples, 24 (printed 25), and 98 for T2.8 as it is written;
    the exact T2.828 needs 100."""
    found = answer(run, f"light {line}")
    assert found["footcandles"] == pytest.approx(candles, rel=0.01)
    assert found["lux"] == pytest.approx(10.764 * found["footcandles"], rel=0.001)


def test_light_that_is_there(run: Run) -> None:
    needs = answer(run, "light --t-stop 2.8 --iso 800 --shutter 1/50")["lux"]
    found = answer(run, f"light --t-stop 2.8 --iso 800 --shutter 1/50 --have {needs / 2}")
    assert found["off_stops"] == pytest.approx(-1.0, abs=0.002) and "Lamps are hot" in found["caution"]
    assert answer(run, "light --t-stop 2.8 --iso 800 --nd 2")["lux"] == pytest.approx(4 * needs, rel=0.001)
    assert "is enough" in run("reckon", "light", "--t-stop", "2.8", "--iso", "800", "--have", str(needs)).out
    more = answer(run, f"light --t-stop 2.8 --iso 800 --have {4 * needs}")
    assert more["off_stops"] == pytest.approx(2.0, abs=0.002) and "caution" not in more


@pytest.mark.parametrize(
    ("line", "stops"),
    [
        ("--t-stop 16 --iso 100 --shutter 1/100", 0.0), ("--t-stop 8 --iso 100 --shutter 1/100", 2.0),
        ("--t-stop 2.8 --iso 800", 9.0), ("--t-stop 5.6 --iso 800", 7.0), ("--t-stop 16 --iso 800", 4.0),
    ],
)  # fmt: skip
def test_nd_of_a_sunny_day(run: Run, line: str, stops: float) -> None:
    """The photographers' rule f/16 at one over the ISO; two stops wider is two stops of ND."""
    assert answer(run, f"sun {line}")["nd_stops"] == pytest.approx(stops, abs=0.01)


def test_sun_in_words(run: Run) -> None:
    said = run("reckon", "sun", "--t-stop", "2.8", "--iso", "800").out
    assert "9.00 stops of ND (density 2.71)" in said and "nearest filter: ND 8 stops" in said
    assert "Never aim at the sun" in said
    assert "no ND" in run("reckon", "sun", "--t-stop", "22", "--iso", "100", "--shutter", "1/200").out


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("--power 50 --to-power 100", {"stops": 1.0}), ("--power 50 --stops -1", {"power": 25.0}),
        ("--distance 1 --stops -0.5", {"distance": 1.1892}), ("--distance 2 --stops 2", {"distance": 1.0}),
        ("--power 100 --to-power 50 --distance 2 --to-distance 1", {"stops": 1.0}),
        ("--power 100 --stops -2 --dimmer 0:0,50:25,100:100", {"power": 50.0}),
        ("--power 80 --stops 1", {"power": 160.0}),
    ],
)  # fmt: skip
def test_a_key(run: Run, line: str, found: dict[str, float]) -> None:
    """Stops are log2 of the ratio of powers; distance times 2^(-n/2): half a stop less is 1.189 times as far."""
    said = answer(run, f"key {line}")
    for name, value in found.items():
        assert said[name] == pytest.approx(value, abs=0.0001)


def test_a_key_that_is_raised_carries_its_caution(run: Run) -> None:
    said = run("reckon", "key", "--power", "80", "--stops", "1")
    assert "0.68 stops more than there is" in said.out and "Caution: Lamps are hot" in said.out
    assert "Caution" not in run("reckon", "key", "--power", "80", "--stops", "-1").out


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("filter red", "write a density as 0.9"), ("filter -- -1st", "is not a filter"), ("filter 99st", "99st"),
        ("filter", "FILTER"), ("shutter 400", "use 0.1 to 360"), ("shutter 1/10", "longer than a frame"),
        ("shutter slow", "write degrees as 180"), ("shutter 180 --rate 0", "--rate"), ("shutter 1/0", "1/0"),
        ("series colour", "aperture"), ("between iso 800 x", "x is not a number"), ("between iso 0 100", "BEFORE"),
        ("between time 50 nan", "nan"), ("light --t-stop 0 --iso 800", "--t-stop"), ("light --iso 800", "--t-stop"),
        ("sun --t-stop 2.8 --iso inf", "--iso"), ("key", "nothing to reckon"), ("key --stops 1", "stops from where?"),
        ("key --to-power 50", "give --power too"), ("key --power 150 --stops 1", "more than there is"),
        ("key --power 50 --to-power 80 --stops 1", "keep one of them"),
        ("key --power 5 --stops 1 --dimmer 5", "rising"),
        ("sums", "sums"),
    ],
)  # fmt: skip
def test_mistakes_are_one_line(run: Run, line: str, says: str) -> None:
    said = run("reckon", *line.split())
    assert said.code == 2 and said.out == ""
    assert len(said.err.splitlines()) == 1 and says in said.err and "Traceback" not in said.err


@pytest.mark.parametrize("name", ["", "filter", "shutter", "series", "between", "light", "sun", "key"])
def test_help_has_an_example(run: Run, name: str) -> None:
    said = run("reckon", *filter(None, [name]), "--help")
    assert said.code == 0 and "Example: stopkeeper reckon" in said.out


def test_a_dense_filter_is_written_out(run: Run) -> None:
    """The ND table's last rows: density 3.0 is a factor of 1000, density 4.0 one of 10,000."""
    assert "factor 1000," in run("reckon", "filter", "3.0").out
    assert "factor 10000," in run("reckon", "filter", "4.0").out


def test_a_setting_that_just_fits_the_sun(run: Run) -> None:
    """The rule itself: f/16 at one over the ISO needs nothing."""
    assert "no ND, it fits as it is" in run("reckon", "sun", "--t-stop", "16", "--iso", "100", "--shutter", "1/100").out
    short = run("reckon", "sun", "--t-stop", "22", "--iso", "50", "--shutter", "1/1000").out
    assert "no ND, it is 5 1/3 stops short of light" in short
