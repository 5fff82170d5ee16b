"""What the guard may do with alarms beyond sounding them: a program, a server, a voice."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path

import msgspec

from analysis.model.errors import SettingsError
from analysis.settings.text_files import read_text

TOKEN_VARIABLE = "STOPKEEPER_POST_TOKEN"


class GuardSettings(msgspec.Struct, frozen=True, kw_only=True):
    """``[guard]``: a program and its arguments run with each alarm change, a URL it is sent to, whether it is spoken.

    ``hook_seconds`` is how long the program may run. ``post_authorities`` names a PEM file with the certificates to
    trust instead of the system's; ``post_token_file`` a file that holds a Bearer token (the environment variable
    ``STOPKEEPER_POST_TOKEN`` does where there is none). ``post_plain_http`` allows http to another machine.
    """

    hook: tuple[str, ...] = ()
    hook_seconds: float = 10.0
    post: str | None = None
    post_authorities: str | None = None
    post_token_file: str | None = None
    post_plain_http: bool = False
    speak: bool = False


def check_guard(guard: GuardSettings, where: str) -> None:
    """``SettingsError`` for values that make no sense.

    >>> check_guard(GuardSettings(hook_seconds=0), "settings.toml")
    Traceback (most recent call last):
    ...
    analysis.model.errors.SettingsError: settings.toml: guard.hook_seconds is 0; use more than 0 and at most 600
    """
    if not 0 < guard.hook_seconds <= 600:
        raise SettingsError(f"guard.hook_seconds is {guard.hook_seconds:g}", where, "use more than 0 and at most 600")
    if guard.hook and not guard.hook[0].strip():
        raise SettingsError("guard.hook names no program", where, 'write hook = ["program", "argument"]')


def post_token(guard: GuardSettings, environment: Mapping[str, str]) -> str | None:
    """The token for the server, from its file or the environment; None where there is none.

    ``SettingsError`` for a file that cannot be read, is empty, or that everybody on this machine may read.
    """
    if guard.post_token_file is None:
        return environment.get(TOKEN_VARIABLE) or None
    path = Path(guard.post_token_file).expanduser()
    token = read_text(path).strip()
    if not token:
        raise SettingsError("the token file is empty", str(path), "write the token into it")
    if os.name == "posix" and path.stat().st_mode & stat.S_IROTH:
        raise SettingsError("everybody on this machine may read the token", str(path), f"run: chmod o-r {path}")
    return token
