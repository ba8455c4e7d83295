"""The command ``noonpot``: asks, shows, and tells mistakes in sentences. Exit codes: 0 done, 1 it
failed, 2 the input or the configuration is wrong.
"""

import sys
from collections.abc import Iterable
from pkgutil import resolve_name
from typing import Annotated

import typer

from noonpot import __version__
from noonpot.errors import ConfigError, CookError, NoonpotError, RecordingError, WeatherError

COMMANDS = {
    "init": "setup:init",
    "demo": "demo:demo",
    "run": "watching:run",
    "check": "setup:check",
    "plan": "plan:plan",
    "rate": "rate:rate",
    "aim": "sky:aim",
    "replay": "files:replay",
    "export": "files:export",
    "backup": "backup:backup",
    "restore": "backup:restore",
    "report": "report:report",
    "probes": "probes:app",
    "cook": "cooks:app",
    "stations": "stations:app",
}
"""Where each command stands; the last three are groups of commands."""


def _tell_version(wanted: bool) -> None:
    if wanted:
        print(f"noonpot {__version__}")
        raise typer.Exit


def program(
    _: Annotated[
        bool,
        typer.Option("--version", callback=_tell_version, is_eager=True, help="Tell the version."),
    ] = False,
) -> None:
    """What is said before any command."""


def command_line(words: Iterable[str] = COMMANDS) -> typer.Typer:
    """The command line with these of the commands; only what they need is loaded."""
    app = typer.Typer(
        name="noonpot",
        help="Watches food in solar cookers, so that you can leave.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    app.callback()(program)
    for word in words:
        found = resolve_name(f"{__name__}.{COMMANDS[word]}")
        if isinstance(found, typer.Typer):
            app.add_typer(found, name=word)
        else:
            app.command(word)(found)
    return app


WRONG_INPUT = (ConfigError, CookError, RecordingError, WeatherError)


def main() -> None:
    """Run the command line. Whoever names a command waits for no other to be loaded."""
    named = [word for word in sys.argv[1:2] if word in COMMANDS]
    try:
        command_line(named or COMMANDS)()
    except NoonpotError as error:
        print(error, file=sys.stderr)
        sys.exit(2 if isinstance(error, WRONG_INPUT) else 1)
