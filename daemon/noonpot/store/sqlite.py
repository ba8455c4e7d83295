"""The store: the one writer of the data file. What stands in there is true; all else is a copy."""

import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Self

from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert
from noonpot.core.cook import Cook, Event
from noonpot.core.moment import Moment, iso
from noonpot.core.station import ProbeSpec
from noonpot.core.stationfacts import Absence, Readings
from noonpot.errors import StoreError, StoreFullError
from noonpot.ports import Batch, Clock
from noonpot.store import (
    alarms,
    calibrations,
    cooks,
    forecasts,
    recall,
    retention,
    rollups,
    samples,
    starts,
    timeline,
)
from noonpot.store.ballast import drop, lay
from noonpot.store.connection import (
    close_written,
    explained,
    lock,
    open_to_write,
    take_back_half,
)
from noonpot.store.migrations import migrate
from noonpot.store.outgoing import Outgoing, Point
from noonpot.store.reader import Reader
from noonpot.store.takeback import take_back

# Computed days of sun that are kept; one takes some tens of kilobytes.
SUN_DAYS = 30


class Store(Reader):
    """Writes the data file, safely from several threads; it is a Journal and an Outbox.

    What a call has written is on the card when the call returns (WAL, synchronous FULL). Every
    method raises StoreError when the file fails; nothing of a failed call is written.
    """

    def __init__(self, path: Path, clock: Clock) -> None:
        """Open the file, or begin one.

        Raises StoreError when it is damaged, no data file or in use by another process, and
        NewerStoreError when it belongs to a newer version; it is left as it is then.
        """
        self._series: dict[str, int] = {}
        self._settled: dict[str, int] = {}
        self._slowest_s = 0.0
        self._outgoing = Outgoing(clock.boot_id)
        self._turn = threading.Lock()
        self._held = lock(path)
        try:
            try:
                self._open(path, clock)
            except StoreFullError:
                if not drop(path):
                    raise
                self._open(path, clock)
        except BaseException:
            self._held.close()
            raise

    def _open(self, path: Path, clock: Clock) -> None:
        take_back_half(path)
        super().__init__(path, clock)
        self._db = open_to_write(path)
        now = clock.moment()
        try:
            with explained(path):
                migrate(self._db, iso(now.at))
            with self._writing() as db:
                timeline.present(db, clock.boot_id, now)
        except BaseException:
            close_written(self._db, path)
            raise

    def close(self) -> None:
        """Close the file; nothing is lost without it."""
        with self._turn:
            close_written(self._db, self._path)
            self._held.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def register(self, probes: Sequence[ProbeSpec]) -> None:
        """Make probes known; only readings of these can be written. The calibration of a probe that
        answers at another place by now ends.
        """
        now = self._clock.moment()
        with self._writing() as db:
            numbers = samples.register(db, probes)
            span = timeline.present(db, self._clock.boot_id, now)
            calibrations.end_moved(db, span, now, probes)
        self._series |= numbers

    def write(self, moment: Moment, batch: Batch) -> Sequence[Cook]:
        """Write the batch in one transaction; returns its cooks with their ids filled in.

        With the first trusted moment of a boot all that it wrote before moves to its true time. An
        event or alert that was written before, by its ``uid`` or ``id``, is not written again.
        """
        with self._writing() as db:
            span = timeline.present(db, self._clock.boot_id, moment, batch.samples)
            first = samples.write(db, span, self._series, batch.samples)
            if first is not None:
                self._outgoing.rewind(db, first)
            for event in batch.events:
                cooks.add_event(db, span, event)
            for calibration in batch.calibrations:
                tick = calibrations.keep(db, span, moment, calibration)
                self._outgoing.rewind(db, tick * samples.SERIES)
            saved = [cooks.save_cook(db, span, cook) for cook in batch.cooks]
            for record in batch.alarms:
                alarms.save_record(db, span, moment, record)
            for alert in batch.alerts:
                alarms.add_alert(db, span, alert)
            for given in batch.forecasts:
                forecasts.keep(db, span, given)
            return saved

    def take_back(self, moment: Moment, undo: Event) -> Cook | None:
        """Take back what was said a moment ago. Returns the cook as it is without it, None when it
        was no part of one.

        Raises CookError when that cannot be; nothing is changed then.
        """
        with self._writing() as db:
            return take_back(db, timeline.present(db, self._clock.boot_id, moment), moment, undo)

    def begin(self) -> None:
        """Note that the daemon starts, and keep some room for the next time it does."""
        lay(self._path)
        now = self._clock.moment()
        with self._writing() as db:
            starts.begin(db, timeline.present(db, self._clock.boot_id, now), now)

    def end(self) -> None:
        """Note that the daemon comes to a proper end."""
        with self._writing() as db:
            starts.end(db)

    def absence(self) -> Absence | None:
        """How long the daemon was away before it began, None when it did not begin."""
        with self._looking() as db:
            return starts.absence(db, self._clock.moment())

    def slowest_write_s(self) -> float:
        """How long the longest write took since the last call [s]."""
        slowest_s, self._slowest_s = self._slowest_s, 0.0
        return slowest_s

    def running_cooks(self) -> Sequence[Cook]:
        """Cooks that were begun and not stopped."""
        with self._looking() as db:
            return recall.running(db, self._clock.boot_id, self._clock.moment())

    def alarm_records(self) -> Sequence[AlarmRecord]:
        """The last known state of every alarm, timers moved onto the present monotonic clock."""
        with self._looking() as db:
            return alarms.records(db, self._clock.boot_id, self._clock.moment())

    def knows_event(self, uid: str) -> bool:
        """Whether an event with this ``uid`` in its detail was written."""
        with self._looking() as db:
            return cooks.knows_event(db, uid)

    def unsent(self, channel: str, limit: int) -> Sequence[Alert]:
        """The oldest alerts this channel has not settled yet, their times by the clock as it is
        now: whoever asks may have heard of its setting before the round that writes it down.
        """
        now, boot = self._clock.moment(), self._clock.boot_id
        with self._looking() as db:
            behind = timeline.is_behind(db, boot, now)
        if behind:
            with suppress(StoreError), self._writing() as db:  # a full card hides no alert
                timeline.present(db, boot, self._clock.moment())
        with self._looking() as db:
            found = alarms.unsent(db, channel, limit, self._settled.get(channel, 0), boot)
            if found:  # spares the next call all that lies before
                self._settled[channel] = found[0][0] - 1
            return [alert for _, alert in found]

    def settle(self, channel: str, alert_id: str, outcome: str) -> None:
        """Note for good what became of an alert on this channel: sent, refused or expired."""
        with self._writing() as db:
            alarms.settle(db, channel, alert_id, outcome, iso(self._clock.moment().at))

    def sun_day(self, key: str) -> bytes | None:
        """What was kept under this key by ``keep_sun_day``."""
        with self._looking() as db:
            row = db.execute("SELECT body FROM sun_day WHERE key = ?", (key,)).fetchone()
            return bytes(row["body"]) if row else None

    def keep_sun_day(self, key: str, body: bytes) -> None:
        """Keep a computed day of sun; the oldest ones make room."""
        with self._writing() as db:
            db.execute("INSERT OR REPLACE INTO sun_day (key, body) VALUES (?, ?)", (key, body))
            db.execute(
                "DELETE FROM sun_day WHERE id <= (SELECT max(id) FROM sun_day) - ?", (SUN_DAYS,)
            )

    def outgoing(self, sink: str, limit: int) -> Sequence[Point]:
        """The next points for a time-series server. Each server is to be served by one thread."""
        with self._looking() as db:
            return self._outgoing.take(db, sink, limit)

    def delivered(self, sink: str, refused: Sequence[tuple[str, str]] = ()) -> None:
        """The server has the points handed out last; those ``refused``, as (line, reason), it never
        will take.
        """
        with self._writing() as db:
            self._outgoing.delivered(db, sink, refused, self._clock.moment())

    def waiting(self, sink: str) -> int:
        """How many points the server lacks, as far as counting is worth it."""
        with self._looking() as db:
            return self._outgoing.waiting(db, sink)

    def stays_whole(self, rule: retention.Rule) -> Sequence[retention.Ticks]:
        """The ticks whose readings are never rolled up."""
        with self._looking() as db:
            return retention.whole(db, rule)

    def roll_up(self, rule: retention.Rule, stays: Sequence[retention.Ticks]) -> retention.Rolled:
        """Roll up some of the readings that are old enough, but for those that stay."""
        now, boot = self._clock.moment(), self._clock.boot_id
        with self._writing() as db:
            tick = timeline.present(db, boot, now).tick_of(now.mono_s)
            return retention.roll_up(db, boot, tick, rule, stays)

    def readings(self, rule: retention.Rule | None) -> Readings:
        """How far back readings are there as they were read."""
        with self._looking() as db:
            return rollups.readings(db, None if rule is None else retention.waits_for(db, rule))

    @contextmanager
    def _looking(self) -> Iterator[sqlite3.Connection]:
        with self._turn, explained(self._path):
            yield self._db

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction, kept whole or not at all."""
        with self._looking() as db:
            begun_s = self._clock.moment().mono_s
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.execute("COMMIT")
            finally:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                took_s = self._clock.moment().mono_s - begun_s
                self._slowest_s = max(self._slowest_s, took_s)
