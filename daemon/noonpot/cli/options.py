"""Options that several commands share."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from noonpot.core.moment import utc
from noonpot.errors import CookError

ConfigOption = Annotated[
    Path,
    typer.Option("--config", envvar="NOONPOT_CONFIG", help="The configuration file."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for a machine.")]
DEFAULT_CONFIG = Path("noonpot.toml")


def moment_of(text: str | None, now: datetime) -> datetime:
    """The time a person gave, or now. Raises CookError when it is no time with its zone."""
    return now.astimezone(UTC) if text is None else time_of("--at", text)


def time_of(option: str, text: str) -> datetime:
    """The time given for an option. Raises CookError when it is no time with its zone."""
    try:
        return utc(text)
    except ValueError as error:
        raise CookError(f"{option}: {error}") from None
