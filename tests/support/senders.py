"""Real senders on the loopback: encoders in processes of their own, and a small HTTP server."""

from __future__ import annotations

import io
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import av

from tests.support.clips import av_frame, smooth


def free_port(kind: int = socket.SOCK_STREAM) -> int:
    """A port that was free a moment ago; RTP needs it even, with the next one free too."""
    # Linux hands out ports of one parity only, so the neighbour is tried as well.
    for _ in range(50):
        with socket.socket(socket.AF_INET, kind) as probe, suppress(OSError):
            probe.bind(("127.0.0.1", 0))
            even = int(probe.getsockname()[1]) & ~1
            if even == probe.getsockname()[1]:
                return even
            with socket.socket(socket.AF_INET, kind) as neighbour:
                neighbour.bind(("127.0.0.1", even))
                return even
    raise RuntimeError("no free port")


class Sender:
    """Encodes a moving picture in a process of its own until stopped; tries until somebody listens.

    Never a thread: PyAV holds the interpreter while a muxer talks to its peer, so a sender and a
    receiver in one process wait for each other for ever.
    """

    def __init__(self, url: str, container: str, *, codec: str = "mpeg2video", transport: str = "") -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.support.senders", url, container, codec, transport],
            cwd=Path(__file__).parents[2],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def __enter__(self) -> Sender:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.wait(10)

    def stall(self) -> None:
        """Fall silent without hanging up."""
        self._process.send_signal(signal.SIGSTOP)


def send(url: str, container: str, codec: str, transport: str, rate: int = 50) -> None:
    """Send for half a minute at most."""
    paint = smooth(160, 120)
    output = av.open(url, "w", format=container, options={"rtsp_transport": transport} if transport else {})
    # A short group: whoever comes late waits for a key frame.
    options = {"g": "5", "bf": "0", **({"tune": "zerolatency"} if codec == "libx264" else {})}
    stream = output.add_stream(codec, rate=rate, options=options)
    stream.width, stream.height, stream.pix_fmt = 160, 120, "yuv420p"
    for number in range(30 * rate):
        frame = av_frame("yuv420p", 160, 120, paint(number))
        frame.pts = number
        for packet in stream.encode(frame):
            output.mux(packet)
        time.sleep(1 / rate)


def main() -> None:
    """Send, beginning again while nobody listens."""
    end = time.monotonic() + 30
    while time.monotonic() < end:
        with suppress(OSError, av.FFmpegError):
            send(*sys.argv[1:5])
            return
        time.sleep(0.03)


def jpeg(number: int) -> bytes:
    """One JPEG picture."""
    target = io.BytesIO()
    with av.open(target, "w", format="mjpeg") as output:
        stream = output.add_stream("mjpeg", rate=25)
        stream.width, stream.height, stream.pix_fmt = 160, 120, "yuvj420p"
        for packet in stream.encode(av_frame("yuvj420p", 160, 120, smooth(160, 120)(number))):
            output.mux(packet)
        for packet in stream.encode():
            output.mux(packet)
    return target.getvalue()


class _Handler(BaseHTTPRequestHandler):
    server: Any

    def do_GET(self) -> None:
        path = self.path.partition("?")[0]
        self.server.asked.append(self.path)
        if path == "/live":
            self._live()
        elif path == "/silent":
            self.send_response(200)
            self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=--edge")
            self.end_headers()
            self.wfile.flush()
            self.server.stop.wait(20)
        elif path in self.server.files:
            body = self.server.files[path]
            self.send_response(200)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)
        else:
            self.send_error({"/login": 401, "/never": 403, "/broken": 500, "/often": 429}.get(path, 404))

    def _live(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=edge")
        self.end_headers()
        pictures = [jpeg(number) for number in range(4)]
        number = 0
        with suppress(OSError):
            while not self.server.stop.wait(0.02) and not (self.server.end_after and number >= self.server.end_after):
                body = pictures[number % 4]
                head = f"--edge\r\nContent-Type: image/jpeg\r\nContent-Length: {len(body)}\r\n\r\n"
                self.wfile.write(head.encode() + body + b"\r\n")
                number += 1

    def log_message(self, *_: object) -> None:
        return


@contextmanager
def http_server(files: dict[str, bytes] | None = None, end_after: int = 0) -> Iterator[tuple[str, Any]]:
    """A server with ``/live`` (multipart JPEG), ``/silent``, files, and paths that refuse."""
    server: Any = ThreadingHTTPServer(("127.0.0.1", 0), _Handler)
    server.daemon_threads = True
    server.files, server.end_after, server.stop, server.asked = files or {}, end_after, threading.Event(), []
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield f"127.0.0.1:{server.server_address[1]}", server
    finally:
        server.stop.set()
        server.shutdown()
        server.server_close()
        thread.join(5)


if __name__ == "__main__":
    main()
