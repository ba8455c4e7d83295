"""One round: filter, watch, write down, show. What a person must be told is stored first."""

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from noonpot.core.advice import advice
from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.moment import Moment
from noonpot.core.payloads import alarm_payload, forecast_payload, now_payload
from noonpot.core.readings import Sample
from noonpot.core.stationfacts import OWN
from noonpot.engine.clockguard import ClockStep
from noonpot.engine.ledger import Ledger
from noonpot.engine.memory import Memory, memory
from noonpot.engine.sieve import Sieve
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.errors import CookError, StoreError
from noonpot.ports import Given, Health, Journal, Notifier

log = logging.getLogger(__name__)

SHOW_S = 60.0
FORECAST_S = 60.0
GIVEN_S = 600.0
"""A forecast is kept for later so often; from one minute to the next they hardly differ [s]."""


class Pipeline:
    """Carries readings and events of all cookers through one round after the other.

    ``live`` are notifiers that want to see the cookers in every round that brings readings; the
    others are shown them once a minute, and after every event.
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
        live: Sequence[Notifier] = (),
        commit_s: float = 10.0,
        on_alert: Callable[[], None] = lambda: None,
    ) -> None:
        self._station = station
        self._watches = watches
        self._sieve = Sieve(filters)
        self._journal = journal
        self._notifiers = notifiers
        self._live = live
        self._health = health
        self._own = () if own is None else (own,)
        self._ledger = Ledger(
            journal,
            notifiers,
            health,
            commit_s=commit_s,
            on_written=self._say_written,
            on_alert=on_alert,
        )
        self._shown_s = float("-inf")
        self._given_s: dict[str, float] = {}

    @property
    def waiting(self) -> bool:
        """Whether events or alerts could not be written down yet."""
        return self._ledger.waiting

    def resume(self, now: Moment) -> None:
        """Take up the cooks, alarms and calibrations that the store knows, and show where every
        alarm stands.
        """
        for calibration in self._journal.calibrations().values():
            self._sieve.correct(calibration)
        self._take_up()
        self._show_alarms(now)

    def _show_alarms(self, now: Moment) -> None:
        records = [watch.records for watch in self._watches]
        records += [own.records for own in self._own]
        for record in (record for each in records for record in each.values()):
            self._show_alarm(record, now)

    def round(
        self, now: Moment, samples: Sequence[Sample], events: Sequence[Event]
    ) -> dict[int, str]:
        """Carry news through. Returns the reason for each event that did not fit, by its index."""
        heard = self._sieve.sift(samples)
        self._ledger.enter(samples=heard)
        refused = self._take(events, now)
        true = self._sieve.corrected(heard)
        moved: list[AlarmRecord] = []
        alerts = False
        for watch in self._watches:
            outcome = watch.step(now, true, self._sieve.faults)
            found = outcome.alarms
            self._ledger.enter(cooks=outcome.cooks, alarms=found.changed, alerts=found.alerts)
            moved += found.moved
            alerts |= bool(found.alerts)
        for own in self._own:
            found = own.step(now, cooking=any(watch.cook for watch in self._watches))
            self._ledger.enter(alarms=found.changed, alerts=found.alerts)
            moved += found.moved
            alerts |= bool(found.alerts)
        if events or moved or alerts or self._ledger.due(now):
            self.write(now)
        for record in moved:
            self._show_alarm(record, now)
        if events or now.mono_s - self._shown_s >= SHOW_S:
            self.show(now)
        elif heard:
            self._show_cookers(self._live, now)
        self._foresee(now)
        return refused

    def clock_stepped(self, step: ClockStep, now: Moment) -> None:
        """Note in every cooker's record that the wall clock jumped. When it was set for the first
        time since boot, the store has moved all times of this boot: the cooks are read anew.
        Otherwise the store keeps them, and only the forecasts move them.
        """
        text = f"clock corrected by {step.shift_s:+.0f} s"
        self._ledger.enter(
            events=[
                Event(w.cooker.name, now.at, EventKind.NOTE, {"text": text}) for w in self._watches
            ]
        )
        self._health.count("clock-steps")
        for own in self._own:
            own.clock_stepped(step, now)
        if not self.write(now):
            return
        try:
            if step.was_trusted:
                self._tell_anew()
            else:
                self._take_up()
                self._show_alarms(now)
        except StoreError as error:
            self._health.count("store-failures")
            log.error("the clock was set, but what was before cannot be read: %s", error)  # noqa: TRY400

    def write(self, now: Moment) -> bool:
        """Write all that waits, in one transaction; True when it is written."""
        written = self._ledger.write(now)
        if written is not None:
            self._adopt(written)
        return written is not None

    def _say_written(self, failure: StoreError | None) -> None:
        for own in self._own:
            own.written(failure)

    def show(self, now: Moment) -> None:
        """Make visible how every cooker stands."""
        self._shown_s = now.mono_s
        self._show_cookers([*self._notifiers, *self._live], now)

    def _show_cookers(self, notifiers: Sequence[Notifier], now: Moment) -> None:
        for watch in self._watches if notifiers else ():
            case = watch.case(now)
            payload = now_payload(self._station, case.facts, now, advice(case))
            for notifier in notifiers:
                notifier.show(f"{watch.cooker.name}/now", payload)

    def _foresee(self, now: Moment) -> None:
        """Make and show the forecast that is most overdue: one a round, after all that is urgent,
        because it takes the longest of all.
        """
        watch = max(self._watches, key=lambda w: w.unforeseen_s(now))
        if watch.unforeseen_s(now) < FORECAST_S:
            return
        name, forecast = watch.cooker.name, watch.foresee(now)
        if forecast is None:
            return
        self._show(f"{name}/forecast", forecast_payload(self._station, name, forecast))
        cook, given_s = watch.cook, self._given_s.get(name, float("-inf"))
        if cook is not None and cook.id and now.mono_s - given_s >= GIVEN_S:
            self._given_s[name] = now.mono_s
            self._ledger.enter(forecasts=[Given(cook.id, forecast)])

    def _take_up(self) -> None:
        cooks = {cook.cooker: cook for cook in self._journal.running_cooks()}
        records = self._journal.alarm_records()
        for watch in self._watches:
            name = watch.cooker.name
            cook = cooks.get(name)
            past = Memory() if cook is None else memory(self._journal, watch.probes, cook)
            watch.restore(cook, [r for r in records if r.cooker == name], past)
        for own in self._own:
            own.restore(records)

    def _tell_anew(self) -> None:
        """Let the forecasts see what was, as the clock of now would tell it."""
        for watch in self._watches:
            if watch.cook is not None:
                watch.clock_stepped(memory(self._journal, watch.probes, watch.cook))

    def _take(self, events: Sequence[Event], now: Moment) -> dict[int, str]:
        refused: dict[int, str] = {}
        watches: dict[str, Watch | StationWatch] = {w.cooker.name: w for w in self._watches}
        watches.update((OWN, own) for own in self._own)
        for index, event in enumerate(events):
            watch = watches.get(event.cooker)
            try:
                if watch is None:
                    raise CookError(f"there is no cooker named {event.cooker!r}")
                if event.kind is EventKind.UNDO and isinstance(watch, Watch):
                    self._take_back(watch, event, now)
                    continue  # it is written already
                if event.kind is EventKind.CALIBRATE:
                    self._calibrate(watch, event)
                else:
                    watch.take(event, now)
            except CookError as error:
                refused[index] = str(error)
            else:
                self._ledger.enter(events=[event])
        return refused

    def _calibrate(self, watch: Watch | StationWatch, event: Event) -> None:
        if not isinstance(watch, StationWatch):
            raise CookError(f"{event.cooker}: probes are calibrated at the {OWN}, not at a cooker")
        calibration = watch.calibration(event)
        self._sieve.correct(calibration)
        self._ledger.enter(calibrations=[calibration])

    def _take_back(self, watch: Watch, undo: Event, now: Moment) -> None:
        """Take back what was said of a cooker, and watch it as if that had not been said."""
        self._ledger.enter(cooks=watch.changed())
        if not self.write(now):
            raise CookError(f"{undo.cooker}: the card takes nothing now, so nothing is taken back")
        try:
            cook = self._journal.take_back(now, undo)
        except StoreError as error:
            raise CookError(f"{undo.cooker}: nothing is taken back: {error}") from error
        if cook is not None:
            watch.retell(cook, memory(self._journal, watch.probes, cook), now)

    def _adopt(self, written: Sequence[Cook]) -> None:
        """Give the running cooks the ids under which the store knows them."""
        ids = {(cook.cooker, cook.started_at): cook.id for cook in written}
        for watch in self._watches:
            cook = watch.cook
            if cook is not None and cook.id == 0:
                watch.cook = replace(cook, id=ids.get((cook.cooker, cook.started_at), 0))

    def _show_alarm(self, record: AlarmRecord, now: Moment) -> None:
        shelvable = record.cooker == OWN or self._may_shelve(record, now)
        payload = alarm_payload(self._station, record, now, may_shelve=shelvable)
        self._show(f"{record.cooker}/alarm/{record.alarm}", payload)

    def _may_shelve(self, record: AlarmRecord, now: Moment) -> bool:
        watch = next(w for w in self._watches if w.cooker.name == record.cooker)
        return not watch.case(now).policy(record.alarm).safety

    def _show(self, topic: str, payload: Mapping[str, object]) -> None:
        for notifier in [*self._notifiers, *self._live]:
            notifier.show(topic, payload)
