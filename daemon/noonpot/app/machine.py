"""What a command finds on this machine: its clock, and the data file of the station."""

import logging
import threading
from pathlib import Path

from noonpot.app.upkeep import folder_of
from noonpot.clock import SystemClock
from noonpot.core.stationfacts import Mended
from noonpot.errors import NewerStoreError, StoreDamagedError, StoreError
from noonpot.ports import Clock
from noonpot.settings.values import Settings
from noonpot.store.backup import copy, own, prove
from noonpot.store.connection import examine, lock, lock_of
from noonpot.store.mending import meanwhile, mended, prepared, replace, sound
from noonpot.store.sqlite import Store

log = logging.getLogger(__name__)

DATA_FILE = "noonpot.db"
TIMESYNCD = Path("/run/systemd/timesync")


def system_clock() -> SystemClock:
    """The machine's clock, which waits for the network's time where a service announces it."""
    return SystemClock(wait_for_sync=TIMESYNCD.exists())


def open_store(settings: Settings, clock: Clock) -> Store:
    """The data file of a station, in its folder.

    Raises StoreError when the folder cannot be made or the file not be used.
    """
    return Store(_file(settings), clock)


def open_or_mend(settings: Settings, clock: Clock) -> tuple[Store, Mended | None]:
    """The same for a watch that must not wait: a damaged file is set aside, and the last good
    backup or an empty file takes its place. One that a newer Noonpot wrote is left as it is, and
    another file serves meanwhile.

    Raises StoreError when the file cannot be used for another reason.
    """
    file = _file(settings)
    try:
        return sound(file, clock), None
    except NewerStoreError as error:
        log.error("%s", error)  # noqa: TRY400  a sentence, no trace
        return meanwhile(file, clock, settings.timezone)
    except StoreDamagedError as error:
        log.error("%s", error)  # noqa: TRY400  a sentence, no trace
    return mended(file, folder_of(settings), clock, threading.Event(), settings.timezone)


def restore(settings: Settings, backup: Path, clock: Clock) -> Path | None:
    """Put a backup in place of the data file. Returns under which name that is kept, None when
    there was none.

    Raises StoreError when a daemon runs, NewerStoreError and StoreDamagedError when the backup is
    not good; nothing is changed then.
    """
    file = _file(settings)
    prove(backup)
    there = file.exists()
    try:
        with lock(file):
            own(lock_of(file))
            copy(backup, prepared(file), clock, threading.Event())
            kept = replace(file, clock.moment().at, "before")
    except StoreError:
        if not there:  # the lock has made an empty one
            file.unlink(missing_ok=True)
        raise
    examine(file)
    if there:
        return kept
    kept.unlink()
    return None


def _file(settings: Settings) -> Path:
    try:
        settings.data.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"station.data is {settings.data}: {error.strerror}; choose a folder you may write"
        ) from error
    return settings.data / DATA_FILE
