"""One round: filter, watch, write down, show. What a person must be told is stored first."""

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.moment import Moment
from noonpot.core.payloads import alarm_payload, forecast_payload, now_payload
from noonpot.core.readings import Sample
from noonpot.core.stationfacts import OWN
from noonpot.engine.clockguard import ClockStep
from noonpot.engine.memory import Memory, memory
from noonpot.engine.sieve import Sieve
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.errors import CookError, StoreError
from noonpot.ports import Batch, Health, Journal, Notifier, Outcome

log = logging.getLogger(__name__)

SHOW_S = 60.0
FORECAST_S = 60.0
MOST_KEPT = 100_000


class Pipeline:
    """Carries readings and events of all cookers through one round after the other.

    Readings are written about every ``commit_s`` seconds, because every commit wears the card;
    events, alarms and what is to be told are written at once.
    """

    def __init__(  # noqa: PLR0913  nothing is global, so a pipeline is given all it needs
        self,
        station: str,
        watches: Sequence[Watch],
        filters: Mapping[str, ProbeFilter],
        journal: Journal,
        notifiers: Sequence[Notifier],
        health: Health,
        *,
        own: StationWatch | None = None,
        commit_s: float = 10.0,
        on_alert: Callable[[], None] = lambda: None,
    ) -> None:
        self._station = station
        self._watches = watches
        self._sieve = Sieve(filters)
        self._journal = journal
        self._notifiers = notifiers
        self._health = health
        self._own = () if own is None else (own,)
        self._commit_s = commit_s
        self._on_alert = on_alert
        self._written_s = float("-inf")
        self._shown_s = float("-inf")
        self._failing = False
        self._told: set[str] = set()
        self._samples: list[Sample] = []
        self._events: list[Event] = []
        self._alerts: list[Alert] = []
        self._cooks: dict[tuple[str, datetime], Cook] = {}
        self._alarms: dict[tuple[str, str], AlarmRecord] = {}

    @property
    def waiting(self) -> bool:
        """Whether events or alerts could not be written down yet."""
        return bool(self._events or self._alerts)

    def resume(self, now: Moment) -> None:
        """Take up the cooks and alarms that the store knows, and show where every alarm stands."""
        self._take_up(now)
        records = [watch.records for watch in self._watches]
        records += [own.records for own in self._own]
        for record in (record for each in records for record in each.values()):
            self._show_alarm(record, now)

    def round(
        self, now: Moment, samples: Sequence[Sample], events: Sequence[Event]
    ) -> dict[int, str]:
        """Carry news through. Returns the reason for each event that did not fit, by its index."""
        heard = self._sieve.sift(samples)
        self._samples += heard
        refused = self._take(events, now)
        moved: list[AlarmRecord] = []
        for watch in self._watches:
            outcome = watch.step(now, heard, self._sieve.faults)
            self._cooks |= {(c.cooker, c.started_at): c for c in outcome.cooks}
            self._alarms |= {(r.cooker, r.alarm): r for r in outcome.alarms.changed}
            self._alerts += outcome.alarms.alerts
            moved += outcome.alarms.moved
        for own in self._own:
            findings = own.step(now, cooking=any(watch.cook for watch in self._watches))
            self._alarms |= {(r.cooker, r.alarm): r for r in findings.changed}
            self._alerts += findings.alerts
            moved += findings.moved
        if events or moved or self._alerts or now.mono_s - self._written_s >= self._commit_s:
            self.write(now)
        for record in moved:
            self._show_alarm(record, now)
        if events or now.mono_s - self._shown_s >= SHOW_S:
            self.show(now)
        self._foresee(now)
        return refused

    def clock_stepped(self, step: ClockStep, now: Moment) -> None:
        """Note in every cooker's record that the wall clock jumped. When it was set for the first
        time since boot, the store has moved all times of this boot: the cooks are read anew.
        Otherwise the store keeps them, and only the forecasts move them.
        """
        text = f"clock corrected by {step.shift_s:+.0f} s"
        self._events += [
            Event(w.cooker.name, now.at, EventKind.NOTE, {"text": text}) for w in self._watches
        ]
        self._health.count("clock-steps")
        for own in self._own:
            own.clock_stepped(step, now)
        if not self.write(now):
            return
        if step.was_trusted:
            self._tell_anew(step, now)
        else:
            self._take_up(now)

    def write(self, now: Moment) -> bool:
        """Write all that waits, in one transaction; True when it is written.

        When the store fails, everything is kept for the next try, and alerts are told without it:
        a damaged card must not silence an alarm. The receiver drops the double by its id.
        """
        batch = Batch(
            samples=tuple(self._samples),
            events=tuple(self._events),
            cooks=tuple(self._cooks.values()),
            alarms=tuple(self._alarms.values()),
            alerts=tuple(self._alerts),
        )
        self._written_s = now.mono_s
        try:
            written = self._journal.write(now, batch)
        except StoreError as error:
            self._say_written(error)
            self._keep_and_tell(error)
            return False
        self._say_written(None)
        self._failing = False
        self._told.clear()
        self._adopt(written)
        self._samples, self._events, self._alerts = [], [], []
        self._cooks, self._alarms = {}, {}
        if batch.alerts:
            self._on_alert()
        return True

    def _say_written(self, failure: StoreError | None) -> None:
        for own in self._own:
            own.written(failure)

    def show(self, now: Moment) -> None:
        """Make visible how every cooker stands."""
        self._shown_s = now.mono_s
        for watch in self._watches:
            name = watch.cooker.name
            self._show(f"{name}/now", now_payload(self._station, watch.facts(now), now))

    def _foresee(self, now: Moment) -> None:
        """Make and show the forecast that is most overdue: one a round, after all that is urgent,
        because it takes the longest of all.
        """
        watch = max(self._watches, key=lambda w: w.unforeseen_s(now))
        if watch.unforeseen_s(now) < FORECAST_S:
            return
        name, forecast = watch.cooker.name, watch.foresee(now)
        if forecast is not None:
            self._show(f"{name}/forecast", forecast_payload(self._station, name, forecast))

    def _take_up(self, now: Moment) -> None:
        cooks = {cook.cooker: cook for cook in self._journal.running_cooks()}
        records = self._journal.alarm_records()
        for watch in self._watches:
            name = watch.cooker.name
            cook = cooks.get(name)
            past = Memory() if cook is None else memory(self._journal, watch.probes, cook, now)
            watch.restore(cook, [r for r in records if r.cooker == name], past)
        for own in self._own:
            own.restore(records)

    def _tell_anew(self, step: ClockStep, now: Moment) -> None:
        """Let the forecasts see what was, as the clock of now would tell it."""
        shift = timedelta(seconds=step.shift_s)
        before = replace(now, at=now.at - shift)
        for watch in self._watches:
            if watch.cook is not None:
                past = memory(self._journal, watch.probes, watch.cook, before)
                watch.clock_stepped(past.moved(shift))

    def _take(self, events: Sequence[Event], now: Moment) -> dict[int, str]:
        refused: dict[int, str] = {}
        watches: dict[str, Watch | StationWatch] = {w.cooker.name: w for w in self._watches}
        watches.update((OWN, own) for own in self._own)
        for index, event in enumerate(events):
            watch = watches.get(event.cooker)
            try:
                if watch is None:
                    raise CookError(f"there is no cooker named {event.cooker!r}")
                watch.take(event, now)
            except CookError as error:
                refused[index] = str(error)
            else:
                self._events.append(event)
        return refused

    def _adopt(self, written: Sequence[Cook]) -> None:
        """Give the running cooks the ids under which the store knows them."""
        ids = {(cook.cooker, cook.started_at): cook.id for cook in written}
        for watch in self._watches:
            cook = watch.cook
            if cook is not None and cook.id == 0:
                watch.cook = replace(cook, id=ids.get((cook.cooker, cook.started_at), 0))

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

    def _show_alarm(self, record: AlarmRecord, now: Moment) -> None:
        self._show(
            f"{record.cooker}/alarm/{record.alarm}", alarm_payload(self._station, record, now)
        )

    def _show(self, topic: str, payload: Mapping[str, object]) -> None:
        for notifier in self._notifiers:
            notifier.show(topic, payload)
