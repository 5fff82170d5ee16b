"""Handles of the kernel's virtual video driver (kernel documentation, "The Virtual Video Test Driver (vivid)")."""

from __future__ import annotations

import re
import subprocess
import time
from pathlib import Path

CAMERA = "/dev/video0"
OUTPUT = "/dev/video1"
WEBCAM, HDMI = 0, 3  # inputs of the driver's default configuration
BLACK, WHITE = 5, 6  # test patterns
LOADED = ("n_devs=2",)
DRIVER = Path("/sys/bus/platform/drivers/vivid")

AT_REST = (
    "osd_text_mode=2,test_pattern=0,colorspace=2,y_cbcr_encoding=0,quantization=0,percentage_of_dropped_buffers=0,"
    "timestamp_source=1"
)


def control(settings: str, node: str = CAMERA) -> None:
    """Set driver controls, ``name=value`` with commas between."""
    subprocess.run(["v4l2-ctl", "-d", node, "-c", settings], check=True, capture_output=True, timeout=60)


def command(*arguments: str, node: str = CAMERA) -> str:
    """Run v4l2-ctl on a node and return what it prints."""
    done = subprocess.run(["v4l2-ctl", "-d", node, *arguments], check=True, capture_output=True, text=True, timeout=60)
    return done.stdout


def choose_input(number: int, node: str = CAMERA) -> None:
    """Switch the capture node to one of its connectors."""
    command("-i", str(number), node=node)


def unplug() -> None:
    """Take the driver off its device: what a pulled plug does to every node."""
    (DRIVER / "unbind").write_text("vivid.0")


def plug() -> None:
    """Put the driver back and wait for its nodes."""
    (DRIVER / "bind").write_text("vivid.0")
    settle()


def put_right() -> None:
    """The driver on its device and the first camera under the first number, whatever went before."""
    if not (DRIVER / "vivid.0").exists():
        plug()
    name = Path("/sys/class/video4linux/video0/name")
    if not name.exists() or name.read_text().strip() != "vivid-000-vid-cap":
        reload(*LOADED)


def reload(*parameters: str) -> None:
    """Load the driver anew with other parameters. Nobody may hold a node."""
    subprocess.run(["modprobe", "-r", "vivid"], check=True, timeout=60)
    subprocess.run(["modprobe", "vivid", *parameters], check=True, timeout=60)
    settle()


def settle() -> None:
    """Wait until the nodes named in sysfs are in /dev."""
    limit = time.monotonic() + 20
    while time.monotonic() < limit:
        names = [path.name for path in Path("/sys/class/video4linux").glob("video*")]
        if names and all(Path("/dev", name).exists() for name in names):
            return
        time.sleep(0.05)
    raise TimeoutError("the driver's nodes did not appear")


def loop_hdmi() -> None:
    """Connect the driver's HDMI output to its HDMI input: one control up to kernel 6.10, a menu since 6.11."""
    listed = command("-L")
    if "loop_video" in listed:
        control("loop_video=1")
        return
    menu = listed.split("hdmi_000_0_is_connected_to", 1)[1]
    found = re.search(r"^\s+(\d+): .*HDMI 000", menu, re.MULTILINE)
    assert found, f"no HDMI output to connect to: {menu[:300]}"
    control(f"hdmi_000_0_is_connected_to={found.group(1)}")


def unloop_hdmi() -> None:
    """Back to the test picture."""
    control("loop_video=0" if "loop_video" in command("-l") else "hdmi_000_0_is_connected_to=0")
