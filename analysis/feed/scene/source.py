"""The rendered scene as a source of pictures."""

from __future__ import annotations

import math
import threading
from collections.abc import Mapping

import msgspec

from analysis.feed.clock import Clock, SystemClock
from analysis.feed.pool import FramePool
from analysis.feed.scene import query as scene_query
from analysis.feed.scene.renderer import Renderer
from analysis.feed.scene.truth import Truth
from analysis.feed.source import FeedOptions
from analysis.model.errors import FeedEnded
from analysis.model.feed import SourceKind
from analysis.model.frame import Picture
from analysis.model.instant import Instant

SCHEME = "scene:"


class SceneSource:
    """A rendered scene, paced by the clock when ``options.realtime``, otherwise as fast as it is read.

    Frame ``n`` belongs to the time ``n / rate``. A reader that is late gets the frame of
    now, not the next one: the source's own numbers show what was passed over, and scene
    time never drifts from the clock.

    >>> source = SceneSource("scene:boathouse", {"size": "64x36"}, FeedOptions(realtime=False), FramePool())
    >>> source.open()
    >>> [source.read().source_sequence for _ in range(3)]
    [0, 1, 2]
    >>> source.close()
    """

    kind: SourceKind = "scene"
    approximate = False

    def __init__(
        self,
        address_text: str,
        query: Mapping[str, str],
        options: FeedOptions,
        pool: FramePool,
        clock: Clock | None = None,
    ) -> None:
        """``address_text`` with or without its parameters, which come apart in ``query``.

        Raises UsageError for a scene, parameter or value that does not exist.
        """
        self.address = address_text
        name = address_text.removeprefix(SCHEME).partition("?")[0] or "boathouse"
        self.controls = scene_query.parse(name, query, options)
        self._stated = scene_query.stated(self.controls, query, options)
        self._options = options
        self._pool = pool
        self._clock = clock or SystemClock()
        self._closed = threading.Event()
        self._renderer: Renderer | None = None
        self._start: Instant | None = None
        self._next = 0

    def open(self) -> None:
        """Paint the scene; takes a fraction of a second for 1280x720."""
        renderer = Renderer(self.controls, self._pool)
        encoding = msgspec.structs.replace(renderer.format.encoding, **self._stated)
        renderer.format = msgspec.structs.replace(renderer.format, encoding=encoding)
        self._renderer = renderer

    def read(self) -> Picture:
        """The frame that is due. Raises FeedEnded once the source is closed."""
        renderer = self._renderer
        if renderer is None or self._closed.is_set():
            raise FeedEnded("the scene is closed", self.address)
        number = self._next
        if self._options.realtime:
            number = self._wait(number)
            if self._closed.is_set():
                raise FeedEnded("the scene is closed", self.address)
        self._next = number + 1
        return renderer.picture(self.controls.begin + number / self.controls.rate, number)

    def truth(self, picture: Picture) -> Truth:
        """What is true of a picture this source delivered."""
        if self._renderer is None or picture.source_seconds is None:
            raise FeedEnded("the scene is closed", self.address)
        return self._renderer.truth(picture.source_seconds)

    def close(self) -> None:
        """Stop; a reader that waits for its frame is released."""
        self._closed.set()
        self._renderer = None

    def _wait(self, number: int) -> int:
        """Wait until frame ``number`` is due; the number of the frame that is due then."""
        if self._start is None:
            self._start = self._clock.now()
        while not self._closed.is_set():
            since = self._clock.now().since(self._start)
            left = number / self.controls.rate - since
            if left <= 1e-6:
                return max(number, math.floor(since * self.controls.rate + 1e-6))
            self._clock.wait(self._closed, left)
        return number
