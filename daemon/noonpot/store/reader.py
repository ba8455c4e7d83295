"""The data file for whoever only looks: every call opens it for a moment and never writes."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from noonpot.core.cook import Cook, Event
from noonpot.core.readings import Sample
from noonpot.ports import Clock
from noonpot.store import cooks, samples
from noonpot.store.connection import examine, reading
from noonpot.store.samples import Value


class Reader:
    """Reads a data file, also while a daemon writes it.

    Every method raises StoreError when the file cannot be read.
    """

    def __init__(self, path: Path, clock: Clock) -> None:
        """Raises StoreError when there is no such file, NewerStoreError when it is too new."""
        self._path = path
        self._clock = clock
        examine(path)

    def cooks(self) -> Sequence[Cook]:
        """All cooks, the oldest first."""
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

    def values_of(self, cooker: str, since: datetime, until: datetime) -> Sequence[Value]:
        """All readings that tell about a cooker, in time order."""
        with reading(self._path) as db:
            return samples.of_cooker(db, cooker, since, until)

    def events_of(self, cooker: str, since: datetime, until: datetime) -> Sequence[Event]:
        """The events of a cooker, in time order."""
        with reading(self._path) as db:
            return cooks.events_of(db, cooker, since, until)

    def aim_before(self, cooker: str, at: datetime) -> Event | None:
        """The last aiming of a cooker before a time."""
        with reading(self._path) as db:
            return cooks.aim_before(db, cooker, at)

    def sun_day(self, key: str) -> bytes | None:
        """A day of sun that the daemon kept under this key, None when it did not."""
        with reading(self._path) as db:
            row = db.execute("SELECT body FROM sun_day WHERE key = ?", (key,)).fetchone()
            return bytes(row["body"]) if row else None
