"""Small clips with known codes, encoded without loss by PyAV."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import av
import numpy as np

from analysis.signal.layouts import layout, plane_shapes


def codes(name: str, width: int, height: int, number: int) -> list[np.ndarray]:
    """Planes of every legal code in a random order, the same for the same number."""
    how = layout(name)
    dice = np.random.default_rng(number)
    planes = []
    for size in plane_shapes(how, width, height):
        planes.append((dice.integers(0, 1 << how.depth, size).astype(how.dtype) << how.shift).astype(how.dtype))
    return planes


def av_frame(name: str, width: int, height: int, planes: list[np.ndarray]) -> av.VideoFrame:
    """A PyAV frame that holds exactly these planes, whatever line padding FFmpeg chose."""
    frame = av.VideoFrame(width, height, name)
    for target, plane in zip(frame.planes, planes, strict=False):
        rows = np.ascontiguousarray(plane).view(np.uint8).reshape(plane.shape[0], -1)
        padded = np.full((rows.shape[0], target.line_size), 0xAB, np.uint8)
        padded[:, : rows.shape[1]] = rows
        target.update(padded.tobytes().ljust(target.buffer_size, b"\0"))
    return frame


def write_clip(
    path: Path | str,
    name: str,
    codec: str,
    *,
    container: str | None = None,
    width: int = 64,
    height: int = 48,
    frames: int = 5,
    rate: int = 25,
    options: dict[str, str] | None = None,
    paint: Any = None,
    **context: Any,
) -> None:
    """Encode ``frames`` pictures; ``context`` sets fields of the codec context (colour tags, bit rate)."""
    with av.open(str(path), "w", format=container) as output:
        stream = output.add_stream(codec, rate=rate, options=options or {})
        stream.width, stream.height, stream.pix_fmt = width, height, name
        for key, value in context.items():
            setattr(stream.codec_context, key, value)
        for number in range(frames):
            planes = paint(number) if paint else codes(name, width, height, number)
            frame = av_frame(name, width, height, planes)
            frame.pts = number
            for key in ("color_range", "colorspace", "color_trc"):
                if key in context:
                    setattr(frame, key, context[key])
            for packet in stream.encode(frame):
                output.mux(packet)
        for packet in stream.encode():
            output.mux(packet)


def smooth(width: int = 320, height: int = 240):
    """A soft moving picture in yuv420p, which lossy codecs keep well."""

    def paint(number: int) -> list[np.ndarray]:
        x = np.arange(width)[None, :] + np.arange(height)[:, None] + 7 * number
        luma = (125 + 80 * np.sin(x / 40.0)).astype(np.uint8)
        half = (-(-height // 2), -(-width // 2))
        return [luma, np.full(half, 110, np.uint8), np.full(half, 140, np.uint8)]

    return paint
