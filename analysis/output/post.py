"""Each change of an alarm sent by HTTP POST to a server of the operator's, from a thread of its own."""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import socket
import ssl
import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Literal, TypeAlias

import msgspec

from analysis.model.alarm import AlarmChange
from analysis.model.errors import SettingsError
from analysis.model.feed import FeedEvent
from analysis.output.change_line import change_line, is_hidden
from analysis.output.post_address import PostAddress

Complaint: TypeAlias = Callable[[str], None]
Verdict = Literal["taken", "later", "never"]
AGAIN = frozenset({408, 425, 429})
"""Answers below 500 after which the same request may succeed later (RFC 9110 15.5.9, RFC 8470 5.2, RFC 6585 4)."""
_ANSWER_BYTES = 4096


class PostTiming(msgspec.Struct, frozen=True, kw_only=True):
    """Seconds, and how many wait.

    ``answer`` bounds each step of an attempt: connecting, the handshake, and the request with its answer. Pauses
    between attempts double from ``first_pause`` to ``longest_pause``; a server's Retry-After is heeded up to
    ``longest_asked``.
    """

    answer: float = 10.0
    first_pause: float = 1.0
    longest_pause: float = 60.0
    longest_asked: float = 300.0
    most_waiting: int = 256


class _Answer(msgspec.Struct, frozen=True, kw_only=True):
    verdict: Verdict
    words: str
    pause: float | None = None


class Post:
    """Sends changes in order, one at a time, again and again until they are taken.

    When the server cannot be reached they wait, at most ``most_waiting`` of them; beyond that the oldest are given
    up and counted. A refusal that will not change (4xx, a redirect) gives that change up. Certificates are always
    verified, against the system's authorities or those in ``authorities`` (a PEM file). ``token`` is sent as a
    Bearer authorization (RFC 6750) and never told. Each change carries the same Idempotency-Key in every attempt,
    so that a server can tell a repetition from a new change. Proxies of the environment are not used.

    An outage is one line when it begins and one when it is over. ``SettingsError`` for authorities that cannot
    be read, or a token that no header can hold.
    """

    def __init__(
        self,
        address: PostAddress,
        complain: Complaint,
        *,
        token: str | None = None,
        authorities: Path | None = None,
        timing: PostTiming | None = None,
    ) -> None:
        if token is not None and not (token.isascii() and token.isprintable() and token.strip()):
            raise SettingsError("the token is empty or holds characters that it cannot have", "post", "check its file")
        self._address, self._complain = address, complain
        self._timing = timing or PostTiming()
        self._authorization = f"Bearer {token}" if token else address.login
        self._context = verifying_context(authorities) if address.secure else None
        self._changed = threading.Condition()
        self._waiting: deque[tuple[str, bytes]] = deque()
        self._closing = False
        self._sending = False
        self._connection: http.client.HTTPConnection | None = None
        self._thread: threading.Thread | None = None
        self.sent = self.given_up = self.attempts = 0

    def alarm_changed(self, change: AlarmChange) -> None:
        """Take a change; returns at once. One that a shelf or suppression hides is not sent."""
        if is_hidden(change):
            return
        text = change_line(change)
        # Its time is part of it, so two changes never share a key; after a restart it is still the same.
        key = hashlib.sha256(text).hexdigest()[:32]
        with self._changed:
            if self._closing:
                return
            self._waiting.append((key, text))
            while len(self._waiting) > self._timing.most_waiting:
                self._waiting.popleft()
                self.given_up += 1
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="post", daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def feed_changed(self, event: FeedEvent) -> None:
        """Nothing: what matters of a feed is an alarm."""

    def wait(self, seconds: float) -> bool:
        """Wait until everything was taken or given up, at most ``seconds``; True when it was."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._waiting and not self._sending, seconds)

    def close(self, seconds: float = 1.5) -> None:
        """Take no more, give what waits ``seconds`` to be sent, and return whatever the server does."""
        self.wait(seconds)
        with self._changed:
            self._closing = True
            left = len(self._waiting) + self._sending
            self._waiting.clear()
            self._changed.notify_all()
            connection = self._connection
        _cut(connection)
        if left:
            self._complain(f"post {self._address.shown}: stopped before {left} changes were taken")

    def _work(self) -> None:
        pause, down = 0.0, False
        while (item := self._next(pause)) is not None:
            answer = self._attempt(*item)
            with self._changed:
                self._sending = False
                lost = self.given_up
                if answer.verdict == "later":
                    if not self._closing and len(self._waiting) < self._timing.most_waiting:
                        self._waiting.appendleft(item)
                    else:
                        self.given_up += 1
                else:
                    self.sent += answer.verdict == "taken"
                    self.given_up += answer.verdict == "never"
                closing, waiting = self._closing, len(self._waiting)
                self._changed.notify_all()
            if closing:
                return
            if answer.verdict == "later":
                if not down:
                    self._complain(f"post {self._address.shown}: {answer.words}; it is tried again, {waiting} waiting")
                down = True
                pause = min(max(2 * pause, self._timing.first_pause), self._timing.longest_pause)
                pause = max(pause, min(answer.pause or 0.0, self._timing.longest_asked))
                continue
            if answer.verdict == "never":
                self._complain(f"post {self._address.shown}: {answer.words}; that change is given up")
            elif down:
                self._complain(f"post {self._address.shown}: taken again, {waiting} waiting, {lost} given up so far")
            pause, down = 0.0, False

    def _next(self, pause: float) -> tuple[str, bytes] | None:
        """The oldest that waits, after a pause; None when it is time to end."""
        with self._changed:
            self._changed.wait_for(lambda: self._closing, pause)
            self._changed.wait_for(lambda: self._closing or self._waiting)
            if self._closing:
                return None
            self._sending = True
            return self._waiting.popleft()

    def _attempt(self, key: str, text: bytes) -> _Answer:
        self.attempts += 1
        connection = self._connect()
        # Connecting and the handshake have deadlines of their own; a server that drips its answer meets this one.
        alarm = threading.Timer(self._timing.answer, _cut, (connection,))
        alarm.daemon = True
        began = time.monotonic()
        try:
            connection.connect()
            alarm.start()
            connection.request("POST", self._address.target, body=text, headers=self._headers(key))
            response = connection.getresponse()
            response.read(_ANSWER_BYTES)
            return judged(response.status, response.getheader("Retry-After"))
        except (OSError, http.client.HTTPException, ValueError) as error:
            late = time.monotonic() - began >= self._timing.answer
            words = f"no answer within {self._timing.answer:g} s" if late else _told(error)
            return _Answer(verdict="later", words=words)
        finally:
            alarm.cancel()
            with self._changed:
                self._connection = None
            connection.close()

    def _connect(self) -> http.client.HTTPConnection:
        host, port, deadline = self._address.host, self._address.port, self._timing.answer
        connection: http.client.HTTPConnection
        if self._context is not None:
            connection = http.client.HTTPSConnection(host, port, timeout=deadline, context=self._context)
        else:
            connection = http.client.HTTPConnection(host, port, timeout=deadline)
        with self._changed:
            self._connection = connection
        return connection

    def _headers(self, key: str) -> dict[str, str]:
        headers = {"Content-Type": "application/json", "User-Agent": "stopkeeper", "Idempotency-Key": key}
        if self._authorization:
            headers["Authorization"] = self._authorization
        return headers


def judged(status: int, retry_after: str | None = None) -> _Answer:
    """What an HTTP status means for the change that was sent (RFC 9110 section 15).

    >>> [judged(status).verdict for status in (200, 204, 302, 401, 429, 503)]
    ['taken', 'taken', 'never', 'never', 'later', 'later']
    >>> judged(503, "20").pause
    20.0
    """
    if 200 <= status < 300:
        return _Answer(verdict="taken", words="taken")
    if 300 <= status < 400:
        # Following it would hand a login to whoever the answer names.
        return _Answer(verdict="never", words=f"the server answers {status} and names another address; set that one")
    if status >= 500 or status in AGAIN:
        pause = float(retry_after) if retry_after and retry_after.isascii() and retry_after.isdigit() else None
        return _Answer(verdict="later", words=f"the server answers {status}", pause=pause)
    hint = "; check the login or the token" if status in (401, 403) else ""
    return _Answer(verdict="never", words=f"the server refuses with {status}{hint}")


def verifying_context(authorities: Path | None) -> ssl.SSLContext:
    """TLS 1.2 or newer, certificate and host name verified; ``SettingsError`` for a file without certificates."""
    try:
        context = ssl.create_default_context(cafile=None if authorities is None else str(authorities))
    except OSError as error:
        what = "no certificates to be read there" if isinstance(error, ssl.SSLError) else str(error.strerror)
        raise SettingsError(what, str(authorities), "name a PEM file with the server's authority") from None
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def _cut(connection: http.client.HTTPConnection | None) -> None:
    """End whatever waits on a connection; safe from any thread and at any time."""
    sock = None if connection is None else connection.sock
    if sock is not None:
        # A TLS socket's own shutdown would take its state away under the thread that reads; this is the bare one.
        with contextlib.suppress(OSError):
            socket.socket.shutdown(sock, socket.SHUT_RDWR)


def _told(error: Exception) -> str:
    """A failure of the network in words that hold nothing of the request."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not trusted ({error.verify_message.rstrip('.')})"
    if isinstance(error, ssl.SSLError):
        return "no TLS connection could be made"
    if isinstance(error, TimeoutError):
        return "no answer in time"
    if isinstance(error, socket.gaierror):
        return "its name is not known"
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return "the answer is not HTTP" if isinstance(error, http.client.HTTPException) else "the connection broke"
