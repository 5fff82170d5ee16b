"""``stopkeeper sounds``: what each alarm sounds like, played and explained."""

from __future__ import annotations

import os
import sys
import textwrap
import wave
from pathlib import Path
from typing import TYPE_CHECKING

import click
import msgspec
import numpy as np

from analysis.model.errors import OutputError, StopkeeperError, UsageError
from analysis.output.sounds import PEAK, RATE, SoundDescription, describe, render
from analysis.settings.nearest import nearest
from tui.cli.say import say

if TYPE_CHECKING:
    from analysis.output.speaker import Speaker
    from analysis.settings.schema import AlarmSettings, SoundSettings

ALL = "all"
BETWEEN_SECONDS = 0.8
CAUTION = "These are alarms: keep earphones low before you play them."
SEVERAL = (
    "Many at once (four within two seconds, or more than ten in ten minutes) become one sound: the voice and strokes",
    "of the gravest of them, level. How many they are stands on the screen; those of priority 1 are always heard.",
)
_READY_SECONDS, _PLAY_SECONDS = 30.0, 10.0
"""The first is for a slow machine to start the sound process on; a device that hangs is given up much sooner."""


@click.command("sounds", epilog="Example: stopkeeper sounds --play highlights")
@click.argument("names", nargs=-1, metavar="[NAME]...")
@click.option(
    "--play", "play_name", metavar="NAME|all", help="Play the sound of this alarm, or of all, one after the other."
)
@click.option("--save", type=click.Path(path_type=Path), metavar="FILE.wav", help="Write the sounds to a WAV file.")
@click.option("--replace", is_flag=True, help="Let --save write over a file that is there.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line instead of words.")
@click.option("--device", metavar="NAME", help="Play on this sound device instead of the default one.")
@click.option(
    "--sound",
    type=click.Choice(["auto", "speakers", "bell"]),
    help="Where it is played, else as in your settings; auto takes the terminal's bell over SSH.",
)
@click.option("--config", type=click.Path(path_type=Path), metavar="FILE", help="Settings in TOML instead of your own.")
@click.option("--loudness", type=click.FloatRange(0.0, 1.0), default=1.0, metavar="PART", help="From 0 to 1 (1).")
def command(
    names: tuple[str, ...],
    play_name: str | None,
    save: Path | None,
    replace: bool,
    as_json: bool,
    device: str | None,
    sound: str | None,
    config: Path | None,
    loudness: float,
) -> None:
    """List the alarm sounds and what they mean, those of NAME or all, as your settings leave them.

    Rising pitch: too bright. Falling pitch: too dark. More and quicker strokes: more urgent. The voice tells what
    kind of thing is wrong. With --play it is played where a watch would play it: on this machine, or over SSH by the
    terminal's bell, which is the same for all. With --save it is written as 16 bit mono at 48 kHz.

    These are alarms: keep earphones low before you play them.
    """
    from tui.cli.options import settings_from

    settings = settings_from(config)
    chosen = chosen_sounds(names, settings.alarms)
    wanted = () if play_name in (None, ALL) else (play_name,)
    played = chosen_sounds(wanted, settings.alarms) if play_name is not None else ()
    if save is not None:
        save_sounds(save, chosen, loudness, replace=replace)
    if not played and save is None:
        for each in chosen:
            say(msgspec.json.encode(each) if as_json else words(each))
        if not as_json:
            if len(chosen) > 1:
                say(textwrap.fill(" ".join(SEVERAL), 80))
            say(CAUTION)
    if played:
        play(played, device, loudness, sound, settings.sound, as_json=as_json)


def chosen_sounds(names: tuple[str, ...], settings: AlarmSettings) -> tuple[SoundDescription, ...]:
    """The sounds of the named alarms as the settings leave them, in the order asked for; where none is named, all.

    An alarm that is turned off is told only by its name, and as it comes. UsageError for no such alarm.

    >>> from analysis.settings.schema import AlarmSettings
    >>> [sound.alarm for sound in chosen_sounds(("skin-low", "feed"), AlarmSettings())]
    ['skin-low', 'feed']
    """
    from analysis.settings.rules import alarm_rules

    sounding = {sound.alarm: sound for sound in describe(alarm_rules(settings))}
    known = {sound.alarm: sound for sound in describe()} | sounding
    for name in names:
        if name not in known:
            raise UsageError(f'no alarm "{name}"', "sounds", nearest(name, known))
    return tuple(known[name] for name in names) if names else tuple(sounding.values())


def words(sound: SoundDescription) -> str:
    """One sound for a person: what it means, what it sounds like, what to do."""
    head = f"{sound.alarm}  priority {sound.priority}: {sound.meaning}"
    rest = textwrap.wrap(f"{sound.sound}. To do: {sound.advice}.", 76)
    return "\n".join([head, *(f"    {line}" for line in rest)])


def play(
    sounds: tuple[SoundDescription, ...],
    device: str | None,
    loudness: float,
    mode: str | None,
    settings: SoundSettings,
    *,
    as_json: bool,
) -> None:
    """Play where a watch would: as asked, else as the settings say. OutputError where nothing can be played."""
    from analysis.output.choice import choose

    choice = choose(mode or ("speakers" if device else settings.outlet), os.environ)
    if choice.outlet == "off":
        raise OutputError(f"{choice.reason} in your settings", "sound", "add --sound speakers or --sound bell")
    if choice.outlet == "bell":
        ring_sounds(sounds, choice.reason, as_json=as_json)
    else:
        play_sounds(sounds, device or settings.device, loudness, as_json=as_json)


def ring_sounds(sounds: tuple[SoundDescription, ...], why: str, *, as_json: bool) -> None:
    """Ring the terminal's bell for each, as a watch does there for any alarm. OutputError without a terminal."""
    error = sys.stderr
    if error is None or not error.isatty():
        raise OutputError(f"no terminal to ring: {why}", "sound", "add --sound speakers")
    if not as_json:
        say(f"{why[0].upper()}{why[1:]}. It rings the same for every alarm; --sound speakers plays the sounds there.")
    for number, sound in enumerate(sounds):
        if number:
            _pause()
        say(msgspec.json.encode(sound) if as_json else words(sound))
        error.write("\a")
        error.flush()


def play_sounds(sounds: tuple[SoundDescription, ...], device: str | None, loudness: float, *, as_json: bool) -> None:
    """Play one after the other, telling each before it sounds. OutputError where nothing can be played."""
    from analysis.output.speaker import DEVICE_VARIABLE, Speaker

    if not as_json:
        say(CAUTION)
    speaker = Speaker(device=device or os.environ.get(DEVICE_VARIABLE) or None, loudness=loudness)
    try:
        if not speaker.wait_ready(_READY_SECONDS):
            raise OutputError(speaker.status().reason, "sound", "write the sounds to a file with --save FILE.wav")
        for number, sound in enumerate(sounds):
            if number:
                _pause()
            say(msgspec.json.encode(sound) if as_json else words(sound))
            _play(speaker, sound, number)
        _pause()  # the device has taken the end of the last one, and still has to sound it
    finally:
        speaker.close()


def _play(speaker: Speaker, sound: SoundDescription, number: int) -> None:
    import time

    from analysis.model.alarm import Announcement
    from analysis.model.instant import Instant

    ticket = speaker.play(
        Announcement(
            alarm=sound.alarm,
            occurrence=number + 1,
            kind=sound.kind,
            direction=sound.direction,
            priority=sound.priority,
            words=sound.meaning,
            at=Instant(time.monotonic(), time.time()),
        )
    )
    if ticket is None or speaker.wait(ticket, _PLAY_SECONDS) != "played":
        raise OutputError(f"{sound.alarm} was not heard: {speaker.status().reason}", "sound", "check the sound device")


def _pause() -> None:
    import time

    time.sleep(BETWEEN_SECONDS)


def save_sounds(path: Path, sounds: tuple[SoundDescription, ...], loudness: float, *, replace: bool = False) -> None:
    """Write sounds to a WAV file, 16 bit mono at 48 kHz, with silence between them.

    UsageError for a file that is there and must not be replaced, StopkeeperError where it cannot be written.
    """
    if path.exists() and not replace:
        raise UsageError("there is a file of that name", str(path), "choose another, or add --replace")
    silence = np.zeros(round(BETWEEN_SECONDS * RATE), np.float32)
    parts = []
    for sound in sounds:
        parts += [render(sound.kind, sound.direction, sound.priority, loudness=loudness).samples, silence]
    samples = np.round(np.concatenate(parts[:-1]) * 32767).astype("<i2")
    try:
        with path.open("wb") as file, wave.open(file, "wb") as written:
            written.setnchannels(1)
            written.setsampwidth(2)
            written.setframerate(RATE)
            written.writeframes(samples.tobytes())
    except OSError as error:
        raise StopkeeperError(error.strerror or "cannot be written", str(path), "choose another place") from None
    level = 20 * np.log10(max(loudness, 1e-3) * PEAK)
    say(f"{path}: {len(sounds)} sounds, {len(samples) / RATE:.1f} s, loudest sample at {level:.1f} dB of full scale")
