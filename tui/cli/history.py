"""``stopkeeper history``: what happened, from the journal, as lines for a person or a program."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from analysis.model.errors import UsageError
from analysis.settings.schema import Settings
from tui.cli.options import settings_from
from tui.cli.say import say

if TYPE_CHECKING:
    from analysis.journal.entry import JournalEntry
    from analysis.journal.rate import AlarmRate

MOST = 100_000
RATE_HOURS = 24.0
_LEAST_HOURS = 1 / 6
"""Of less watching an hourly rate says nothing: one alarm in a minute is not sixty an hour."""


@click.command("history", epilog="Example: stopkeeper history --alarm highlights --last 20")
@click.option("--alarm", metavar="NAME", help="Only what happened to this alarm.")
@click.option("--last", type=click.IntRange(1, MOST), default=50, metavar="N", help="The newest N entries (50).")
@click.option(
    "--hours",
    type=click.FloatRange(min=0, min_open=True),
    default=RATE_HOURS,
    metavar="H",
    help="Count alarms per hour over the last H hours (24).",
)
@click.option("--journal", type=click.Path(path_type=Path), metavar="FILE", help="Another journal than your own.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line; the last one holds the rate.")
@click.option(
    "--config", type=click.Path(path_type=Path), metavar="FILE", help="Settings in TOML instead of your own file."
)
def command(
    alarm: str | None, last: int, hours: float, journal: Path | None, as_json: bool, config: Path | None
) -> None:
    """Print what happened, oldest first, with local times, and how often alarms rose.

    It may run beside a watch; it never keeps the one that writes waiting. With --json each entry has sequence, session,
    kind and at (RFC 3339, UTC); those of alarms also alarm, occurrence, from, to, priority, reason and seconds; those
    of turns their own kind as turn, and amounts in stops.
    """
    from analysis.journal.rate import alarm_rate
    from analysis.journal.read import history

    settings = settings_from(config)
    path = journal or journal_path(settings)
    if alarm is not None:
        known_alarm(alarm, settings)
    entries = history(path, last, kind=None if alarm is None else "alarm", subject=alarm)
    now = time.time()
    for entry in entries:
        say(msgspec.json.encode(entry_object(entry)) if as_json else entry_line(entry, now))
    rate = alarm_rate(path, now - hours * 3600, now)
    if as_json:
        say(msgspec.json.encode({"kind": "rate", "asked_hours": hours, **msgspec.to_builtins(rate)}))
        return
    if not entries:
        say("nothing has happened" if alarm is None else f"nothing has happened to {alarm}")
    say(rate_words(rate, hours))


def journal_path(settings: Settings) -> Path:
    """Where the operator's journal lies."""
    from analysis.journal.place import default_path

    kept = settings.journal.path
    return Path(kept).expanduser() if kept else default_path(os.environ)


def known_alarm(name: str, settings: Settings) -> None:
    """UsageError with the nearest name for an alarm that does not exist."""
    from analysis.settings.nearest import nearest
    from analysis.settings.rules import alarm_rules

    names = [rule.name for rule in alarm_rules(settings.alarms)]
    if name not in names:
        raise UsageError(f'no alarm "{name}"', "--alarm", nearest(name, names))


def entry_line(entry: JournalEntry, now: float) -> str:
    """One entry for a person."""
    from tui.journal_words import ago, entry_words, time_of_day

    words = entry_words(entry)
    return f"{time_of_day(entry.at.utc, now)}  ({ago(entry.at.utc, now)})  {words.about}: {words.text}"


def entry_object(entry: JournalEntry) -> dict[str, Any]:
    """One entry for a program; an alarm's change has the same keys as in ``guard --json``."""
    from analysis.model.alarm import AlarmChange
    from analysis.model.turn import Turn
    from analysis.output.change_line import change_object

    head = {"sequence": entry.sequence, "session": entry.session, "kind": entry.kind, "at": entry.at.text()}
    if isinstance(entry.what, AlarmChange):
        return {**head, **change_object(entry.what)}
    told = msgspec.to_builtins(entry.what)
    if isinstance(entry.what, Turn):
        head["turn"] = told.pop("kind")  # of what kind the turn is; the entry's own kind stands there already
        head["began"] = entry.what.at.text()
    return {**head, **{key: value for key, value in told.items() if key not in head}}


def rate_words(rate: AlarmRate, hours: float) -> str:
    """The rate for a person.

    >>> from analysis.journal.rate import AlarmRate
    >>> rate_words(AlarmRate(
    ...     hours=5.25, alarms=7, per_hour=1.33, busiest=3, by_alarm={"highlights": 5, "feed": 2}, quiet=1), 24)
    'last 24 h: 7 alarms in 5.2 h watched, 1.3 an hour, 3 at most in ten minutes; highlights 5, feed 2; 1 without sound'
    """
    from tui.wording import lasted

    if rate.per_hour is None:
        return f"last {hours:g} h: nobody watched"
    watched = f"{rate.hours:.1f} h" if rate.hours >= 1 else lasted(rate.hours * 3600)
    count = f"{rate.alarms} alarm{'s' if rate.alarms != 1 else ''}"
    hourly = f", {rate.per_hour:.1f} an hour" if rate.hours >= _LEAST_HOURS else " (too short for a rate)"
    told = f"last {hours:g} h: {count} in {watched} watched{hourly}"
    told += f", {rate.busiest} at most in ten minutes" if rate.alarms else ""
    each = ", ".join(f"{name} {times}" for name, times in rate.by_alarm.items())
    return "; ".join(filter(None, (told, each, f"{rate.quiet} without sound" if rate.quiet else "")))
