"""``stopkeeper feeds``: what could be watched on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click
import msgspec

from tui.cli.say import say

if TYPE_CHECKING:
    from analysis.feed.devices import DeviceInfo, OfferedFormat, OfferedSize


@click.command("feeds", epilog="Example: stopkeeper feeds --json")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line for each device.")
def command(as_json: bool) -> None:
    """List capture devices with their formats, sizes and rates, and the other kinds of feed."""
    from analysis.feed.devices import list_devices

    devices = list_devices()
    if as_json:
        for device in devices:
            say(msgspec.json.encode(device))
        return
    if not devices:
        say("No capture device found. Plug one in, or check that you may read /dev/video*.")
    for device in devices:
        say("\n".join(words(device)))
    say("Also: scene:boathouse, a file, rtsp:// udp:// tcp:// http:// rtp://, raw: for standard input.")


def words(device: DeviceInfo) -> list[str]:
    """The lines that describe one device to a person.

    >>> from analysis.feed.devices import DeviceInfo
    >>> words(DeviceInfo(path="/dev/video0", identity="/dev/video0", name="Shore camera", note="busy"))
    ['/dev/video0  Shore camera', '  cannot be used now: busy']
    """
    lines = [f"{device.path}  {device.name}" + (f"  ({device.bus})" if device.bus else "")]
    if device.identity != device.path:
        lines.append(f"  lasting name: {device.identity}")
    for item in device.inputs:
        lines.append(f"  input {item.name}: {item.status}" + (", in use" if item.in_use else ""))
    lines += [f"  {_format(item)}" for item in device.formats]
    if device.note:
        lines.append(f"  cannot be used now: {device.note}")
    return lines


def _format(item: OfferedFormat) -> str:
    name = item.layout or "cannot be read by this program"
    return f"{item.fourcc} ({name}): " + ("; ".join(_size(size) for size in item.sizes) or "no sizes listed")


def _size(size: OfferedSize) -> str:
    rates = ", ".join(f"{rate:g}" for rate in size.rates)
    return f"{size.width}x{size.height}" + (f" at {rates} fps" if rates else "")
