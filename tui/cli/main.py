"""The command line: finds the command, and turns every failure into one line and an exit code."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Sequence
from importlib import import_module
from types import FrameType
from typing import NoReturn

import click

from analysis.model.errors import StopkeeperError
from analysis.settings.nearest import nearest
from tui.cli.say import fill_standard, silence, unwritten

# name -> (module holding `command`, what the list says). Loaded only when asked for, so that
# help and a mistyped word answer at once.
COMMANDS = {
    "watch": ("tui.cli.watch", "Open the watch on a feed: the main screen."),
    "read": ("tui.cli.read", "Measure frames of a feed and print the readings."),
    "plan": ("tui.cli.plan", "Say what to move so that the sitter lies on the aim, and what it costs."),
    "match": ("tui.cli.match", "Say how far two pictures lie apart, in stops, and what to move to match them."),
    "holds": ("tui.cli.holds", "List, keep or forget the readings that later pictures are matched against."),
    "reckon": ("tui.cli.reckon", "Reckon in stops: filters, shutter, series, light, sun, the key."),
    "guard": ("tui.cli.guard", "Watch without a screen, for days: alarms, lines, hook, POST."),
    "history": ("tui.cli.history", "Print what happened: alarms, the feed, gaps; and alarms per hour."),
    "sounds": ("tui.cli.sounds", "Explain, play or save each alarm's sound."),
    "lineup": ("tui.cli.lineup", "Say whether colour bars or grey steps come through the chain as they should."),
    "curves": ("tui.cli.curves", "List, show or add transfer curves."),
    "characterise": ("tui.cli.characterise", "Measure a camera's curve, clip and noise from a grey card."),
    "feeds": ("tui.cli.feeds", "List capture devices, their formats and rates."),
}


class Commands(click.Group):
    """Commands by name, imported when one is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names in the order they are most wanted."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, or None when there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        command = import_module(COMMANDS[cmd_name][0]).command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Like click's, but an unknown word is answered with the nearest command."""
        if args and args[0] not in COMMANDS:
            looks_like_a_feed = ":" in args[0] or "/" in args[0]
            hint = f"to watch it: stopkeeper watch {args[0]}" if looks_like_a_feed else nearest(args[0], COMMANDS)
            raise click.UsageError(f'no command "{args[0]}"; {hint}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, from the table and without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


def _version() -> str:
    from importlib.metadata import version

    return version("stopkeeper")


def _print_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        click.echo(f"stopkeeper {_version()}")
        ctx.exit()


@click.group(
    cls=Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example: stopkeeper watch /dev/video0",
)
@click.option(
    "--version",
    is_flag=True,
    callback=_print_version,
    expose_value=False,
    is_eager=True,
    help="Say which version this is.",
)
@click.pass_context
def stopkeeper(ctx: click.Context) -> None:
    """A terminal watch for a live camera picture.

    It meters the light in a feed, says what is lost at either end, and calls out when it matters.
    Alone, it opens the watch on the first capture device, or on a rendered scene when there is none.
    """
    if ctx.invoked_subcommand is None:
        from tui.cli.watch import command as watch

        ctx.invoke(watch)


def _terminated(number: int, _frame: FrameType | None) -> None:
    # Raised in the main thread, so that every `finally` runs: sound child, terminal, feed.
    raise SystemExit(128 + number)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the program; returns the exit code. Says every failure in one line on standard error.

    0 done, 1 the job failed, 2 used wrongly, 130 ended by Ctrl-C, 143 by SIGTERM, 129 by SIGHUP (its terminal is
    gone; under nohup it goes on).
    """
    # Sums here are small: threads of the linear algebra library would only wait for each other. Before numpy is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    fill_standard()
    try:
        signal.signal(signal.SIGTERM, _terminated)
        if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is signal.SIG_DFL:
            signal.signal(signal.SIGHUP, _terminated)
        result = stopkeeper.main(args=None if arguments is None else list(arguments), standalone_mode=False)
        _flush()
        return int(result or 0) if isinstance(result, int) else 0
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.Abort:
        return 130
    except KeyboardInterrupt:
        return 130
    except click.ClickException as error:
        return _say(_click_line(error), 2)
    except StopkeeperError as error:
        return _say(error.line(), error.exit_code)
    except BrokenPipeError:
        silence()
        return 0
    except OSError as error:
        if error.filename is not None:
            return _say(f"{error.filename}: {error.strerror}; check the file and its folder", 1)
        return _say(unwritten(error).line(), 1)  # help, or the last of the output, that cannot be written


def _flush() -> None:
    if sys.stdout is not None:  # None where it was handed over closed
        sys.stdout.flush()


def _click_line(error: click.ClickException) -> str:
    line = " ".join(error.format_message().split())
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "stopkeeper"
    return f"{line.rstrip('.')}; see {path} --help"


def _say(line: str, code: int) -> int:
    try:
        print(f"stopkeeper: {line}", file=sys.stderr)  # noqa: T201 - the one place failures are told
    except OSError:
        silence()
    return code


def main() -> NoReturn:
    """Entry point of the installed program."""
    code = run()
    # Abandoned readers may sit in a system call for ever; they are daemons and must not hold the exit.
    try:
        _flush()
        if sys.stderr is not None:
            sys.stderr.flush()
    except OSError:  # its reader has gone or its disk is full: it was told where that could be told
        silence()
    if _reader_left():
        os._exit(code)
    sys.exit(code)


def _reader_left() -> bool:
    import threading

    return any(t is not threading.main_thread() and t.is_alive() and t.daemon for t in threading.enumerate())


if __name__ == "__main__":
    main()
