"""What a device offers: pixel formats, sizes and frame rates, asked of the driver."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

from analysis.feed.v4l2 import ioctls
from analysis.feed.v4l2.device import Device
from analysis.feed.v4l2.fourcc import NATIVE, code_of, text_of
from analysis.feed.v4l2.modes import Mode
from analysis.feed.v4l2.structures import FormatDescription, Fraction, FrameInterval, FrameSize

_MOST = 512
"""Entries asked of any list: a driver whose list never ends must not hang the program."""

# Tried on a device that scales or paces freely (the kernel's stepwise and continuous lists).
_USUAL_SIZES = ((3840, 2160), (1920, 1080), (1280, 720), (768, 576), (720, 576), (720, 480), (640, 480), (640, 360))
_USUAL_RATES = (60.0, 50.0, 30.0, 25.0, 24.0)

_Entry = TypeVar("_Entry")


def fourccs(device: Device) -> tuple[str, ...]:
    """Every pixel format offered, by its four letters. Raises OSError."""

    def entry(index: int) -> str | None:
        description = FormatDescription(index=index, type=device.buffer_type)
        return text_of(description.pixelformat) if device.may(ioctls.ENUM_FMT, description) else None

    return tuple(_all(entry))


def modes(device: Device) -> tuple[Mode, ...]:
    """Every format, size and rate offered on the input in use. Raises OSError.

    Formats this program cannot read are listed once, with no size: asking for theirs takes long on some drivers.
    An input with digital timings has the size and rate of the signal, whatever else the driver could scale it to:
    scaled codes are no longer the camera's.
    """
    connector = device.current_input()
    signal = device.timings() if connector is not None and connector.timings else None
    found: list[Mode] = []
    for fourcc in fourccs(device):
        if fourcc not in NATIVE:
            found.append(Mode(fourcc=fourcc, width=0, height=0))
        elif signal is not None:
            rates: tuple[float, ...] = () if signal.rate is None else (signal.rate,)
            found.append(Mode(fourcc=fourcc, width=signal.width, height=signal.height, rates=rates))
        else:
            for width, height in _sizes(device, fourcc):
                rates = _rates(device, fourcc, width, height)
                found.append(Mode(fourcc=fourcc, width=width, height=height, rates=rates))
    return tuple(found)


def _sizes(device: Device, fourcc: str) -> tuple[tuple[int, int], ...]:
    def entry(index: int) -> FrameSize | None:
        size = FrameSize(index=index, pixel_format=code_of(fourcc))
        return size if device.may(ioctls.ENUM_FRAMESIZES, size) else None

    listed: list[FrameSize] = []
    for size in _all(entry):
        listed.append(size)
        if size.type != ioctls.FRMSIZE_DISCRETE:
            return _sizes_within(size)
    if listed:
        return tuple((int(size.size.discrete[0]), int(size.size.discrete[1])) for size in listed)
    now = device.setting()
    return ((now.width, now.height),)


def _sizes_within(span: FrameSize) -> tuple[tuple[int, int], ...]:
    least_wide, most_wide, step_wide, least_high, most_high, step_high = (int(value) for value in span.size.stepwise)
    usual = tuple(
        (width, height)
        for width, height in _USUAL_SIZES
        if _reached(width, least_wide, most_wide, step_wide) and _reached(height, least_high, most_high, step_high)
    )
    return usual or ((most_wide, most_high),)


def _reached(value: int, least: int, most: int, step: int) -> bool:
    return least <= value <= most and (value - least) % max(step, 1) == 0


def _rates(device: Device, fourcc: str, width: int, height: int) -> tuple[float, ...]:
    def entry(index: int) -> FrameInterval | None:
        interval = FrameInterval(index=index, pixel_format=code_of(fourcc), width=width, height=height)
        return interval if device.may(ioctls.ENUM_FRAMEINTERVALS, interval) else None

    rates: set[float] = set()
    for interval in _all(entry):
        if interval.type != ioctls.FRMIVAL_DISCRETE:
            return _rates_within(interval)
        rate = rate_of(interval.interval.discrete)
        rates |= set() if rate is None else {rate}
    return tuple(sorted(rates, reverse=True))


def _rates_within(span: FrameInterval) -> tuple[float, ...]:
    fastest, slowest = rate_of(span.interval.stepwise[0]), rate_of(span.interval.stepwise[1])
    if fastest is None:
        return ()
    least = slowest or 0.0
    usual = {rate for rate in _USUAL_RATES if least <= rate <= fastest}
    return tuple(sorted(usual | {fastest}, reverse=True))


def rate_of(interval: Fraction) -> float | None:
    """Frames a second of a frame interval, None for one that says nothing."""
    if not interval.numerator or not interval.denominator:
        return None
    return round(float(interval.denominator) / float(interval.numerator), 3)


def _all(entry: Callable[[int], _Entry | None]) -> Iterator[_Entry]:
    for index in range(_MOST):
        found = entry(index)
        if found is None:
            return
        yield found
