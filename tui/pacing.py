"""When the next frame may go to the terminal: end-to-end acknowledgement, a window and a byte cap.

Buffers between here and the terminal (a remote shell's channel, TCP, the multiplexer)
swallow megabytes long before anything is seen. So each frame ends with a question that
the terminal answers only when it has drawn everything before it, and only a few frames may
be on their way at once. Nothing here knows a terminal or a clock: times are handed in.
"""

from __future__ import annotations

from collections import deque

import msgspec

BYTES_PER_CELL = 5.0
"""Bytes a second and cell of the terminal that pictures may take it to: 24 kB/s at 120 x 40."""
ANSWER_DEADLINE = 3.0
"""Seconds after which an answer is taken as lost."""
WIDEST_WINDOW = 8.0
SLOW_DELAY = 0.25
"""Seconds from writing to drawn above which a person is told that the link is slow."""
_MARKS = 60
_MEMORY = 2.5


class LinkReport(msgspec.Struct, frozen=True, kw_only=True):
    """How the way to the terminal is doing over the last seconds.

    ``frames`` are those drawn a second, ``delay`` the longest and ``latest`` the last time in
    seconds from sending one to its being drawn (None: not known), ``rate`` bytes a second.
    """

    frames: float
    delay: float | None
    latest: float | None
    rate: float
    slow: bool


class Pacer:
    """Decides when a frame may be sent.

    ``cap`` is a limit in bytes a second, None for none. ``columns`` bounds the marks that
    can be told apart by the cursor report. Marks count 1, 2, ... and start over.

    >>> pacer = Pacer(columns=80)
    >>> mark = pacer.sent(0.0, 900), pacer.sent(0.0, 900)
    >>> pacer.ready(0.1), pacer.answered(1, 0.2, waiting=True), pacer.ready(0.2)
    (False, None, True)
    """

    def __init__(self, columns: int, cap: float | None = None) -> None:
        self.cap = cap
        self.answers: bool | None = None  # whether this terminal answers at all; None = not known yet
        self.window = 2.0
        self.delay: float | None = None
        self._least = ANSWER_DEADLINE
        self._flying: dict[int, float] = {}
        self._mark = 0
        self._credit = cap * 0.5 if cap else 0.0
        self._credited: float | None = None
        self._written: deque[tuple[float, int]] = deque(maxlen=512)
        self._drawn: deque[tuple[float, float]] = deque(maxlen=512)
        self.resize(columns)

    def resize(self, columns: int) -> None:
        """The terminal has another width: marks must fit in it."""
        self._marks = max(2, min(_MARKS, columns))

    @property
    def flying(self) -> int:
        """Frames sent and not yet answered."""
        return len(self._flying)

    def ready(self, now: float) -> bool:
        """Whether a frame written now would be on its way at once."""
        if self.cap:
            since = now if self._credited is None else self._credited
            self._credit = min(self.cap * 0.5, self._credit + (now - since) * self.cap)
            self._credited = now
            if self._credit < 0:
                return False
        self._expire(now)
        if self.answers is False:
            return True
        return len(self._flying) < min(int(self.window), self._marks - 1)

    def _expire(self, now: float) -> None:
        if self._flying and now - min(self._flying.values()) > ANSWER_DEADLINE:
            if self.answers is None:
                self.answers = False  # it never answered: the writer's own queue is all there is to go by
            if self.answers is False or now - max(self._flying.values()) > ANSWER_DEADLINE:
                self._flying.clear()

    def sent(self, now: float, size: int) -> int | None:
        """Account for a frame of ``size`` bytes; returns the mark to ask for, None when nobody answers."""
        self._written.append((now, size))
        if self.cap:
            self._credit -= size
        if self.answers is False:
            self._drawn.append((now, 0.0))
            return None
        self._mark = self._mark % self._marks + 1
        self._flying[self._mark] = now
        return self._mark

    def answered(self, mark: int, now: float, waiting: bool) -> None:
        """The terminal has drawn the frame of ``mark`` and all before it; ``waiting`` if another is due."""
        start = self._flying.pop(mark, None)
        if start is None:
            return
        self._flying = {other: at for other, at in self._flying.items() if at > start}
        self.answers = True
        self.delay = now - start
        self._drawn.append((now, self.delay))
        # The least delay seen is the link itself, what exceeds it is queueing. It drifts up
        # slowly so that a link that became longer is not taken for a full one for ever.
        self._least = min(self._least * 1.002, self.delay)
        if self.delay - self._least > 0.15 + 0.5 * self._least:
            self.window = max(1.0, self.window - 0.5)
        elif waiting:
            self.window = min(WIDEST_WINDOW, self.window + 0.25)

    def forget(self) -> None:
        """Nothing that was sent will be answered any more (the screen was left)."""
        self._flying.clear()

    def report(self, now: float) -> LinkReport:
        """How the link has done over the last seconds."""
        while self._written and now - self._written[0][0] > _MEMORY:
            self._written.popleft()
        while self._drawn and now - self._drawn[0][0] > _MEMORY:
            self._drawn.popleft()
        flying = now - min(self._flying.values(), default=now)
        latest = None if self.delay is None else max(self.delay, flying)
        delay = None if latest is None else max([latest, *(took for _, took in self._drawn)])
        rate = sum(size for _, size in self._written) / _MEMORY
        slow = (delay is not None and delay > SLOW_DELAY) or (self.cap is not None and rate > 0.8 * self.cap)
        return LinkReport(frames=len(self._drawn) / _MEMORY, delay=delay, latest=latest, rate=rate, slow=slow)


class PicturePace:
    """How often traces and pictures are drawn: as often as asked on a fast link, less on a slow one.

    Numbers and alarms are small and go out with every frame; the large parts wait until the
    link has shown that it keeps up, and until they fit in ``budget`` bytes a second (None: no
    budget). The gap grows by half when they do not and shrinks by a fifth when they do.

    >>> pace = PicturePace(rate=8)
    >>> [pace.due(at, delay=1.0) for at in (0.0, 0.125, 0.25, 0.375)]
    [True, True, False, True]
    """

    LONGEST = 2.0
    """Seconds: even on the slowest link the trace moves this often, if frames get through at all."""

    def __init__(self, rate: float) -> None:
        self._shortest = 1 / rate
        self.gap = self._shortest
        self._last: float | None = None

    def due(self, now: float, delay: float | None, sent: float = 0.0, budget: float | None = None) -> bool:
        """Whether to draw pictures now.

        ``delay`` is the link's last delay in seconds, None if not known; ``sent`` is what goes
        out at present, in bytes a second.
        """
        # A tick comes a little early or late: half a tick of tolerance keeps the rate as asked.
        if self._last is not None and now - self._last < self.gap - self._shortest / 2:
            return False
        slow = (delay is not None and delay > SLOW_DELAY) or (budget is not None and sent > budget)
        self.gap = min(self.LONGEST, self.gap * 1.5) if slow else max(self._shortest, self.gap * 0.8)
        self._last = now
        return True
