"""Runs the guard under a real systemd, as configs/stopkeeper-guard.service has it, and gives it trouble.

``python -m tests.device.under_systemd OUTDIR [TRIAL...]``, as root, with a Python 3.11 and the packages debootstrap,
qemu-system-x86, busybox-static, cpio, kmod and e2fsprogs: about fifteen minutes and 6 GB. The camera is the kernel's
virtual one (vivid), the sound card snd-aloop. Without TRIAL all are made, in their order.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.device.systemd_machine import Machine, needs

UNIT = "stopkeeper-guard"
STATE = "/var/lib/stopkeeper"
WATCHDOG_SECONDS, STOP_SECONDS, RESTART_SECONDS = 30.0, 10.0, 5.0
START_SECONDS = 120.0
"""For a program that starts in an emulated processor; a real one takes a second."""
WHITE, BARS = 6, 0

SETTINGS = f"""\
[feed]
width = 320
height = 180
[sitter]
find = false
[guard]
hook = ["/usr/local/bin/page-me", "two words"]
post = "https://localhost:8443/alarms"
post_authorities = "/etc/stopkeeper/authorities.pem"
post_token_file = "/run/credentials/{UNIT}.service/post-token"
"""
HOOK = f"""\
#!/bin/sh
[ "$#" = 1 ] && [ "$1" = "two words" ] || exit 3
cat >> {STATE}/hooked
"""
SERVER = """\
import http.server, ssl
class Desk(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        with open("/root/posted", "ab") as kept:
            kept.write(body)
        self.send_response(204 if self.headers["Authorization"] == "Bearer hornbeam-41" else 401)
        self.end_headers()
    def log_message(self, *_):
        pass
server = http.server.ThreadingHTTPServer(("localhost", 8443), Desk)
context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain("/root/server.pem", "/root/server.key")
server.socket = context.wrap_socket(server.socket, server_side=True)
server.serve_forever()
"""
SERVER_UNIT = """\
[Service]
ExecStart=/usr/bin/python3 /root/server.py
[Install]
WantedBy=multi-user.target
"""
DROP_IN = """\
[Service]
LoadCredential=post-token:/etc/stopkeeper/post-token
"""


class Trials:
    """One machine, and what is tried on it; every trial raises AssertionError or gives its figures in words."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine

    # What is asked of the machine again and again.

    def lines(self, since: str = "", what: str = "") -> list[dict[str, Any]]:
        """The service's entries in the journal, of the program itself, with ``what`` in them."""
        after = f"--after-cursor='{since}'" if since else "-b"
        told = self.machine.run(f"journalctl -u {UNIT} {after} -o json --no-pager")
        found = [json.loads(line) for line in told.splitlines() if line.startswith("{")]
        return [each for each in found if each.get("_COMM") == "stopkeeper" and what in str(each["MESSAGE"])]

    def mark(self) -> str:
        """A place in the journal, for ``lines``: of the service too, or journalctl passes over its next entry."""
        told = self.machine.run(f"journalctl --sync; journalctl -u {UNIT} -n 1 -o json --no-pager")
        return str(json.loads(told)["__CURSOR"])

    def show(self, name: str) -> str:
        """A property of the service."""
        return self.machine.run(f"systemctl show {UNIT} -p {name} --value")

    def told(self, since: str, what: str, seconds: float = 60.0) -> dict[str, Any]:
        """Wait for a line with ``what`` in it."""
        deadline = time.monotonic() + seconds
        while not (found := self.lines(since, what)):
            assert time.monotonic() < deadline, f"never told: {what}; {[each['MESSAGE'] for each in self.lines(since)]}"
            time.sleep(1.0)
        return found[0]

    def pattern(self, number: int) -> None:
        """The picture that the camera shows: its white ends just below 100 IRE and is lifted; little text over it."""
        lift = 180 if number == WHITE else 128
        asked = f"osd_text_mode=1,test_pattern={number},brightness={lift}"
        self.machine.run(f"v4l2-ctl -d /dev/video0 -c {asked}", fail=True)

    def live(self, seconds: float = START_SECONDS) -> None:
        """Wait until it is up and its feed too."""
        self.machine.until(f"systemctl is-active {UNIT}", "^active", seconds)
        self.machine.until(f"systemctl show {UNIT} -p StatusText", ": (live|still) at", seconds)

    def files(self) -> None:
        """What an operator writes to their machine, once."""
        run = self.machine.run
        run("mkdir -p /etc/stopkeeper /root", fail=True)
        for path, text in {
            "/etc/stopkeeper/settings.toml": SETTINGS, "/usr/local/bin/page-me": HOOK, "/root/server.py": SERVER,
            "/etc/systemd/system/desk.service": SERVER_UNIT, "/etc/stopkeeper/post-token": "hornbeam-41\n",
            f"/etc/systemd/system/{UNIT}.service.d/token.conf": DROP_IN,
        }.items():  # fmt: skip
            run(f"mkdir -p {Path(path).parent}; cat > {path} <<'END_OF_FILE'\n{text}END_OF_FILE", fail=True)
        run("chmod 755 /usr/local/bin/page-me; chmod 600 /etc/stopkeeper/post-token", fail=True)
        run(
            "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -subj /CN=boathouse -days 30 "
            "-addext subjectAltName=DNS:localhost -keyout /root/server.key -out /root/server.pem && "
            "cp /root/server.pem /etc/stopkeeper/authorities.pem && systemctl daemon-reload && "
            "systemctl enable --now desk.service",
            fail=True,
        )

    def alarms(self, name: str, seconds: float) -> None:
        """Wait until the status of the service names an alarm."""
        self.machine.until(f"systemctl show {UNIT} -p StatusText", f"alarms: .*{name}", seconds)

    # The trials, in their order.

    def verified(self) -> str:
        """Systemd understands every line of the unit."""
        told = self.machine.run(f"systemd-analyze verify {UNIT}.service", fail=True)
        assert told == "", told
        exposure = self.machine.run(f"systemd-analyze security {UNIT}.service --no-pager | tail -1")
        return exposure.removeprefix("→ ")

    def started(self) -> str:
        """``systemctl start`` returns when it watches, and signs of life arrive."""
        self.pattern(BARS)
        begun = time.monotonic()
        self.machine.run(f"systemctl start {UNIT}", START_SECONDS, fail=True)
        took = time.monotonic() - begun
        assert self.show("ActiveState") == "active" and self.show("StatusText").startswith("watching /dev/video0: ")
        self.live()
        first = int(self.show("WatchdogTimestampMonotonic"))
        time.sleep(WATCHDOG_SECONDS / 2)
        second = int(self.show("WatchdogTimestampMonotonic"))
        assert second > first > 0, "no sign of life arrived"
        return f"ready after {took:.0f} s (emulated), {self.show('TasksCurrent')} tasks, {self.show('StatusText')}"

    def unprivileged(self) -> str:
        """It is a user of its own, and its journal lies where that user may write; root can read it meanwhile."""
        user = self.machine.run(f"ps -o user= -p {self.show('MainPID')}")
        assert user not in {"", "root"}, user
        listed = self.machine.run(f"ls -l {STATE}/", fail=True)
        assert "journal.db" in listed, listed
        history = self.machine.run(f"stopkeeper history --journal {STATE}/journal.db", START_SECONDS, fail=True)
        assert "feed" in history, history
        assert self.machine.run(f"ls -ln {STATE}/ | awk 'NR > 1 {{print $3}}' | sort -u | wc -l") == "1", "other owners"
        return f"user {user}, {len(history.splitlines())} lines of history"

    def alarmed(self) -> str:
        """An alarm comes as a warning in the journal, as JSON to the hook, and by HTTPS to a server with a token."""
        since = self.mark()
        self.pattern(WHITE)
        line = self.told(since, "ALARM highlights")
        assert line["PRIORITY"] == "4", line
        self.machine.until(f"cat {STATE}/hooked", '"alarm":"highlights"', 60.0)
        self.machine.until("cat /root/posted", '"alarm":"highlights"', 60.0)
        hooked, posted = (
            [json.loads(each) for each in self.machine.run(f"cat {path}").splitlines()]
            for path in (f"{STATE}/hooked", "/root/posted")
        )
        keys = ["alarm", "occurrence", "from", "to", "priority", "reason", "at", "seconds"]
        assert all(list(each) == keys for each in (*hooked, *posted)), (hooked, posted)
        assert next(each for each in hooked if each["alarm"] == "highlights") in posted
        self.pattern(BARS)
        self.told(since, "ALARM highlights 1: active-unacknowledged to normal")
        assert not self.lines(since, "hook"), "the hook failed"
        return f"{len(hooked)} by the hook, {len(posted)} by POST"

    def feed_lost(self) -> str:
        """A camera that goes is an error in the journal; it comes back by itself, and its alarm waits."""
        since = self.mark()
        self.machine.run("echo vivid.0 > /sys/bus/platform/drivers/vivid/unbind", fail=True)
        line = self.told(since, "ALARM feed")
        assert line["PRIORITY"] == "3", line
        assert self.show("ActiveState") == "active"
        self.machine.run("echo vivid.0 > /sys/bus/platform/drivers/vivid/bind", fail=True)
        self.told(since, "FEED live")
        self.told(since, "to returned-unacknowledged")
        return str(line["MESSAGE"]).partition("; ")[2]

    def killed(self) -> str:
        """Killed, it is started again and takes up the alarms as they were; none is raised a second time."""
        self.live()
        self.pattern(BARS)
        time.sleep(15.0)
        before = self.show("StatusText").partition("alarms: ")[2]
        assert "feed" in before, f"needs an alarm that waits: {before}"
        pid, since, begun = self.show("MainPID"), self.mark(), time.monotonic()
        self.machine.run(f"kill -9 {pid}", fail=True)
        self.machine.until(f"systemctl show {UNIT} -p MainPID --value", rf"^(?!{pid}$|0$)", 60.0)
        self.live()
        took = time.monotonic() - begun
        after = self.show("StatusText").partition("alarms: ")[2]
        assert set(before.split(", ")) <= set(after.split(", ")), (before, after)
        again = [each["MESSAGE"] for each in self.lines(since, "ALARM feed")]
        assert not again, again
        return f"back after {took:.0f} s with {after}"

    def hung(self) -> str:
        """Its main process stands still and says nothing any more: systemd ends it and starts it again."""
        pid, begun = self.show("MainPID"), time.monotonic()
        self.machine.run(f"kill -STOP {pid}", fail=True)
        limit = WATCHDOG_SECONDS + STOP_SECONDS + RESTART_SECONDS + START_SECONDS
        self.machine.until(f"systemctl show {UNIT} -p MainPID --value", rf"^(?!{pid}$|0$)", limit)
        took = time.monotonic() - begun
        self.live()
        told = self.machine.run(f"journalctl -b -u {UNIT} --no-pager | grep -i 'watchdog timeout' | tail -1")
        assert "Watchdog timeout" in told, told
        return f"a new process after {took:.0f} s"

    def clock_stepped(self) -> str:
        """The machine's clock jumps a day ahead and back: no alarm comes or goes by that, the feed stays."""
        self.live()
        time.sleep(15.0)
        since, pid = self.mark(), self.show("MainPID")
        for step in ("+1 day", "-2 days", "+1 day"):
            self.machine.run(f"date -s '{step}'", fail=True)
            time.sleep(12.0)
        told = [each["MESSAGE"] for each in self.lines(since)]
        wrong = [line for line in told if "ALARM" in line or "FEED" in line or "stands still" in line]
        assert not wrong, wrong
        assert self.show("ActiveState") == "active" and self.show("MainPID") == pid
        return f"{len(told)} other lines: {told}"

    def disk_filled(self) -> str:
        """A full disk is an alarm; the guard goes on, and so does what it keeps when there is room again."""
        since, pid = self.mark(), self.show("MainPID")
        self.machine.run(
            "fallocate -l $(( $(stat -f -c %a / ) * $(stat -f -c %S /) - 4000000 )) /root/full; "
            "dd if=/dev/zero of=/root/more bs=64k; true",
            300.0,
        )
        # The machine's own journal may be without room as well, so systemd is asked until there is some again.
        try:
            self.alarms("disk-full", 90.0)
            self.pattern(WHITE)
            self.alarms("highlights", 60.0)  # alarms go on
            time.sleep(10.0)
        finally:
            self.machine.run("rm /root/full /root/more")
            self.pattern(BARS)
        self.told(since, "ALARM disk-full 1: active-unacknowledged to", 120.0)
        said = [str(each["MESSAGE"]) for each in self.lines(since) if "ALARM" not in str(each["MESSAGE"])]
        assert self.show("MainPID") == pid, "it was started anew"
        return f"besides alarms: {said}"

    def silent_machine(self) -> str:
        """Without a sound card it guards all the same and says where alarms are heard; nothing is an error."""
        self.machine.run(f"systemctl stop {UNIT}; modprobe -r snd-aloop", fail=True)
        since = self.mark()
        self.machine.run(f"systemctl start {UNIT}", START_SECONDS, fail=True)
        self.live()
        line = self.told(since, "SOUND")
        assert line["PRIORITY"] == "6", line
        time.sleep(10.0)
        loud = [each["MESSAGE"] for each in self.lines(since) if int(each["PRIORITY"]) <= 4]
        assert not [each for each in loud if "ALARM" not in each], loud
        self.machine.run("modprobe snd-aloop", fail=True)
        return str(line["MESSAGE"])

    def stopped(self) -> str:
        """``systemctl stop`` ends it in time, as a success, with nothing left behind."""
        begun = time.monotonic()
        self.machine.run(f"systemctl stop {UNIT}", fail=True)
        took = time.monotonic() - begun
        assert took < STOP_SECONDS and self.show("Result") == "success", (took, self.show("Result"))
        assert self.show("TasksCurrent") == "[not set]"
        return f"{took:.1f} s, result success"

    def rebooted(self) -> str:
        """Enabled, it is back after a restart and after a power cut, with the alarms as they were."""
        self.machine.run(f"systemctl enable --now {UNIT}", START_SECONDS, fail=True)
        self.live()
        before = self.show("StatusText").partition("alarms: ")[2]
        self.machine.reboot()
        self.live()
        assert "feed" in self.show("StatusText"), self.show("StatusText")
        self.machine.run("sync")
        time.sleep(3.0)
        self.machine.cut()
        self.machine.start()
        self.live()
        after = self.show("StatusText").partition("alarms: ")[2]
        assert "feed" in after, after
        return f"alarms before: {before}; after both: {after}"


ORDER: tuple[Callable[[Trials], str], ...] = (
    Trials.verified, Trials.started, Trials.unprivileged, Trials.alarmed, Trials.feed_lost, Trials.killed, Trials.hung,
    Trials.clock_stepped, Trials.disk_filled, Trials.silent_machine, Trials.stopped, Trials.rebooted,
)  # fmt: skip


def main() -> int:
    """Make the machine and every trial; 0 when all held, 77 when it cannot be done here."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("out", type=Path)
    asked.add_argument("trials", nargs="*", metavar="TRIAL", help=", ".join(trial.__name__ for trial in ORDER))
    given = asked.parse_args()
    if unknown := set(given.trials) - {trial.__name__ for trial in ORDER}:
        asked.error(f"no trial {', '.join(sorted(unknown))}")
    missing = needs()
    if missing is not None:
        print(f"under_systemd: skipped: {missing}", file=sys.stderr)
        return 77
    given.out.mkdir(parents=True, exist_ok=True)
    machine, failed = Machine(given.out.resolve()), 0
    try:
        machine.make()
        print(f"up after {machine.start():.0f} s: {machine.run('systemctl --version | head -1')}", flush=True)
        trials = Trials(machine)
        trials.files()
        for trial in ORDER:
            if given.trials and trial.__name__ not in given.trials:
                continue
            try:
                print(f"held    {trial.__name__}: {trial(trials)}", flush=True)
            except (AssertionError, TimeoutError, RuntimeError) as error:
                failed += 1
                print(f"FAILED  {trial.__name__}: {error}", flush=True)
        (given.out / "journal").write_text(machine.run("journalctl -o short-precise --no-pager"))
    finally:
        machine.close()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
