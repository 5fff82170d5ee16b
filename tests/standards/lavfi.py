"""Pictures drawn by FFmpeg's own generators, and FFmpeg's own statistics of a picture, through PyAV."""

from __future__ import annotations

from fractions import Fraction

import av
import av.filter
import numpy as np

from analysis.model.frame import Frame
from analysis.signal.layouts import LAYOUTS, plane_shapes
from tests.measure import plain


def drawn(generator: str, layout: str, width: int = 1920, height: int = 1080, matrix: str = "bt709") -> Frame:
    """One frame of a generator such as ``smptehdbars``, in this layout, narrow range."""
    graph = av.filter.Graph()
    source = graph.add(generator, f"s={width}x{height}:r=25:d=1")
    into, sink = graph.add("format", f"pix_fmts={layout}"), graph.add("buffersink")
    source.link_to(into)
    into.link_to(sink)
    graph.configure()
    picture = graph.pull()
    how = LAYOUTS[layout]
    planes = []
    for plane, (rows, samples) in zip(picture.planes, plane_shapes(how, width, height), strict=True):
        lines = np.frombuffer(plane, how.dtype).reshape(rows, plane.line_size // how.dtype.itemsize)
        planes.append(lines[:, :samples].copy())
    return plain.frame_of(tuple(planes), layout, width, height, "narrow", matrix)


def statistics(frame: Frame) -> dict[str, float]:
    """What FFmpeg's signalstats says of a planar Y'CbCr frame: YMIN, YLOW, YAVG, YHIGH, YMAX and more, in codes."""
    shape = frame.format
    picture = av.VideoFrame(shape.width, shape.height, shape.layout)
    for plane, target in zip(frame.planes, picture.planes, strict=True):
        lines = np.zeros((plane.shape[0], target.line_size // plane.itemsize), plane.dtype)
        lines[:, : plane.shape[1]] = plane
        target.update(lines.tobytes())
    graph = av.filter.Graph()
    source = graph.add_buffer(width=shape.width, height=shape.height, format=picture.format, time_base=Fraction(1, 25))
    stats, sink = graph.add("signalstats"), graph.add("buffersink")
    source.link_to(stats)
    stats.link_to(sink)
    graph.configure()
    picture.pts = 0
    graph.push(picture)
    found = graph.pull().metadata
    return {key.rsplit(".", 1)[1]: float(value) for key, value in found.items()}
