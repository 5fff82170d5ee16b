"""Which camera it is: found again by what it is and where it is plugged in, never by its number.

The facts come from sysfs (``/sys/class/video4linux``), so that a device need not be opened to be recognised.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path

import msgspec

from analysis.model.errors import FeedGone

SYSFS = Path("/sys")
DEVICES = Path("/dev")


class Identity(msgspec.Struct, frozen=True, kw_only=True):
    """What stays the same about a capture node while it is unplugged.

    ``name`` and ``index`` are the kernel's name and number of the node within its device, ``place`` where the
    device sits (port or platform path), ``model`` the USB vendor and product, ``serial`` the USB serial number;
    empty where there is none.
    """

    name: str
    index: str
    place: str
    model: str = ""
    serial: str = ""

    def same_camera(self, other: Identity) -> bool:
        """Whether two sightings are one camera: by serial number, or without one by the same plug."""
        if (self.name, self.index, self.model, self.serial) != (other.name, other.index, other.model, other.serial):
            return False
        return bool(self.serial) or self.place == other.place

    def same_model(self, other: Identity) -> bool:
        """Whether two sightings look alike but for the plug."""
        return (self.name, self.index, self.model) == (other.name, other.index, other.model)


def identity_of(node: str | int, sysfs: Path | None = None) -> Identity | None:
    """The identity of a device node (path, or descriptor of an open one); None where sysfs does not tell."""
    try:
        number = (os.fstat(node) if isinstance(node, int) else os.stat(node)).st_rdev  # noqa: PTH116
    except OSError:
        return None
    return _read((sysfs or SYSFS) / "dev" / "char" / f"{os.major(number)}:{os.minor(number)}")


def sightings(sysfs: Path | None = None) -> dict[str, Identity]:
    """Every video node there is now, by its path, lowest number first."""
    folder = (sysfs or SYSFS) / "class" / "video4linux"
    try:
        found = sorted((path for path in folder.iterdir() if path.name.startswith("video")), key=_number)
    except OSError:
        return {}
    seen = {str(DEVICES / path.name): _read(path) for path in found}
    return {path: identity for path, identity in seen.items() if identity is not None}


def lasting_names(folder: Path | None = None) -> dict[str, str]:
    """For each device path the name that survives renumbering (``/dev/v4l/by-id``, else ``by-path``)."""
    names: dict[str, str] = {}
    for kind in ("by-path", "by-id"):
        try:
            links = sorted(((folder or DEVICES) / "v4l" / kind).iterdir())
        except OSError:
            continue
        names |= {os.path.realpath(link): str(link) for link in links}
    return names


def _number(path: Path) -> tuple[int, str]:
    digits = path.name.removeprefix("video")
    return (int(digits) if digits.isdigit() else 1 << 30, digits)


def _read(folder: Path) -> Identity | None:
    name = _line(folder / "name")
    if not name:
        return None
    device = Path(os.path.realpath(folder / "device"))
    usb = next((place for place in (device, *device.parents) if (place / "idVendor").is_file()), None)
    return Identity(
        name=name,
        index=_line(folder / "index"),
        place=device.name,
        model=f"{_line(usb / 'idVendor')}:{_line(usb / 'idProduct')}" if usb else "",
        serial=_line(usb / "serial") if usb else "",
    )


def _line(path: Path) -> str:
    try:
        return path.read_text(errors="replace").strip()
    except OSError:
        return ""


class Memory:
    """Remembers which camera an address meant, so that after a loss the same one is found and no other is taken."""

    def __init__(self) -> None:
        self._known: dict[str, Identity] = {}
        self._lock = threading.Lock()

    def learn(self, address: str, identity: Identity | None) -> None:
        """Keep the camera an address was opened as; the first one stays."""
        if identity is not None:
            with self._lock:
                self._known.setdefault(address, identity)

    def known(self, address: str) -> Identity | None:
        """The camera an address means, None before it was first opened."""
        with self._lock:
            return self._known.get(address)

    def resolve(self, address: str, sysfs: Path | None = None) -> str:
        """The device path to open now. Raises FeedGone when the camera is not there or another took its number."""
        wanted = self.known(address)
        if wanted is None:
            return address
        here = identity_of(address, sysfs)
        if here is not None and wanted.same_camera(here):
            return address
        seen = sightings(sysfs)
        for path, identity in seen.items():
            if wanted.same_camera(identity):
                return path
        raise self._gone(address, wanted, here, seen)

    @staticmethod
    def _gone(address: str, wanted: Identity, here: Identity | None, seen: dict[str, Identity]) -> FeedGone:
        twin = next((path for path, identity in seen.items() if wanted.same_model(identity)), None)
        if twin is not None:
            what = f"the camera {wanted.name} is gone; {twin} is the same model on another plug or with another serial"
            return FeedGone(what, address, f"if it is the one you mean, open {twin}")
        if here is not None:
            what = f"the camera {wanted.name} is gone and another one, {here.name}, has its number; it is not used"
            return FeedGone(what, address, f"plug {wanted.name} in again, or start anew with the other")
        return FeedGone(f"the camera {wanted.name} is gone", address, "plug it in again")


REMEMBERED = Memory()
"""What this process has learnt: every reopening of an address means the same camera."""
