"""The same camera is found again under another number, and another one in its place is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.feed.v4l2 import identity as module
from analysis.feed.v4l2.identity import Identity, Memory, identity_of, lasting_names, sightings
from analysis.model.errors import FeedGone

# A node that every Linux machine has stands in for /dev/video0: character device 1:3 (admin-guide/devices.txt).
ADDRESS, ADDRESS_NUMBER = "/dev/null", "1:3"


class Sysfs:
    """A folder laid out as the kernel's own (Documentation/admin-guide/sysfs-rules.rst and videodev's attributes)."""

    def __init__(self, root: Path) -> None:
        self.root = root
        for folder in ("class/video4linux", "dev/char", "devices"):
            (root / folder).mkdir(parents=True)

    def plug(self, node: str, name: str, port: str = "1-2", usb: tuple[str, str, str] | None = None) -> None:
        device = self.root / "devices" / port / f"{port}:1.0"
        device.mkdir(parents=True, exist_ok=True)
        if usb:
            for file, value in zip(("idVendor", "idProduct", "serial"), usb, strict=True):
                if value:
                    (device.parent / file).write_text(value + "\n")
        folder = device / "video4linux" / node
        folder.mkdir(parents=True)
        (folder / "name").write_text(name + "\n")
        (folder / "index").write_text("0\n")
        (folder / "device").symlink_to(device)
        (self.root / "class/video4linux" / node).symlink_to(folder)
        if node == "video0":
            (self.root / "dev/char" / ADDRESS_NUMBER).symlink_to(folder)

    def unplug(self, node: str) -> None:
        folder = (self.root / "class/video4linux" / node).resolve()
        (self.root / "class/video4linux" / node).unlink()
        if node == "video0":
            (self.root / "dev/char" / ADDRESS_NUMBER).unlink()
        for path in sorted(folder.parent.parent.parent.rglob("*"), reverse=True):
            path.unlink() if path.is_file() or path.is_symlink() else path.rmdir()


@pytest.fixture
def sysfs(tmp_path: Path) -> Sysfs:
    return Sysfs(tmp_path)


def remembered(sysfs: Sysfs) -> Memory:
    memory = Memory()
    memory.learn(ADDRESS, identity_of(ADDRESS, sysfs.root))
    assert memory.known(ADDRESS) is not None
    return memory


def test_what_is_known_of_a_usb_camera(sysfs: Sysfs) -> None:
    sysfs.plug("video0", "Boat Camera", "1-2", ("1d6b", "0104", "A17"))
    found = identity_of(ADDRESS, sysfs.root)
    assert found == Identity(name="Boat Camera", index="0", place="1-2:1.0", model="1d6b:0104", serial="A17")


def test_sightings_come_by_number(sysfs: Sysfs) -> None:
    for node in ("video10", "video2", "video0"):
        sysfs.plug(node, node, f"1-{node[5:]}")
    assert list(sightings(sysfs.root)) == ["/dev/video0", "/dev/video2", "/dev/video10"]


def test_no_devices_and_no_sysfs(tmp_path: Path, sysfs: Sysfs) -> None:
    assert sightings(sysfs.root) == {}
    assert sightings(tmp_path / "nothing") == {}
    assert identity_of(ADDRESS, tmp_path / "nothing") is None
    assert identity_of("/dev/not-there", sysfs.root) is None


def test_an_address_never_opened_is_taken_as_it_is(sysfs: Sysfs) -> None:
    assert Memory().resolve("/dev/video0", sysfs.root) == "/dev/video0"


def test_same_camera_same_number(sysfs: Sysfs) -> None:
    sysfs.plug("video0", "Boat Camera")
    assert remembered(sysfs).resolve(ADDRESS, sysfs.root) == ADDRESS


def test_same_camera_another_number(sysfs: Sysfs) -> None:
    sysfs.plug("video0", "Boat Camera", "1-2")
    memory = remembered(sysfs)
    sysfs.unplug("video0")
    sysfs.plug("video3", "Boat Camera", "1-2")
    assert memory.resolve(ADDRESS, sysfs.root) == "/dev/video3"


def test_with_a_serial_number_it_may_move_to_another_plug(sysfs: Sysfs) -> None:
    sysfs.plug("video0", "Boat Camera", "1-2", ("1d6b", "0104", "A17"))
    memory = remembered(sysfs)
    sysfs.unplug("video0")
    sysfs.plug("video0", "Other", "1-2")
    sysfs.plug("video1", "Boat Camera", "1-9", ("1d6b", "0104", "A17"))
    assert memory.resolve(ADDRESS, sysfs.root) == "/dev/video1"


def test_another_camera_in_its_place_is_refused_in_words(sysfs: Sysfs) -> None:
    sysfs.plug("video0", "Boat Camera", "1-2")
    memory = remembered(sysfs)
    sysfs.unplug("video0")
    sysfs.plug("video0", "Desk Camera", "1-2")
    with pytest.raises(
        FeedGone, match="Boat Camera is gone and another one, Desk Camera, has its number; it is not used"
    ):
        memory.resolve(ADDRESS, sysfs.root)


@pytest.mark.parametrize(
    "usb,port",
    [
        pytest.param(("1d6b", "0104", ""), "1-9", id="no serial, another plug"),
        pytest.param(("1d6b", "0104", "B22"), "1-2", id="another serial, same plug"),
    ],
)
def test_a_twin_is_refused_and_named(sysfs: Sysfs, usb: tuple[str, str, str], port: str) -> None:
    sysfs.plug("video0", "Boat Camera", "1-2", ("1d6b", "0104", usb[2] and "A17"))
    memory = remembered(sysfs)
    sysfs.unplug("video0")
    sysfs.plug("video5", "Boat Camera", port, usb)
    with pytest.raises(FeedGone, match=r"same model on another plug or with another serial.*open /dev/video5"):
        memory.resolve(ADDRESS, sysfs.root)


def test_simply_gone(sysfs: Sysfs) -> None:
    sysfs.plug("video0", "Boat Camera")
    memory = remembered(sysfs)
    sysfs.unplug("video0")
    with pytest.raises(FeedGone, match="the camera Boat Camera is gone; plug it in again"):
        memory.resolve(ADDRESS, sysfs.root)


def test_the_first_camera_stays_the_one_that_is_meant() -> None:
    memory = Memory()
    first = Identity(name="Boat Camera", index="0", place="1-2")
    memory.learn("/dev/video0", first)
    memory.learn("/dev/video0", Identity(name="Desk Camera", index="0", place="1-2"))
    memory.learn("/dev/video0", None)
    assert memory.known("/dev/video0") == first


def test_lasting_names_prefer_the_camera_to_the_plug(tmp_path: Path) -> None:
    target = tmp_path / "video0"
    target.touch()
    for kind, link in (("by-id", "usb-Boat_Camera_A17-video-index0"), ("by-path", "pci-0000:00-usb-0:2:1.0")):
        (tmp_path / "v4l" / kind).mkdir(parents=True)
        (tmp_path / "v4l" / kind / link).symlink_to(target)
    assert lasting_names(tmp_path) == {str(target): str(tmp_path / "v4l/by-id/usb-Boat_Camera_A17-video-index0")}
    assert lasting_names(tmp_path / "v4l") == {}


def test_this_machines_own_sysfs_can_be_read() -> None:
    assert isinstance(sightings(module.SYSFS), dict)
