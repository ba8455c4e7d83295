"""The data file for whoever only looks: every call opens it for a moment and never writes."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path

from noonpot.core.calibration import Calibration
from noonpot.core.cook import Cook, Event
from noonpot.core.curve import Curve
from noonpot.core.forecast import Forecast
from noonpot.core.readings import Sample
from noonpot.ports import Clock
from noonpot.store import alarms, calibrations, cooks, curves, forecasts, recall, rollups, samples
from noonpot.store.connection import examine, reading
from noonpot.store.samples import Value


class Reader:
    """Reads a data file, also while a daemon writes it.

    Every method raises StoreError when the file cannot be read.
    """

    def __init__(self, path: Path, clock: Clock, *, whole: bool = True) -> None:
        """Look at the file, at the ``whole`` of it unless its daemon has just done so.

        Raises StoreError when there is no such file, NewerStoreError when it is too new.
        """
        self._path = path
        self._clock = clock
        examine(path, whole=whole)

    def cooks(self) -> Sequence[Cook]:
        """All cooks, the oldest first, but for those that were taken back."""
        with reading(self._path) as db:
            return cooks.cooks(db)

    def samples_of(self, probe: str, since: datetime, until: datetime) -> Sequence[Sample]:
        """The readings of one probe in time order, ``since`` <= at <= ``until``.

        A fault stands among them where it began or changed. Times are whole seconds; ``mono_s`` is
        on the present monotonic clock, for other boots by way of the wall clock.
        """
        now = self._clock.moment()
        with reading(self._path) as db:
            return samples.of_probe(db, probe, since, until, self._clock.boot_id, now)

    def raw_of(self, probe: str, since: datetime, until: datetime) -> Sequence[Sample]:
        """The same, as the probe gave it: no calibration is applied."""
        now = self._clock.moment()
        with reading(self._path) as db:
            return samples.of_probe(db, probe, since, until, self._clock.boot_id, now, raw=True)

    def calibrations(self) -> Mapping[str, Calibration]:
        """The last calibration of each probe that ever had one."""
        with reading(self._path) as db:
            return calibrations.latest(db)

    def values_of(self, cooker: str, since: datetime, until: datetime) -> Sequence[Value]:
        """All readings that tell about a cooker, in time order."""
        with reading(self._path) as db:
            return samples.of_cooker(db, cooker, since, until)

    def rolled_up(
        self, cooker: str, since: datetime, until: datetime
    ) -> Sequence[tuple[datetime, datetime]]:
        """Of which times only roll-ups of what tells about a cooker are left; never of a cook."""
        with reading(self._path) as db:
            return rollups.periods(db, cooker, since, until)

    def events_of(self, cooker: str, since: datetime, until: datetime) -> Sequence[Event]:
        """The events of a cooker, in time order."""
        with reading(self._path) as db:
            return cooks.events_of(db, cooker, since, until)

    def samples_since(self, cook: Cook, probe: str) -> Sequence[Sample]:
        """The readings of one probe since a running cook began, by the clock as it is now."""
        now = self._clock.moment()
        with reading(self._path) as db:
            return recall.samples_of(db, cook.id, probe, self._clock.boot_id, now)

    def events_since(self, cook: Cook) -> Sequence[Event]:
        """Where its cooker pointed before a running cook, and what happened since, by the clock as
        it is now.
        """
        now = self._clock.moment()
        with reading(self._path) as db:
            return recall.events_of(db, cook, self._clock.boot_id, now)

    def aim_before(self, cooker: str, at: datetime) -> Event | None:
        """The last aiming of a cooker before a time."""
        with reading(self._path) as db:
            return cooks.aim_before(db, cooker, at)

    def forecasts_of(self, cook: int) -> Sequence[Forecast]:
        """The headlines of the forecasts that were given in a cook, the oldest first."""
        with reading(self._path) as db:
            return forecasts.of_cook(db, cook)

    def curve(self, cooker: str, since: datetime, until: datetime, points: int) -> Curve:
        """The lines of a cooker between two times, in about so many points."""
        with reading(self._path) as db:
            return curves.curve(db, cooker, since, until, points)

    def peak_core_c(self, cooker: str, since: datetime, until: datetime) -> float | None:
        """The highest that the core of a cooker came to [°C], None without a reading."""
        with reading(self._path) as db:
            return curves.peak(db, cooker, since, until)

    def core_reached(
        self, cooker: str, temp_c: float, since: datetime, until: datetime
    ) -> datetime | None:
        """When the core of a cooker first came to a temperature, None when it did not."""
        with reading(self._path) as db:
            return curves.reached(db, cooker, temp_c, since, until)

    def first_told(
        self, cooker: str, alarm: str, since: datetime, until: datetime
    ) -> datetime | None:
        """When an alarm of a cooker was first to be told in a time, None when it was not."""
        with reading(self._path) as db:
            return alarms.first_told(db, cooker, alarm, since, until)

    def core_below(
        self, cooker: str, temp_c: float, since: datetime, until: datetime
    ) -> datetime | None:
        """When the core of a cooker was first below a temperature, None when it was not."""
        with reading(self._path) as db:
            return curves.below(db, cooker, temp_c, since, until)

    def last_values(self, since: datetime, until: datetime) -> Mapping[str, tuple[float, datetime]]:
        """The last reading of each probe in a short time [°C; W/m²], and when it was."""
        with reading(self._path) as db:
            return {probe: (v, at) for probe, v, at in curves.last_values(db, since, until)}

    def letter_since(self, since: datetime, ending: str) -> str | None:
        """The name of a letter that came since a time and has this ending, once it is stored."""
        with reading(self._path) as db:
            return cooks.uid_ending(db, f"{since.timestamp():017.6f}", ending)

    def cooker_of(self, letter: str) -> str | None:
        """The cooker that a stored letter was about, None when none of this name is stored."""
        with reading(self._path) as db:
            row = db.execute("SELECT cooker FROM event WHERE uid = ?", (letter,)).fetchone()
            return None if row is None else str(row["cooker"])

    def verdicts_of(self, cooker: str) -> Sequence[Event]:
        """All that was said of how the cooks of a cooker tasted, in time order."""
        with reading(self._path) as db:
            return cooks.verdicts_of(db, cooker)

    def sun_day(self, key: str) -> bytes | None:
        """A day of sun that the daemon kept under this key, None when it did not."""
        with reading(self._path) as db:
            row = db.execute("SELECT body FROM sun_day WHERE key = ?", (key,)).fetchone()
            return bytes(row["body"]) if row else None
