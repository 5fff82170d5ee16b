"""A small Debian machine with systemd as its first process, in QEMU, spoken to over its second serial port.

The kernel is that of ``rig.sh``; the rest is made by debootstrap, once, and kept beside it. The program is installed
from its wheel into /opt/stopkeeper as the unit file in configs/ expects it. Everything is emulated (TCG): it is slow.
"""

from __future__ import annotations

import base64
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
KEPT = Path(os.environ.get("RIG_CACHE", Path.home() / ".cache" / "stopkeeper-device"))
PACKAGES = (
    "systemd,systemd-sysv,udev,dbus,python3-venv,libportaudio2,ca-certificates,kmod,openssl,procps,v4l-utils,libgl1,"
    "libglib2.0-0"
)
MODULES = ("virtio_pci", "virtio_blk", "ext4")
DEVICES = ("vivid", "snd-aloop")
BOOT_SECONDS = 180.0
_END = re.compile(r"@@(\d+) (\d+)@@\r?\n")

# What the guest's shell on the second port is: a unit, since systemd is to be seen doing everything.
_SHELL = """\
[Unit]
Description=a shell for the test
After=basic.target
[Service]
ExecStart=/bin/sh /root/answering
StandardInput=tty-force
StandardOutput=tty
StandardError=tty
TTYPath=/dev/ttyS1
Restart=always
[Install]
WantedBy=multi-user.target
"""
# Every line is a number and a shell text in base64; what it prints is followed by that number
# and the exit code.
_ANSWERING = """\
export SYSTEMD_COLORS=0 SYSTEMD_URLIFY=0 SYSTEMD_PAGER= TERM=dumb
stty raw -echo
while read -r number line; do
  (eval "$(echo "$line" | base64 -d)") 2>&1 </dev/null
  echo "@@$number $?@@"
done
"""
_INIT = """\
#!/bin/busybox sh
b=/bin/busybox
$b mount -t proc p /proc; $b mount -t sysfs s /sys; $b mount -t devtmpfs d /dev
for name in $($b cat /modules/order); do $b insmod "/modules/$name"; done
for again in 1 2 3 4 5 6 7 8 9; do [ -b /dev/vda ] && break; $b sleep 1; done
$b mount -t ext4 /dev/vda /new
$b umount /proc /sys
exec $b switch_root /new /sbin/init
"""


def _run(*command: str | Path, **more: object) -> str:
    done = subprocess.run([str(word) for word in command], capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload]
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, command))}: {(done.stderr or done.stdout).strip()[-800:]}")
    return str(done.stdout)


def needs() -> str | None:
    """What is missing here, in words; None when the machine can be made."""
    if os.geteuid() != 0:
        return "it must be run by root (debootstrap)"
    programs = ("qemu-system-x86_64", "debootstrap", "mke2fs", "busybox", "cpio", "chroot", "depmod")
    missing = [name for name in programs if shutil.which(name) is None]
    if missing:
        return f"not installed: {', '.join(missing)}"
    if sys.version_info[:2] != (3, 11):
        return f"the guest is Debian 12 with Python 3.11, and this is {sys.version.split()[0]}; use a venv of 3.11"
    return None


class Machine:
    """One guest with its disk; ``out`` holds the disk, the console's log and the socket's link."""

    def __init__(self, out: Path) -> None:
        self._out, self._image = out, out / "disk"
        self._initrd = out / "initrd.img"
        # The path of a socket may be a hundred characters long at most.
        self._sockets = Path(tempfile.mkdtemp())
        self._process: subprocess.Popen[bytes] | None = None
        self._line: socket.socket | None = None
        self._said, self._asked = b"", 0

    def make(self) -> None:
        """Make the disk: Debian, the program, the unit file. Takes minutes the first time."""
        modules = _kernel(self._out) / "lib" / "modules"
        base = KEPT / "systemd-root"
        if not (base / "complete").exists():
            shutil.rmtree(base, ignore_errors=True)
            mirror = os.environ.get("RIG_MIRROR", "http://deb.debian.org/debian")
            _run("debootstrap", "--variant=minbase", f"--include={PACKAGES}", "bookworm", base, mirror)
            (base / "complete").touch()
        root = self._out / "root"
        shutil.rmtree(root, ignore_errors=True)
        _run("cp", "-a", "--reflink=auto", base, root)
        self._install(root)
        version = next(modules.iterdir()).name
        _copy_modules(modules.parent.parent, version, root, DEVICES)
        (root / "etc/modules-load.d/devices.conf").write_text("vivid\nsnd-aloop\n")
        (root / "etc/modprobe.d/devices.conf").write_text("options vivid n_devs=1\n")
        (root / "etc/systemd/system/tester.service").write_text(_SHELL)
        (root / "root/answering").write_text(_ANSWERING)
        _run("chroot", root, "systemctl", "enable", "tester.service")
        for unit in ("systemd-timesyncd", "apt-daily.timer", "apt-daily-upgrade.timer", "e2scrub_all.timer"):
            subprocess.run(["chroot", root, "systemctl", "mask", unit], check=False, capture_output=True)
        (root / "etc/fstab").write_text("/dev/vda / ext4 rw,errors=remount-ro 0 1\n")
        (root / "etc/hostname").write_text("boathouse\n")
        (root / "etc/hosts").write_text("127.0.0.1 localhost\n")
        self._image.unlink(missing_ok=True)
        _run("mke2fs", "-q", "-t", "ext4", "-d", root, self._image, "5G")
        shutil.rmtree(root)
        self._ramdisk(modules.parent.parent, version)

    def _install(self, root: Path) -> None:
        """The program as its user would install it: its wheel into a venv, the unit where its head says."""
        wheels = root / "opt" / "wheels"
        _run(sys.executable, "-m", "pip", "wheel", "-q", "-w", wheels, ROOT, cwd=self._out)
        _run("chroot", root, "python3", "-m", "venv", "/opt/stopkeeper")
        pip = ("/opt/stopkeeper/bin/pip", "install", "-q", "--no-index", "--find-links", "/opt/wheels", "stopkeeper")
        _run("chroot", root, *pip)
        shutil.rmtree(wheels)
        (root / "usr/local/bin/stopkeeper").symlink_to("/opt/stopkeeper/bin/stopkeeper")
        unit = ROOT / "configs" / "stopkeeper-guard.service"
        _run("install", "-m", "644", unit, root / "etc/systemd/system")

    def _ramdisk(self, kernel: Path, version: str) -> None:
        folder = self._out / "ram"
        shutil.rmtree(folder, ignore_errors=True)
        for name in ("bin", "modules", "proc", "sys", "dev", "new"):
            (folder / name).mkdir(parents=True)
        shutil.copy(str(shutil.which("busybox")), folder / "bin" / "busybox")
        order = []
        for file in _needed(kernel, version, MODULES):
            shutil.copy(file, folder / "modules")
            order.append(file.name)
        (folder / "modules" / "order").write_text("\n".join(order))
        (folder / "init").write_text(_INIT)
        (folder / "init").chmod(0o755)
        packed = f"cd '{folder}' && find . | cpio -o -H newc --quiet > '{self._initrd}'"
        _run("sh", "-c", packed)
        shutil.rmtree(folder)

    def start(self) -> float:
        """Switch it on and wait for its shell; how many seconds that took."""
        begun = time.monotonic()
        door = self._sockets / "shell"
        door.unlink(missing_ok=True)
        (kernel,) = (KEPT / "root" / "boot").glob("vmlinuz-*")
        command = [
            "qemu-system-x86_64", "-accel", "tcg", "-cpu", "max", "-smp", "2", "-m", "1536", "-nodefaults",
            "-display", "none", "-monitor", "none", "-kernel", str(kernel), "-initrd", str(self._initrd),
            "-append", "console=ttyS0 quiet mitigations=off loglevel=3 systemd.show_status=false",
            "-chardev", f"file,id=console,path={self._out / 'console'},append=on", "-serial", "chardev:console",
            "-chardev", f"socket,id=shell,path={door},server=on,wait=off", "-serial", "chardev:shell",
            "-drive", f"file={self._image},format=raw,if=virtio,cache=writeback",
        ]  # fmt: skip
        self._process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stderr=subprocess.STDOUT)
        while not door.exists():
            time.sleep(0.1)
            self._alive()
        self._line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._line.connect(str(door))
        self._await_shell(BOOT_SECONDS)
        return time.monotonic() - begun

    def _await_shell(self, seconds: float) -> None:
        """Ask until the shell answers: what is sent before it runs is lost."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            try:
                if self.run("echo here", 6.0) == "here":
                    return
            except TimeoutError:
                pass
            self._said = b""
            self._alive()
        raise TimeoutError(f"no shell within {seconds:.0f} s; see {self._out / 'console'}")

    def run(self, text: str, seconds: float = 120.0, *, fail: bool = False) -> str:
        """Run a shell text there; what it printed. RuntimeError when ``fail`` and its exit code is not 0."""
        assert self._line is not None
        self._asked += 1
        self._line.sendall(f"{self._asked} {base64.b64encode(text.encode()).decode()}\n".encode())
        deadline = time.monotonic() + seconds
        while True:
            said = self._said.decode(errors="replace")
            ended = _END.search(said)
            if ended is not None:
                self._said = said[ended.end() :].encode()
                if int(ended[1]) == self._asked:
                    break
                continue  # the answer to something that nobody waits for any more
            self._line.settimeout(max(deadline - time.monotonic(), 0.01))
            try:
                more = self._line.recv(65_536)
            except TimeoutError:
                raise TimeoutError(f"no answer in {seconds:.0f} s to: {text} [{said[-300:]}]") from None
            if not more:
                raise RuntimeError("the machine is gone")
            self._said += more
        told = said[: ended.start()].replace("\r\n", "\n").strip("\n")
        if fail and ended[2] != "0":
            raise RuntimeError(f"{text}: exit code {ended[2]}: {told}")
        return told

    def until(self, text: str, wanted: str, seconds: float, every: float = 1.0) -> str:
        """Run a shell text again and again until what it prints matches; AssertionError when it never does."""
        deadline = time.monotonic() + seconds
        while True:
            told = self.run(text)
            if re.search(wanted, told):
                return told
            if time.monotonic() > deadline:
                raise AssertionError(f"never matched {wanted!r} in {seconds:.0f} s: {text}\n{told[-1500:]}")
            time.sleep(every)

    def reboot(self, seconds: float = BOOT_SECONDS) -> None:
        """Restart it in order and wait for its shell."""
        assert self._line is not None
        before = self.run("cat /proc/sys/kernel/random/boot_id")
        self.run("systemctl reboot --no-block")
        deadline = time.monotonic() + seconds
        while True:
            time.sleep(3.0)
            self._said = b""
            self._await_shell(seconds)
            if self.run("cat /proc/sys/kernel/random/boot_id") != before:
                return
            assert time.monotonic() < deadline, "it did not restart"

    def cut(self) -> None:
        """Take its power away."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None
        if self._line is not None:
            self._line.close()
            self._line = None
        self._said = b""

    def close(self) -> None:
        """End it and take the sockets away; disk and logs stay."""
        self.cut()
        shutil.rmtree(self._sockets)

    def _alive(self) -> None:
        if self._process is not None and self._process.poll() is not None:
            raise RuntimeError(f"QEMU ended with {self._process.returncode}")


def _kernel(out: Path) -> Path:
    """The kernel that rig.sh unpacks; it is asked to, where it has not."""
    if not (KEPT / "complete").exists():
        done = subprocess.run(["bash", str(Path(__file__).with_name("rig.sh")), str(out / "rig"), "true"], check=False)
        if done.returncode:
            raise RuntimeError("rig.sh could not unpack the kernel")
    return KEPT / "root"


def _needed(kernel: Path, version: str, names: tuple[str, ...]) -> list[Path]:
    """The files of these modules and of what they need, in the order in which they are to be loaded."""
    found: dict[Path, None] = {}
    for name in names:
        for line in _run("modprobe", "-d", kernel, "-S", version, "--show-depends", name).splitlines():
            words = line.split()
            if words and words[0] == "insmod":
                found[Path(words[1])] = None
    return list(found)


def _copy_modules(kernel: Path, version: str, root: Path, names: tuple[str, ...]) -> None:
    base = kernel / "lib" / "modules" / version
    target = root / "usr" / "lib" / "modules" / version
    target.mkdir(parents=True, exist_ok=True)
    for name in ("modules.order", "modules.builtin", "modules.builtin.modinfo"):
        shutil.copy(base / name, target)
    for file in _needed(kernel, version, names):
        inside = file.resolve().relative_to(base.resolve())
        (target / inside).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(file, target / inside)
    _run("depmod", "-b", root, version)
