"""What can be configured. Every key has a default; units are in the key's name or its comment."""

from __future__ import annotations

from typing import Literal

import msgspec

from analysis.model.frame import Matrix, Range
from analysis.settings.aim_settings import Aims
from analysis.settings.guard_settings import GuardSettings

Glyphs = Literal["auto", "braille", "blocks", "shade", "ascii"]
Colours = Literal["auto", "full", "256", "16", "mono"]
Viewing = Literal["auto", "signal", "table"]
SoundChoice = Literal["auto", "speakers", "bell", "off"]
SpeechWish = Literal["auto", "off", "asked", "alarms"]
NotifyWish = Literal["auto", "off", "osc9", "osc777", "osc99"]


class FeedSettings(msgspec.Struct, frozen=True, kw_only=True):
    """Where pictures come from and how their codes are to be understood; None leaves it to the feed."""

    address: str | None = None
    width: int | None = None
    height: int | None = None
    rate: float | None = None
    layout: str | None = None
    curve: str | None = None
    range: Range | None = None
    matrix: Matrix | None = None
    open_seconds: float | None = None
    read_seconds: float | None = None


class MeterChoices(msgspec.Struct, frozen=True, kw_only=True):
    """What is measured, and what counts as clipped and crushed (IRE; None takes the encoding's own).

    ``camera`` names a profile that ``characterise`` saved: its clip level counts, unless ``clip_percent`` says
    another. ``ends`` looks for the camera's ceiling and floor in the picture; ``tolerance`` is ``off``, ``sample`` (an
    estimate) or ``exact`` (every pixel).
    """

    clip_percent: float | None = None
    crush_percent: float | None = None
    camera: str | None = None
    active_picture: bool = True
    ends: bool = True
    noise: bool = True
    flicker: bool = True
    tolerance: Literal["off", "sample", "exact"] = "sample"


class AlarmLimits(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm: off or on, its limit and clear level in the alarm's unit, delays in seconds, priority 1 to 3.

    ``latching`` keeps it until it is reset; ``repeat`` is after how many seconds it is heard again
    while nobody acknowledged it, 0 for never. After ``often`` rises in a row, each at most ``calm`` seconds
    after it had returned (or one within a tenth of it), it stays until it has been calm for that long; ``often`` 0
    tells every rise.
    ``words`` are shown and spoken, ``advice`` says in one line what to do.
    """

    enabled: bool = True
    limit: float | None = None
    clear: float | None = None
    on_delay: float | None = None
    off_delay: float | None = None
    priority: int | None = None
    self_clearing: bool | None = None
    latching: bool | None = None
    repeat: float | None = None
    often: int | None = None
    calm: float | None = None
    words: str | None = None
    advice: str | None = None


class AlarmSettings(msgspec.Struct, frozen=True, kw_only=True, rename="kebab"):
    """The alarms by name, written with a hyphen (``[alarms.skin-low]``); a key left out keeps the alarm's own default.

    >>> AlarmSettings(skin_low=AlarmLimits(limit=0.3)).of("skin-low").limit
    0.3
    """

    feed: AlarmLimits = AlarmLimits()
    highlights: AlarmLimits = AlarmLimits()
    shadows: AlarmLimits = AlarmLimits()
    skin_clipped: AlarmLimits = AlarmLimits()
    spot_clipped: AlarmLimits = AlarmLimits()
    one_channel: AlarmLimits = AlarmLimits()
    headroom: AlarmLimits = AlarmLimits()
    skin_high: AlarmLimits = AlarmLimits()
    skin_low: AlarmLimits = AlarmLimits()
    spot_high: AlarmLimits = AlarmLimits()
    spot_low: AlarmLimits = AlarmLimits()
    drift_up: AlarmLimits = AlarmLimits()
    drift_down: AlarmLimits = AlarmLimits()
    flicker: AlarmLimits = AlarmLimits()
    noise: AlarmLimits = AlarmLimits()
    dark: AlarmLimits = AlarmLimits()
    frozen: AlarmLimits = AlarmLimits()
    reshaped: AlarmLimits = AlarmLimits()
    disk_full: AlarmLimits = AlarmLimits()
    disk: AlarmLimits = AlarmLimits()
    disk_hours: AlarmLimits = AlarmLimits()

    def of(self, alarm: str) -> AlarmLimits:
        """What is set for an alarm of that name."""
        limits: AlarmLimits = getattr(self, alarm.replace("-", "_"))
        return limits


class SitterSettings(msgspec.Struct, frozen=True, kw_only=True):
    """Whether faces are looked for, and an ONNX model of the YuNet kind in place of the one that came along."""

    find: bool = True
    model: str | None = None


class SoundSettings(msgspec.Struct, frozen=True, kw_only=True):
    """Where alarms are heard, on which device (by name), and how long a mute lasts (minutes).

    ``speech`` is what is spoken where espeak-ng is installed: ``alarms`` and what is asked for, only what is ``asked``
    for, or nothing; ``auto`` speaks alarms where they sound from this machine's speakers. ``notify`` is the form of
    notification sent to the terminal; ``auto`` sends them while its bell is what is heard.
    """

    outlet: SoundChoice = "auto"
    device: str | None = None
    mute_minutes: float = 10.0
    speech: SpeechWish = "auto"
    notify: NotifyWish = "auto"


class ScreenSettings(msgspec.Struct, frozen=True, kw_only=True):
    """How the screen draws: glyph set, colours, updates a second, most bytes a second (None: no limit), mouse.

    ``viewing`` is how the small picture is shown: ``auto`` through the transform of its curve, ``signal`` as the
    codes are, ``table`` through the look-up table named by ``table`` (.cube, or .clf with the extra ``luts``).
    """

    glyphs: Glyphs = "auto"
    colours: Colours = "auto"
    rate: float = 8.0
    max_rate: float | None = None
    mouse: bool = True
    viewing: Viewing = "auto"
    table: str | None = None


class JournalSettings(msgspec.Struct, frozen=True, kw_only=True):
    """Whether what happens is kept, and in which file (None: in the operator's state folder)."""

    keep: bool = True
    path: str | None = None


class PlanSettings(msgspec.Struct, frozen=True, kw_only=True):
    """What plans are made with. ``controls`` is the file that says what is set on the camera and what may move."""

    controls: str | None = None


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """The whole configuration.

    >>> Settings().sound.outlet
    'auto'
    """

    feed: FeedSettings = FeedSettings()
    meter: MeterChoices = MeterChoices()
    alarms: AlarmSettings = AlarmSettings()
    sound: SoundSettings = SoundSettings()
    screen: ScreenSettings = ScreenSettings()
    sitter: SitterSettings = SitterSettings()
    guard: GuardSettings = GuardSettings()
    journal: JournalSettings = JournalSettings()
    plan: PlanSettings = PlanSettings()
    aims: Aims = {}
