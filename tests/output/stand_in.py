"""Modules that stand where the sound process looks for sounddevice; the process itself is the real one."""

from __future__ import annotations

import os
from pathlib import Path

ERROR = "class PortAudioError(Exception): pass\n"
DESK = (
    ERROR + "DESK = {'name': 'the desk', 'index': 0, 'max_output_channels': 2, 'default_samplerate': 44100.0}\n"
    "def query_devices(device=None, kind=None): return DESK if kind else [DESK]\n"
)
NO_LIBRARY = "raise OSError('PortAudio library not found')"
NO_PACKAGE = "raise ModuleNotFoundError('sounddevice')"
NO_DEVICE = ERROR + "def query_devices(device=None, kind=None): return []"
BUSY = DESK + "def OutputStream(**given): raise PortAudioError('Device unavailable')"
ENDED = DESK + (
    "class OutputStream:\n    active = False\n    def __init__(self, **given): pass\n    def start(self): pass\n"
)
WILL_NOT_START = ENDED.replace("def start(self): pass", "def start(self): raise PortAudioError('no such\\n  luck')")
NEVER_OPENS = "import time\ntime.sleep(600)"


def playing(calls: int, rates: tuple[int, ...] = (48000, 44100), noise: str = "") -> str:
    """A device that asks for samples ``calls`` times, a hundredth of a second apart, then no more."""
    return DESK + (
        f"import os, threading, time, numpy\n{noise}\n"
        "class OutputStream:\n"
        "    active = True\n"
        "    def __init__(self, samplerate, channels, callback, **given):\n"
        f"        if samplerate not in {rates}: raise PortAudioError('Invalid sample rate')\n"
        "        self.channels, self.callback = channels, callback\n"
        "    def start(self): threading.Thread(target=self.run, daemon=True).start()\n"
        "    def run(self):\n"
        f"        for _ in range({calls}):\n"
        "            self.callback(numpy.zeros((1024, self.channels), 'float32'), 1024, None, None)\n"
        "            time.sleep(0.01)\n"
    )


def looking_first_in(folder: Path) -> dict[str, str]:
    """This process's environment, with a folder to be searched for modules before all others."""
    before = os.environ.get("PYTHONPATH")
    return dict(os.environ) | {"PYTHONPATH": os.pathsep.join([str(folder), *([before] if before else [])])}
