"""Camera profiles: what is saved comes back, and what is wrong is one line."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.camera import CameraProfile, NativeIso, Response
from analysis.model.errors import SettingsError
from analysis.settings.camera_files import camera_curve, camera_folder, load_camera, parse_camera, save_camera, to_toml

PROFILE = CameraProfile(
    name="porch",
    snr=2.0,
    natives=(
        NativeIso(iso=800, stops_above=6.0, stops_below=6.4),
        NativeIso(iso=3200, stops_above=5.5, stops_below=5.0, above_at_least=True, below_at_least=True),
    ),
    bits=10,
    range="narrow",
    matrix="bt709",
    clip_percent=92.4,
    noise_percent=0.31,
    curve="acescct",
    curve_within=0.02,
    curve_offset=-0.1,
    response=Response(
        stops=(-2.0, -1.0, 0.0, 1.0),
        percent=(20.0, 30.0, 40.0, 50.0),
        noise_percent=(0.3,) * 4,
        snr=(4.0, 8.0, 16.0, 30.0),
    ),
    iso_steps=(800.0, 1600.0),
    nd_steps=(2.0, 4.0, 6.0),
    nd_range=(2.0, 7.0),
    measured="2026-11-24",
)
PLAIN = CameraProfile(name="plain", snr=1.0, bits=8, range="full", matrix="rgb")


@pytest.mark.parametrize("profile", [PROFILE, PLAIN])
def test_saved_and_loaded_is_the_same(profile: CameraProfile, tmp_path: Path) -> None:
    path = tmp_path / "cameras" / "porch.toml"
    save_camera(profile, path)
    assert load_camera(path) == profile


names = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=20)
levels = st.lists(st.floats(-5.0, 110.0, allow_subnormal=False), min_size=3, max_size=9, unique=True).map(sorted)


@given(name=names, percent=levels, iso=st.floats(1, 1e6), clip=st.none() | st.floats(0, 109))
def test_any_profile_comes_back(name: str, percent: list[float], iso: float, clip: float | None) -> None:
    if any(b - a < 1e-5 for a, b in pairwise(percent)):
        percent = [10.0, 20.0, 30.0]
    profile = CameraProfile(
        name=name, snr=2.0, bits=12, range="full", matrix="bt2020", clip_percent=clip,
        natives=(NativeIso(iso=iso, stops_above=1 / 3, stops_below=7.25),),
        response=Response(stops=tuple(float(i) for i in range(len(percent))), percent=tuple(percent)),
    )  # fmt: skip
    assert parse_camera(to_toml(profile), "x") == profile


def refused(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parse_camera(text, "porch.toml")
    line = caught.value.line()
    assert "\n" not in line and line.startswith("porch.toml: ") and caught.value.exit_code == 2
    return line


WHOLE = to_toml(PROFILE)


@pytest.mark.parametrize(
    "old,new,says",
    [
        ('name = "porch"', "", "missing required field `name`"),
        ("clip_percent", "clip_percnt", "unknown key 'clip_percnt'; did you mean \"clip_percent\"?"),
        ("clip_percent = 92.4", "clip_percent = 'high'", "clip_percent: Expected `float | null`, got `str`"),
        ("clip_percent = 92.4", "clip_percent = nan", "a number that cannot be used"),
        ("bits = 10", "bits = 10.5", "bits: Expected `int`, got `float`"),
        ('range = "narrow"', 'range = "wide"', "range: Invalid enum value 'wide'"),
        ("iso = 800", "isso = 800", "unknown field `isso`"),
        ("snr = 2.0 ", "snr = 0.0 ", "snr must be above zero; use 1 or 2"),
        ("stops = [-2.0, -1.0", "stops = [-1.0, -1.0", "response.stops does not rise; measure the camera again"),
        ("percent = [20.0, 30.0", "percent = [40.0, 30.0", "response.percent does not rise"),
        ("percent = [20.0, 30.0", "percent = [20.0", "the lists of [response] differ in length"),
        ("[response]", "[response", "not valid TOML"),
        ("nd_range = [2.0, 7.0]", "nd_range = [2.0]", "nd_range: Expected `array` of length 2"),
    ],
)
def test_mistakes_are_one_line(old: str, new: str, says: str) -> None:
    assert old in WHOLE
    assert says in refused(WHOLE.replace(old, new, 1))


@given(st.text(max_size=100))
def test_any_text_is_refused_in_one_line(text: str) -> None:
    try:
        parse_camera(text, "x.toml")
    except SettingsError as error:
        assert "\n" not in error.line()
    else:
        raise AssertionError("no random text is a profile")


@given(st.data())
def test_damaged_files(data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(WHOLE)))
    text = WHOLE[:at] + data.draw(st.text(alphabet="0123456789.=[]'\"\n", max_size=3)) + WHOLE[at + 2 :]
    try:
        parse_camera(text, "x.toml")
    except SettingsError as error:
        assert "\n" not in error.line()


def test_the_measured_curve_goes_by_the_files_name(tmp_path: Path) -> None:
    path = tmp_path / "Porch.toml"
    save_camera(PROFILE, path)
    made = camera_curve(path)
    assert made.name == "porch" and made.middle == pytest.approx(0.4)
    light = 0.18 * 2.0 ** np.linspace(-4, 3, 100)
    np.testing.assert_allclose(made.decode(made.encode(light)), light, rtol=1e-9)


def test_a_profile_without_a_curve_says_so(tmp_path: Path) -> None:
    path = tmp_path / "plain.toml"
    save_camera(PLAIN, path)
    with pytest.raises(SettingsError, match="has no measured curve; run stopkeeper characterise"):
        camera_curve(path)


def test_measured_again_keeps_what_only_the_operator_knows() -> None:
    again = CameraProfile(
        name="porch", snr=2.0, bits=10, range="narrow", matrix="bt709",
        natives=(NativeIso(iso=800, stops_above=6.2, stops_below=6.6),),
    )  # fmt: skip
    kept = again.with_kept(PROFILE)
    assert (kept.iso_steps, kept.nd_steps, kept.nd_range) == (PROFILE.iso_steps, PROFILE.nd_steps, PROFILE.nd_range)
    assert [(each.iso, each.stops_above) for each in kept.natives] == [(800, 6.2), (3200, 5.5)]


def test_figures_at_another_signal_to_noise_are_not_mixed() -> None:
    again = CameraProfile(name="porch", snr=1.0, bits=10, range="narrow", matrix="bt709")
    assert again.with_kept(PROFILE).natives == ()


def test_the_folder() -> None:
    assert camera_folder({"XDG_CONFIG_HOME": "/x"}) == Path("/x/stopkeeper/cameras")


def test_the_file_explains_itself() -> None:
    lines = WHOLE.splitlines()
    assert lines[0].startswith("# A camera profile of stopkeeper. Levels are IRE")
    assert any(line.startswith("clip_percent = 92.4  # IRE at which") for line in lines)
