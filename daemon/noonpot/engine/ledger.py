"""What waits to be written: everything of a round, until the store has it."""

import logging
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert
from noonpot.core.calibration import Calibration
from noonpot.core.cook import Cook, Event
from noonpot.core.moment import Moment
from noonpot.core.readings import Sample
from noonpot.errors import StoreError
from noonpot.ports import Batch, Given, Health, Journal, Notifier, Outcome

log = logging.getLogger(__name__)

MOST_KEPT = 100_000


class Ledger:
    """Readings are written about every ``commit_s`` seconds, because every commit wears the card;
    events, alarms and what is to be told are written at once.

    When the store fails, everything is kept for the next try, and alerts are told without it: a
    damaged card must not silence an alarm. The receiver drops the double by its id. ``on_written``
    hears how each try ended, with None when it went well.
    """

    def __init__(
        self,
        journal: Journal,
        notifiers: Sequence[Notifier],
        health: Health,
        *,
        commit_s: float,
        on_written: Callable[[StoreError | None], None],
        on_alert: Callable[[], None],
    ) -> None:
        self._journal = journal
        self._notifiers = notifiers
        self._health = health
        self._commit_s = commit_s
        self._on_written = on_written
        self._on_alert = on_alert
        self._written_s = float("-inf")
        self._failing = False
        self._told: set[str] = set()
        self._samples: list[Sample] = []
        self._events: list[Event] = []
        self._alerts: list[Alert] = []
        self._given: list[Given] = []
        self._calibrations: list[Calibration] = []
        self._cooks: dict[tuple[str, datetime], Cook] = {}
        self._alarms: dict[tuple[str, str], AlarmRecord] = {}

    @property
    def waiting(self) -> bool:
        """Whether events or alerts could not be written down yet."""
        return bool(self._events or self._alerts)

    def enter(
        self,
        *,
        samples: Iterable[Sample] = (),
        events: Iterable[Event] = (),
        cooks: Iterable[Cook] = (),
        alarms: Iterable[AlarmRecord] = (),
        alerts: Iterable[Alert] = (),
        forecasts: Iterable[Given] = (),
        calibrations: Iterable[Calibration] = (),
    ) -> None:
        """Take in what shall be written; of a cook and of an alarm the last state counts."""
        self._samples += samples
        self._events += events
        self._cooks |= {(cook.cooker, cook.started_at): cook for cook in cooks}
        self._alarms |= {(record.cooker, record.alarm): record for record in alarms}
        self._alerts += alerts
        self._given += forecasts
        self._calibrations += calibrations

    def due(self, now: Moment) -> bool:
        """Whether the readings have waited long enough."""
        return now.mono_s - self._written_s >= self._commit_s

    def write(self, now: Moment) -> Sequence[Cook] | None:
        """Write all that waits, in one transaction. Returns its cooks with their ids, None when
        nothing could be written.
        """
        batch = Batch(
            samples=tuple(self._samples),
            events=tuple(self._events),
            cooks=tuple(self._cooks.values()),
            alarms=tuple(self._alarms.values()),
            alerts=tuple(self._alerts),
            forecasts=tuple(self._given),
            calibrations=tuple(self._calibrations),
        )
        self._written_s = now.mono_s
        try:
            written = self._journal.write(now, batch)
        except StoreError as error:
            self._on_written(error)
            self._keep_and_tell(error)
            return None
        self._on_written(None)
        self._failing = False
        self._told.clear()
        self._samples, self._events, self._alerts, self._given = [], [], [], []
        self._cooks, self._alarms, self._calibrations = {}, {}, []
        if batch.alerts:
            self._on_alert()
        return written

    def _keep_and_tell(self, error: StoreError) -> None:
        self._health.count("store-failures")
        if not self._failing:
            log.error("store fails, readings are kept in memory: %s", error)
        self._failing = True
        del self._samples[:-MOST_KEPT]
        for alert in self._alerts:
            if alert.id not in self._told:
                told = [notifier.tell(alert).outcome for notifier in self._notifiers]
                if Outcome.SENT in told:
                    self._told.add(alert.id)
