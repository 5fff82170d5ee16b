"""The list of capture devices: on a machine with none, with one from a script, with one that refuses."""

from __future__ import annotations

import errno
from collections.abc import Iterator

import msgspec
import pytest

from analysis.feed import devices
from analysis.feed.devices import DeviceInfo, first_capture_device, list_devices
from analysis.feed.v4l2 import identity, ioctls
from analysis.feed.v4l2.identity import Identity
from tests.support.capture_device import CaptureDevice


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> Iterator[CaptureDevice]:
    made = CaptureDevice(monkeypatch)
    sighting = Identity(name="Stand-in", index="0", place="test")
    monkeypatch.setattr(identity, "sightings", lambda: {made.path: sighting})
    monkeypatch.setattr(identity, "lasting_names", lambda: {made.path: "/dev/v4l/by-id/usb-Stand-in"})
    yield made
    made.close()


def only() -> DeviceInfo:
    (info,) = list_devices()
    return info


def test_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(identity, "sightings", dict)
    assert list_devices() == ()
    assert first_capture_device() is None


def test_other_systems_have_no_list(device: CaptureDevice, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(devices.sys, "platform", "darwin")
    assert list_devices() == ()


def test_this_machine_can_be_asked() -> None:
    assert all(isinstance(info, DeviceInfo) for info in list_devices())


def test_one_device_in_full(device: CaptureDevice) -> None:
    device.status, device.fourccs = 0, ["YUYV", "HSV3"]
    info = only()
    assert (info.path, info.identity) == (device.path, "/dev/v4l/by-id/usb-Stand-in")
    assert (info.name, info.bus, info.note, info.usable) == ("Stand-in", "test", "", True)
    assert [(entry.name, entry.in_use, entry.status) for entry in info.inputs] == [("Socket", True, "ok")]
    known, unknown = info.formats
    assert (known.fourcc, known.layout) == ("YUYV", "yuyv422")
    assert [(size.width, size.height, size.rates) for size in known.sizes] == [(8, 4, (25.0,))]
    assert (unknown.fourcc, unknown.layout, unknown.sizes) == ("HSV3", None, ())
    assert first_capture_device() == device.path


def test_it_can_be_written_for_a_program(device: CaptureDevice) -> None:
    assert msgspec.json.decode(msgspec.json.encode(only()), type=DeviceInfo) == only()


def test_nodes_without_pictures_are_not_listed(device: CaptureDevice) -> None:
    device.capabilities = ioctls.CAP_STREAMING
    assert list_devices() == ()


@pytest.mark.parametrize(
    "request_number,error,note",
    [
        (ioctls.QUERYCAP, errno.EACCES, "permission denied; add yourself to the video group"),
        (ioctls.QUERYCAP, errno.ENODEV, "the device is gone"),
        (ioctls.ENUM_FMT, errno.EIO, "the device failed"),
        (ioctls.REQBUFS, errno.EBUSY, "in use by another program"),
    ],
)
def test_what_stands_in_the_way_is_noted(device: CaptureDevice, request_number: int, error: int, note: str) -> None:
    device.fail[request_number] = OSError(error, "x")
    assert note in only().note and not only().usable
    assert first_capture_device() is None


def test_a_device_with_formats_nobody_reads(device: CaptureDevice) -> None:
    device.fourccs = ["HSV3"]
    assert only().note == "none of its pixel formats can be read"


def test_a_device_that_cannot_be_read_is_listed_with_its_reason(device: CaptureDevice) -> None:
    device.capabilities = ioctls.CAP_VIDEO_CAPTURE
    assert "cannot stream into shared memory" in only().note and only().formats == ()


def test_a_lost_signal_is_no_reason_against_a_device(device: CaptureDevice) -> None:
    device.status = 0x2
    info = only()
    assert info.usable and info.inputs[0].status == "no signal"


def test_looking_changes_nothing(device: CaptureDevice) -> None:
    list_devices()
    changing = {ioctls.S_FMT, ioctls.S_PARM, ioctls.S_DV_TIMINGS, ioctls.STREAMON}
    assert not changing & set(device.asked)
