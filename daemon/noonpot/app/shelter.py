"""A place for the data while the card takes none: in memory, for as long as the daemon runs."""

import logging
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from noonpot.app.pagekeeper import KEYS
from noonpot.core.stationfacts import Mended
from noonpot.errors import StoreFullError, StoreUnwritableError
from noonpot.ports import Clock
from noonpot.settings.values import Settings

log = logging.getLogger(__name__)

MEMORY = Path("/dev/shm")  # noqa: S108  no card, and open to a service that may write nothing else


@contextmanager
def shelter(
    settings: Settings, clock: Clock, error: StoreFullError | StoreUnwritableError
) -> Iterator[tuple[Settings, Mended]]:
    """The same station with its data in memory. Who has the passphrase of the page keeps it."""
    place = MEMORY if MEMORY.is_dir() else None
    with tempfile.TemporaryDirectory(prefix="noonpot-", dir=place) as folder:
        log.error("%s", error)
        log.error("the watch goes on with its data in memory, which the power takes with it")
        with suppress(OSError):  # a card that cannot be read, either, holds up no watch
            (Path(folder) / KEYS).parent.mkdir()
            shutil.copyfile(settings.data / KEYS, Path(folder) / KEYS)
        mended = Mended(clock.moment(), "", None, unwritable=True)
        backup = replace(settings.backup, enabled=False)  # it would push out good ones
        yield replace(settings, data=Path(folder), backup=backup), mended
