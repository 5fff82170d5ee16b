"""The capture devices of this machine: what is there, what it offers, and why it may not be usable."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import msgspec

from analysis.model.errors import FeedError

if TYPE_CHECKING:
    from analysis.feed.v4l2.device import Device


class OfferedSize(msgspec.Struct, frozen=True, kw_only=True):
    """One picture size with its frame rates (a second), fastest first; empty when the driver does not say."""

    width: int
    height: int
    rates: tuple[float, ...] = ()


class OfferedFormat(msgspec.Struct, frozen=True, kw_only=True):
    """One pixel format: the kernel's four letters and FFmpeg's name, None for one this program cannot read."""

    fourcc: str
    layout: str | None
    sizes: tuple[OfferedSize, ...] = ()


class OfferedInput(msgspec.Struct, frozen=True, kw_only=True):
    """One connector: its name, whether it is the one in use, its state in words ("ok", "no signal" …)."""

    name: str
    in_use: bool
    status: str
    timings: bool = False


class DeviceInfo(msgspec.Struct, frozen=True, kw_only=True):
    """One capture device.

    ``path`` opens it now, ``identity`` is the name that survives renumbering (the path itself where there is none),
    ``note`` says what stands in the way of using it, empty when nothing does.
    """

    path: str
    identity: str
    name: str
    bus: str = ""
    inputs: tuple[OfferedInput, ...] = ()
    formats: tuple[OfferedFormat, ...] = ()
    note: str = ""

    @property
    def usable(self) -> bool:
        """Whether the watch can open it now."""
        return not self.note


def list_devices() -> tuple[DeviceInfo, ...]:
    """Every capture device, lowest number first; empty where there is none or the system has no list of them.

    Looks without changing anything that is set. Never raises: what a device refuses is its ``note``.
    """
    if not sys.platform.startswith("linux"):
        return ()
    from analysis.feed.v4l2.identity import lasting_names, sightings

    names = lasting_names()
    found = (_describe(path, names.get(path, path), sighting.name) for path, sighting in sightings().items())
    return tuple(info for info in found if info is not None)


def first_capture_device() -> str | None:
    """The device the watch opens by itself: the first one that can be used, None when there is none."""
    return next((info.path for info in list_devices() if info.usable), None)


def _describe(path: str, identity: str, name: str) -> DeviceInfo | None:
    """One device, None for a node that delivers no pictures (sound, metadata, output)."""
    from analysis.feed.v4l2.device import Device
    from analysis.feed.v4l2.failures import failure

    try:
        device = Device(path)
    except OSError as error:
        return DeviceInfo(path=path, identity=identity, name=name, note=_note(failure(error, path, "opening")))
    try:
        if not device.is_capture:
            return None
        return _opened(device, identity)
    except OSError as error:
        note = _note(failure(error, path, "asking what it offers"))
        return DeviceInfo(path=path, identity=identity, name=device.card, bus=device.bus, note=note)
    finally:
        device.close()


def _opened(device: Device, identity: str) -> DeviceInfo:
    note = ""
    formats: tuple[OfferedFormat, ...] = ()
    try:
        device.require_capture()
        formats = _formats(device)
        if device.is_held():
            note = "in use by another program; close that program"
    except FeedError as error:
        note = _note(error)
    if not note and not any(found.layout for found in formats):
        note = "none of its pixel formats can be read"
    return DeviceInfo(
        path=device.path,
        identity=identity,
        name=device.card,
        bus=device.bus,
        inputs=_inputs(device),
        formats=formats,
        note=note,
    )


def _inputs(device: Device) -> tuple[OfferedInput, ...]:
    current = device.current_input()
    found: list[OfferedInput] = []
    while len(found) < 64 and (connector := device.connector(len(found))) is not None:
        in_use = current is not None and current.index == connector.index
        found.append(
            OfferedInput(name=connector.name, in_use=in_use, status=connector.status, timings=connector.timings)
        )
    return tuple(found)


def _formats(device: Device) -> tuple[OfferedFormat, ...]:
    from analysis.feed.v4l2.offers import modes

    sizes: dict[str, list[OfferedSize]] = {}
    layouts: dict[str, str | None] = {}
    for mode in modes(device):
        layouts[mode.fourcc] = mode.layout
        offered = sizes.setdefault(mode.fourcc, [])
        if mode.width and mode.height:
            offered.append(OfferedSize(width=mode.width, height=mode.height, rates=mode.rates))
    return tuple(
        OfferedFormat(fourcc=fourcc, layout=layout, sizes=tuple(sizes[fourcc])) for fourcc, layout in layouts.items()
    )


def _note(error: FeedError) -> str:
    return f"{error.what}; {error.todo}" if error.todo else error.what
