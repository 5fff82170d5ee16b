"""A device's name as PortAudio builds it for ALSA: the card's name, the device's name, and (hw:card,device).

Measured with the kernel's snd-aloop: "Loopback: PCM (hw:0,0)", and (hw:1,0) when it came back as the second card.
"""

from __future__ import annotations

import pytest

from analysis.output.device_names import same_device

TWO = ["Loopback: PCM (hw:0,0)", "Loopback: PCM (hw:0,1)", "Desk USB: Audio (hw:1,0)", "default"]


@pytest.mark.parametrize(
    ("wanted", "place"),
    [
        ("Loopback: PCM (hw:0,1)", 1),
        ("loopback: pcm (HW:0,1)", 1),
        ("Loopback: PCM (hw:3,1)", 1),
        ("Desk USB: Audio (hw:0,0)", 2),
        ("usb", 2),
        ("audio desk", 2),
        ("default", 3),
        ("Loopback", 0),
        ("Desk USB: Audio (hw:1,7)", None),
        ("lamp", None),
    ],
)
def test_the_name_finds_the_device(wanted: str, place: int | None) -> None:
    assert same_device(TWO, wanted) == place


def test_the_very_name_counts_more_than_one_that_only_holds_it() -> None:
    assert same_device(["default surround", "default"], "default") == 1


def test_of_two_alike_the_one_with_the_same_number_is_taken() -> None:
    alike = ["Desk: Audio (hw:1,0)", "Desk: Audio (hw:2,0)"]
    assert [same_device(alike, name) for name in (*alike, "Desk: Audio (hw:5,0)")] == [0, 1, 0]


def test_nothing_is_found_among_nothing() -> None:
    assert same_device([], "default") is None
