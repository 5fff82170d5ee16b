"""Curves that an operator writes: what they mean, and one clear line for every mistake."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.errors import SettingsError
from analysis.signal.curves import Curve, adopt, built_in, curve, names
from analysis.signal.curves.written import parse_csv, parse_toml
from analysis.signal.levels import code

LOG = "[log]\nslope = 0.25\ngain = 5\nshift = 0.05\nlift = 0.4\n"
STEPS = "stops,ire\n-2,20\n-1,30\n0,40\n1,50\n"


def refused(text: str, csv: bool = False) -> str:
    with pytest.raises(SettingsError) as caught:
        (parse_csv if csv else parse_toml)(text, "mine", "mine.file")
    line = caught.value.line()
    assert "\n" not in line and line.startswith("mine.file") and caught.value.exit_code == 2
    return line


def test_a_log_with_everything_left_out_that_may_be() -> None:
    made = parse_toml(LOG, "mine", "x")
    assert made.name == "mine" and made.source == "the operator's own"
    assert made.middle == pytest.approx(0.25 * np.log10(0.95) + 0.4)
    assert float(made.encode(np.array(0.0))) == pytest.approx(0.25 * np.log10(0.05) + 0.4)


def test_a_log_in_shares_of_all_codes_gives_the_published_code() -> None:
    """Cineon: 18 % at code 467.8, black at 95 (computed); a narrow-range feed carries the same codes."""
    k = 10.0 ** ((95 - 685) / 300)
    text = f'signal = "code"\n[log]\nslope = {300 / 1023}\ngain = {1 - k}\nshift = {k}\nlift = {685 / 1023}\n'
    made = parse_toml(text, "mine", "x")
    for light, expected in ((0.18, 467.8), (0.0, 95.0), (1.0, 685.0)):
        assert code(100 * float(made.encode(np.array(light))), 10, "narrow") == pytest.approx(expected, abs=0.06)


def test_a_toe_of_its_own() -> None:
    """Academy S-2016-001, section 4, in our keys."""
    text = (
        "source = 'S-2016-001'\n[log]\nbase = 2\nslope = 0.05707762557077626\ngain = 1\nshift = 0\n"
        "lift = 0.5547945205479452\n[toe]\ncut = 0.0078125\nslope = 10.5402377416545\nlift = 0.0729055341958355\n"
    )
    made = parse_toml(text, "mine", "x")
    light = np.linspace(-0.01, 2.0, 2001)
    np.testing.assert_allclose(made.encode(light), curve("acescct").encode(light), atol=1e-9)
    assert made.source == "S-2016-001"


@pytest.mark.parametrize(
    "unit,values",
    [
        ("signal", [0.2, 0.3, 0.4, 0.5]),
        ("ire", [20, 30, 40, 50]),
        # ITU-R BT.709-6 item 3.4: code = (219 V + 16) 2^(n-8).
        ("code8", [59.8, 81.7, 103.6, 125.5]),
        ("code10", [239.2, 326.8, 414.4, 502]),
        ("code12", [956.8, 1307.2, 1657.6, 2008]),
    ],
)
@pytest.mark.parametrize("light", ["stops", "light"])
def test_the_same_table_in_every_unit_and_both_files(unit: str, values: list[float], light: str) -> None:
    x = [-2, -1, 0, 1] if light == "stops" else [0.045, 0.09, 0.18, 0.36]
    csv = f"{light},{unit}\n" + "\n".join(f"{a},{b}" for a, b in zip(x, values, strict=True))
    toml = f"[table]\n{light} = {x}\n{unit} = {values}\n"
    for made in (parse_csv(csv, "mine", "x"), parse_toml(toml, "mine", "x")):
        at = made.encode(0.18 * 2.0 ** np.array([-2.0, -1.0, 0.0, 1.0]))
        np.testing.assert_allclose(at, [0.2, 0.3, 0.4, 0.5], atol=1e-12)


def test_remarks_blank_lines_marks_and_capitals_do_not_matter() -> None:
    made = parse_csv(
        f"\ufeff# source: a  wedge: ours\n# anything\n\n{STEPS.upper()}\n  \n".replace("\n", "\r\n"), "m", "x"
    )
    assert made.source == "a wedge: ours" and made.middle == pytest.approx(0.4)


@pytest.mark.parametrize(
    "text,says",
    [
        ("", "a curve is either a log or a table; write one of [log] and [table]"),
        (f"{LOG}[table]\nstops=[1]", "either a log or a table"),
        ("[log\n", "not valid TOML"),
        ("x = " + "[" * 5000, "not valid TOML"),
        ("x = " + "9" * 5000, "not valid TOML"),
        ("log = 3", "log must be a table; write [log]"),
        ("table = 3", "table must be a table; write [table]"),
        ("[log]\nslope = 1", "log.gain is missing; a log needs slope, gain, shift, lift"),
        (f"{LOG}lfit = 1", 'unknown key log.lfit; did you mean "lift"?'),
        (f"{LOG}[tow]\ncut = 0", 'unknown key tow; did you mean "toe"?'),
        (f"zzz = 1\n{LOG}", "unknown key zzz; known: source, signal, log, toe, table"),
        (LOG.replace("0.25", "'steep'"), "log.slope is not a number"),
        (LOG.replace("0.25", "true"), "log.slope is not a number"),
        (LOG.replace("0.25", "nan"), "log.slope is no number that can be used"),
        (LOG.replace("0.25", "-inf"), "log.slope is no number that can be used"),
        (LOG.replace("0.25", "1" + "0" * 400), "log.slope is no number that can be used"),
        (LOG.replace("0.25", "-0.25"), "slope and gain of the log must be above zero; check the numbers"),
        (LOG.replace("gain = 5", "gain = 1e-300"), "slope and gain of the log must be above zero"),
        (LOG.replace("0.05", "-0.05"), "nothing above zero to work on"),
        (f"{LOG}base = 1", "the base of the log must be above 1"),
        (f"{LOG}[toe]\nslope = 1", "the toe has only one of slope and lift"),
        (f"{LOG}[toe]\nslope = 1\nlift = 0.9", "at the cut the log gives"),
        (f"signal = 'volts'\n{LOG}", 'signal is volts; use "level" or "code"'),
        (f"source = 3\n{LOG}", "source must be text"),
        (LOG.replace("0.4", "4"), "it puts an 18 % card at 399.4 IRE; check the units"),
        ("[table]\nstops = [-1, 0, 1]", "the table needs one list of light and one of signal"),
        ("[table]\nstops = [-1, 0, 1]\nire = 3", "table.ire must be a list; write ire = [0.1, 0.2, 0.3]"),
        ("[table]\nstops = [-1, 0, 1]\nire = [1, 2]", "table.stops has 3 numbers, table.ire 2"),
        ("[table]\nstops = [-1, 0, 'x']\nire = [1, 2, 3]", "table.stops[2] is not a number"),
        ("[table]\nstops = [-1, 0, 1]\nirre = [1, 2, 3]", 'unknown key table.irre; did you mean "ire"?'),
        ("signal = 'code'\n[table]\nstops = [-1, 0, 1]\nire = [1, 2, 3]", "signal belongs to a log"),
        ("[table]\nstops = [-1, 0, 0]\nire = [30, 40, 50]", "row 3: stops does not rise; put the rows in rising order"),
        ("[table]\nstops = [-1, 0, 1]\nire = [30, 20, 50]", "row 2: ire does not rise"),
        ("[table]\nstops = [-1, 0, 900]\nire = [30, 40, 50]", "row 3: stops is far from any picture; check its unit"),
        ("[table]\nstops = [-1, 0]\nire = [30, 40]", "2 rows make no curve; use 3 to 4096"),
        ("[table]\nlight = [18, 36, 72]\nire = [10, 20, 30]", "it puts an 18 % card at"),
    ],
)
def test_toml_mistakes_are_one_line(text: str, says: str) -> None:
    if says.startswith("it puts an 18 % card at") and "light" in text:
        text = text.replace("[10, 20, 30]", "[300, 400, 500]")
    assert says in refused(text)


@pytest.mark.parametrize(
    "text,says",
    [
        ("", "there are no rows; begin with a line such as stops,ire"),
        ("# only remarks\n\n", "there are no rows"),
        ("-2,20\n-1,30", 'line 1: "-2,20" names no two columns; use stops or light, a comma, and'),
        ("stops;ire\n-2;20", 'line 1: "stops;ire" names no two columns'),
        ("ire,stops\n-2,20", 'line 1: "ire,stops" names no two columns'),
        ("stops,ire\n-2,20\n-1\n", 'line 3: "-1" is not two numbers; write light, a comma, and signal'),
        ("stops,ire\n-2,20\n-1,30,40\n", 'line 3: "-1,30,40" is not two numbers'),
        ("# r\nstops,ire\n-2,bright", 'line 3: "bright" is not a number; write it like 0.25'),
        ("stops,ire\n-2,nan", 'line 2: "nan" is not a number'),
        ("stops,ire\n-2,1e999", 'line 2: "1e999" is not a number'),
        ("stops,ire\n-2,20\n", "1 rows make no curve"),
        ("stops,ire\n" + "\n".join(f"{i / 1000 - 2},{i / 100}" for i in range(5000)), "5000 rows make no curve"),
        ("stops,ire\n-2,20\n-1,30\n-1,40", "row 3: stops does not rise"),
        ("stops,signal\n-2,20\n-1,30\n0,40", "row 1: signal is far from any picture; check its unit"),
        ("light,ire\n0.18,\x1b[31m", '"[31m" is not a number'),
        ("x" * (1 << 20) + "y", "too long for a curve"),
    ],
)
def test_csv_mistakes_are_one_line(text: str, says: str) -> None:
    line = refused(text, csv=True)
    assert says in line and line.isprintable()


def test_toml_text_of_a_picture_is_not_parsed() -> None:
    assert "too long for a curve" in refused("a" * ((1 << 20) + 1))


@pytest.fixture
def mine() -> Curve:
    return parse_csv(STEPS, "mine", "mine.csv")


def test_an_adopted_curve_is_known_until_others_take_its_place(mine: Curve) -> None:
    try:
        adopt([mine])
        assert curve(" Mine ") is mine and names() == (*built_in(), "mine")
    finally:
        adopt([])
    assert names() == built_in()


def test_a_faulty_one_is_told_only_when_it_is_asked_for(mine: Curve) -> None:
    try:
        adopt([mine], {"broken": SettingsError("row 2: ire does not rise", "broken.csv", "sort the rows")})
        assert curve("mine") is mine and "broken" not in names()
        with pytest.raises(SettingsError, match=r"broken\.csv: row 2: ire does not rise; sort the rows"):
            curve("broken")
    finally:
        adopt([])


def test_a_built_in_name_is_not_given_away(mine: Curve) -> None:
    taken = Curve(name="bt709", encode=mine.encode, decode=mine.decode, source="x")
    with pytest.raises(SettingsError, match="bt709: this name belongs to a built-in curve"):
        adopt([taken])
    assert curve("bt709").source.startswith("ITU-R")
