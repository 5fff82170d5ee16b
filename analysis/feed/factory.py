"""From an address to a source. Heavy libraries are imported only by the kind that needs them."""

from __future__ import annotations

from typing import assert_never

from analysis.feed.address import Address
from analysis.feed.clock import Clock
from analysis.feed.pool import FramePool
from analysis.feed.source import FeedOptions, Source
from analysis.model.feed import SourceKind


def make_source(address: Address, options: FeedOptions, pool: FramePool, clock: Clock) -> Source:
    """A new, unopened source for an address. Raises UsageError where the address asks for what cannot be."""
    match address.kind:
        case "scene":
            from analysis.feed.scene.source import SceneSource

            return SceneSource(f"scene:{address.target}", address.query, options, pool, clock)
        case "v4l2":
            from analysis.feed.v4l2.source import V4L2Source

            return V4L2Source(address.target, options, pool)
        case "device":
            from analysis.feed.opencv import OpenCvSource

            return OpenCvSource(address.masked, options, pool)
        case "file":
            from analysis.feed.file import FileSource

            return FileSource(address, options, pool, clock)
        case "stream":
            from analysis.feed.stream import StreamSource

            return StreamSource(address, options, pool, clock)
        case "pipe":
            from analysis.feed.pipe import PipeSource

            return PipeSource(address, options, pool)
        case "faulty":
            return _faulty(address, options, pool, clock)
    assert_never(address.kind)


def kind_of(address: Address) -> SourceKind:
    """What kind of source an address will be, as far as that shows before it is opened.

    >>> from analysis.feed.address import parse_address
    >>> kind_of(parse_address("/dev/video0")), kind_of(parse_address("raw:y4m"))
    ('camera', 'pipe')
    """
    match address.kind:
        case "scene":
            return "scene"
        case "faulty":
            from analysis.feed.faulty import fault_from

            return fault_from(address.query, address.masked)[1]
        case "v4l2" | "device":
            return "camera"
        case "file":
            return "file"
        case "stream":
            return "network"
        case "pipe":
            return "pipe"
    assert_never(address.kind)


def _faulty(address: Address, options: FeedOptions, pool: FramePool, clock: Clock) -> Source:
    from analysis.feed.faulty import FaultySource, fault_from

    fault, kind, rest = fault_from(address.query, address.masked)
    scene = Address(kind="scene", target=address.target, masked=f"scene:{address.target}", query=rest)
    return FaultySource(make_source(scene, options, pool, clock), (fault,), address.masked, clock, kind)
