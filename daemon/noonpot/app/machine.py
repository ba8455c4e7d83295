"""What a command finds on this machine: its clock, and the data file of the station."""

from pathlib import Path

from noonpot.clock import SystemClock
from noonpot.errors import StoreError
from noonpot.ports import Clock
from noonpot.settings.values import Settings
from noonpot.store.sqlite import Store

DATA_FILE = "noonpot.db"
TIMESYNCD = Path("/run/systemd/timesync")


def system_clock() -> SystemClock:
    """The machine's clock, which waits for the network's time where a service announces it."""
    return SystemClock(wait_for_sync=TIMESYNCD.exists())


def open_store(settings: Settings, clock: Clock) -> Store:
    """The data file of a station, in its folder.

    Raises StoreError when the folder cannot be made or the file not be used.
    """
    try:
        settings.data.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"station.data is {settings.data}: {error.strerror}; choose a folder you may write"
        ) from error
    return Store(settings.data / DATA_FILE, clock)
