"""A real HTTP or HTTPS server on this machine that answers as a test tells it to, and the certificates for it."""

from __future__ import annotations

import http.server
import ssl
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

Answer = int | Callable[[http.server.BaseHTTPRequestHandler], object]


class Got(NamedTuple):
    path: str
    headers: dict[str, str]
    body: bytes


class Server:
    """Answers each POST with the next of ``answers`` (then 204); a callable answers by itself."""

    def __init__(self, *answers: Answer, tls: Path | None = None, port: int = 0) -> None:
        self.got: list[Got] = []
        self.times: list[float] = []
        self.headers: dict[str, str] = {}
        self._answers = list(answers)
        server = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                server.times.append(time.monotonic())
                server.got.append(Got(self.path, dict(self.headers), body))
                answer = server._answers.pop(0) if server._answers else 204
                if callable(answer):
                    answer(self)
                    return
                self.send_response(answer)
                for name, value in server.headers.items():
                    self.send_header(name, value)
                self.end_headers()

            def log_message(self, *_: object) -> None:
                pass

        class Quiet(http.server.ThreadingHTTPServer):
            def handle_error(self, *_: object) -> None:
                pass

        self._server = Quiet(("127.0.0.1", port), Handler)
        if tls is not None:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(tls / "server.pem", tls / "server.key")
            plain = self._server.socket
            self._server.socket = context.wrap_socket(plain, server_side=True, do_handshake_on_connect=False)
        self.port: int = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()


def certificates(folder: Path, name: str = "DNS:localhost,IP:127.0.0.1", days: int = 30) -> Path:
    """A self-signed certificate for this machine in ``folder``: server.pem and server.key."""
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        [
            "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-subj", "/CN=boathouse", "-addext", f"subjectAltName={name}", "-days", str(days),
            "-keyout", str(folder / "server.key"), "-out", str(folder / "server.pem"),
        ],
        check=True,
        capture_output=True,
        timeout=60,
    )  # fmt: skip
    return folder
