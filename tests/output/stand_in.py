"""Modules that stand where the sound process looks for sounddevice; the process itself is the real one."""

from __future__ import annotations

import os
from pathlib import Path

ERROR = """
class PortAudioError(Exception): pass
_initialized = 1
def _initialize():
    global _initialized
    _initialized += 1
def _terminate():
    global _initialized
    _initialized -= 1
"""
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
    "    def abort(self): pass\n    def close(self): pass\n"
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
        "        self.channels, self.callback, self.over = channels, callback, False\n"
        "    def abort(self): self.over = True\n    def close(self): pass\n"
        "    def start(self): threading.Thread(target=self.run, daemon=True).start()\n"
        "    def run(self):\n"
        f"        for _ in range({calls}):\n"
        "            if self.over: return\n"
        "            self.callback(numpy.zeros((1024, self.channels), 'float32'), 1024, None, None)\n"
        "            time.sleep(0.01)\n"
    )


def coming_and_going(folder: Path) -> str:
    """A device that is found only while ``plug`` is in the folder, and only when PortAudio begins, as in truth.

    It takes sound only while ``plug`` is there. With a file ``hang`` in the folder nothing of PortAudio returns.
    What was called stands in the file ``calls``.
    """
    return playing(1_000_000) + (
        f"HERE = {str(folder)!r}\n"
        "def called(what):\n"
        "    open(os.path.join(HERE, 'calls'), 'a').write(what + ' ')\n"
        "    while os.path.exists(os.path.join(HERE, 'hang')): time.sleep(0.05)\n"
        "def plugged(): return os.path.exists(os.path.join(HERE, 'plug'))\n"
        "def _initialize():\n"
        "    global _initialized, found\n"
        "    called('begin')\n"
        "    _initialized, found = _initialized + 1, plugged()\n"
        "def _terminate():\n"
        "    global _initialized\n"
        "    called('end')\n"
        "    _initialized -= 1\n"
        "def query_devices(device=None, kind=None):\n"
        "    if kind and not found: raise PortAudioError('Error querying device -1')\n"
        "    return DESK if kind else [DESK] if found else []\n"
        "class OutputStream(OutputStream):\n"
        "    def abort(self):\n"
        "        called('abort')\n"
        "        super().abort()\n"
        "    def run(self):\n"
        "        while not self.over:\n"
        "            if plugged(): self.callback(numpy.zeros((1024, self.channels), 'float32'), 1024, None, None)\n"
        "            time.sleep(0.01)\n"
        "_initialized = 0\n"
        "_initialize()\n"
    )


def looking_first_in(folder: Path) -> dict[str, str]:
    """This process's environment, with a folder to be searched for modules before all others."""
    before = os.environ.get("PYTHONPATH")
    return dict(os.environ) | {"PYTHONPATH": os.pathsep.join([str(folder), *([before] if before else [])])}
