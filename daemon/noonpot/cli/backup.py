"""``noonpot backup`` and ``noonpot restore``: the data file copied away, and brought back."""

import threading
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import machine, upkeep
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption
from noonpot.core.wording import Wording
from noonpot.errors import CookError
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.backup import copies


def backup(
    file: Annotated[
        Path | None, typer.Argument(help="Where to; the folder of the backups if left out.")
    ] = None,
    config: ConfigOption = DEFAULT_CONFIG,
    shown: Annotated[bool, typer.Option("--list", help="Only list what there is.")] = False,
) -> None:
    """Copy the data file away, also while Noonpot runs, and check the copy."""
    settings, clock = load(config, secrets=False), machine.system_clock()
    if shown:
        _list(settings)
        return
    never = threading.Event()
    if file is not None and file.exists():
        raise CookError(f"{file} is there already; choose another name")
    made = upkeep.back_up(settings, settings.data / machine.DATA_FILE, clock, never, file)
    print(f"{made}: {made.stat().st_size / 1e6:.1f} MB, checked and good")


def restore(
    file: Annotated[Path, typer.Argument(help="A backup; 'noonpot backup --list' lists them.")],
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Put a backup in place of the data file. That one is kept beside it; Noonpot must not run."""
    settings, clock = load(config, secrets=False), machine.system_clock()
    kept = machine.restore(settings, file, clock)
    print(f"{settings.data / machine.DATA_FILE} is now what {file} was, checked and good.")
    if kept is not None:
        print(f"The file of before is kept as {kept}. Delete it once you do not miss anything.")
    print("Cooks that were begun or ended since are not known. Start Noonpot again.")


def _list(settings: Settings) -> None:
    words = Wording(settings.units, settings.timezone)
    found = copies(upkeep.folder_of(settings))
    for one in found:
        print(f"{one.path}  {words.day_and_clock(one.at)}  {one.path.stat().st_size / 1e6:.1f} MB")
    if not found:
        print(f"There is no backup in {upkeep.folder_of(settings)} yet: noonpot backup makes one.")
