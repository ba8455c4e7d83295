"""Where commands take the sun from: their person's folder, the daemon's data file, the helper."""

import os

from noonpot.almanac import Almanac, own_folder
from noonpot.app.machine import DATA_FILE
from noonpot.errors import StoreError
from noonpot.ports import Clock
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader
from noonpot.suntable import KnownDays, SunTables


def day_tables(*known: KnownDays) -> SunTables:
    """Day tables from the person's own folder, from what others have computed, or computed now."""
    return SunTables(Almanac(own_folder(os.environ)), *known)


def station_tables(settings: Settings, clock: Clock) -> SunTables:
    """Day tables that also the daemon may have computed; a data file that cannot be read is done
    without.
    """
    try:
        return day_tables(Reader(settings.data / DATA_FILE, clock, whole=False))
    except StoreError:
        return day_tables()
