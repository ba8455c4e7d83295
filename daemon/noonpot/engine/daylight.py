"""Sun and clear sky at hand: tables are fetched aside, looking them up never waits."""

import logging
from datetime import date, datetime, timedelta

from noonpot.core.station import Place
from noonpot.core.sun import DayTable, SunSky, solar_date
from noonpot.errors import SunTableError
from noonpot.ports import SunTable

log = logging.getLogger(__name__)


class Daylight:
    """The day tables of one place, today's and tomorrow's."""

    def __init__(self, place: Place, sun: SunTable) -> None:
        self._place = place
        self._sun = sun
        self._tables: dict[date, DayTable] = {}

    def fetch(self, when: datetime, *, ahead: int = 1) -> bool:
        """Fetch the tables of the day of ``when`` and of so many after it; True when all are there.

        This may take seconds: it runs a helper process.
        """
        today = solar_date(when, self._place.longitude)
        days = [today + timedelta(days=n) for n in range(ahead + 1)]
        # by assignment alone: a reader in another thread sees the tables before or after it
        self._tables = {day: table for day, table in self._tables.items() if day in days}
        try:
            for day in days:
                if day not in self._tables:
                    self._tables = {**self._tables, day: self._sun.day(self._place, day)}
        except SunTableError as error:
            log.warning("%s", error)
        return len(self._tables) == len(days)

    def table(self, when: datetime) -> DayTable | None:
        """The table of the day of ``when``, None while it is not at hand."""
        return self._tables.get(solar_date(when, self._place.longitude))

    def at(self, when: datetime) -> SunSky | None:
        """Sun and clear sky, None while the table is not at hand."""
        table = self.table(when)
        return None if table is None else table.at(when)
