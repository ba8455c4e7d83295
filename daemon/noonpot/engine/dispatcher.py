"""From the outbox to the people: one channel, in order, until each alert is settled."""

import logging
import threading
from collections import deque
from collections.abc import Sequence

from noonpot.core.alert import Alert, together
from noonpot.core.moment import Moment
from noonpot.engine.gathering import Gathering
from noonpot.errors import StoreError
from noonpot.ports import Clock, Delivery, Health, Notifier, Outbox, Outcome, Signal

log = logging.getLogger(__name__)

BATCH = 20
IDLE_S = 10.0
FIRST_RETRY_S = 1.0
LAST_RETRY_S = 60.0
TELL_S = 35.0
"""A notifier takes no longer for one attempt: 30 s and the end of its helper process [s]."""
LOOK_S = 10.0
"""The store has answered by then, and a wait that is over has ended [s] (our choice)."""


class Dispatcher:
    """Tells the alerts of one channel, the oldest first: each by itself, or with a ``gathering``
    several in one message.

    An alert is settled only after the notifier has it. If the program dies in between, it is told
    again with the same id, and the receiver drops the double. While one alert cannot be told, those
    behind it wait, so that no "all well" overtakes its alarm; it holds them up until it expires at
    the longest. One that may have arrived is told once more, and then settled as unconfirmed.
    """

    def __init__(
        self,
        notifier: Notifier,
        outbox: Outbox,
        clock: Clock,
        health: Health,
        gathering: Gathering | None = None,
    ) -> None:
        self._notifier = notifier
        self._outbox = outbox
        self._clock = clock
        self._health = health
        self._gathering = gathering
        self._awake = threading.Event()
        self._retry_s = FIRST_RETRY_S
        self._failure = ""
        self._trouble = ""
        self._handed: deque[Alert] = deque()
        self._settled: dict[str, str] = {}  # outcomes that the store has not noted yet
        self._unsure: set[str] = set()
        self._unnoted = ""  # why an outcome could not be noted in this turn
        self._due_s = 0.0  # by then something must have got on
        self._get_on(LOOK_S)

    @property
    def channel(self) -> str:
        """The name under which the outbox keeps account of it."""
        return self._notifier.channel

    @property
    def failure(self) -> str:
        """Why alerts wait, in words; empty when none does."""
        return self._failure

    @property
    def trouble(self) -> str:
        """Why the last alert was not told, or not surely; empty again after the next that was."""
        return self._trouble

    def stalled(self, now: Moment) -> bool:
        """Whether what it does, looking, telling or waiting, takes so long that it must hang."""
        return now.mono_s > self._due_s

    def kick(self) -> None:
        """Look at once: there is a new alert, the channel has come back, or it is time to stop."""
        self._retry_s = FIRST_RETRY_S
        self._awake.set()

    def hand(self, alert: Alert) -> None:
        """Take an alert that could not be stored; it is told like the others, and not waited for.
        When the store brings it after all, it is not told again.
        """
        self._handed.append(alert)
        self.kick()

    def run(self, stop: Signal) -> None:
        """Take turns until ``stop`` is given; ``kick`` after giving it."""
        while True:
            self._awake.clear()
            if stop.is_set():
                return
            self._get_on(LOOK_S)
            wait_s = self.turn()
            self._get_on(wait_s + LOOK_S)
            self._clock.wait(self._awake, wait_s)

    def _get_on(self, within_s: float) -> None:
        """Something was done; the next thing will be within so many seconds."""
        self._due_s = self._clock.moment().mono_s + within_s

    def turn(self) -> float:
        """Tell what can be told now. Returns how long to wait before the next turn [s]."""
        try:
            return self._tell_all()
        except Exception as exc:  # noqa: BLE001 - a broken notifier or store must not end the telling
            self._count("errors")
            return self._later(f"{type(exc).__name__}: {exc}")

    def _tell_all(self) -> float:
        self._unnoted = ""
        found = self._found()
        alerts = self._worth_telling(found)
        while alerts:
            parcel, wait_s = self._parcel(alerts)
            if not parcel:
                if not self._trouble:
                    self._at_ease()
                return min(wait_s, IDLE_S)
            failure = self._tell(parcel)
            if failure is not None:
                return self._later(failure)
            alerts = self._worth_telling([alert for alert in alerts if alert not in parcel])
        if self._unnoted:
            self._count("errors")
            return self._later(self._unnoted)
        self._at_ease()
        return 0.0 if len(found) >= BATCH else IDLE_S

    def _at_ease(self) -> None:
        self._retry_s = FIRST_RETRY_S
        if self._failure:
            log.info("%s: nothing waits any longer", self.channel)
            self._failure = ""

    def _found(self) -> Sequence[Alert]:
        """What waits: that which was handed over, then what the store holds."""
        handed = list(self._handed)
        try:
            stored = self._outbox.unsent(self.channel, BATCH)
        except StoreError:
            if not handed:
                raise
            stored = ()
        known = {alert.id for alert in stored}
        return [*(alert for alert in handed if alert.id not in known), *stored]

    def _worth_telling(self, alerts: Sequence[Alert]) -> Sequence[Alert]:
        """Those that are to be told still; the others are settled.

        While the clock cannot be trusted nothing expires: a late alert is better than a lost one.
        If the store could not note an outcome, it is bothered again here, not the people.
        """
        now, worth = self._clock.moment(), []
        for alert in alerts:
            if alert.id in self._settled:
                self._settle([alert], self._settled[alert.id])
            elif now.trusted and alert.expires_at <= now.at:
                self._note([alert], "expired", self._failure or "its time was over")
            elif self._gathering is not None and not self._gathering.wanted(alert):
                self._settle([alert], "left-out")
            else:
                worth.append(alert)
        return worth

    def _parcel(self, alerts: Sequence[Alert]) -> tuple[Sequence[Alert], float]:
        if self._gathering is None:
            return alerts[:1], 0.0
        return self._gathering.parcel(alerts, self._clock.moment())

    def _tell(self, parcel: Sequence[Alert]) -> str | None:
        """Tell one message, and settle what is in it. Returns why it has to be told again."""
        self._get_on(TELL_S)
        delivery = self._notifier.tell(together(parcel))
        self._get_on(LOOK_S)
        if delivery.outcome is Outcome.RETRY:
            self._trouble = delivery.reason
            return delivery.reason
        if self._gathering is not None:
            self._gathering.told(self._clock.moment())
        if delivery.outcome is Outcome.UNSURE:
            return self._doubt(parcel, delivery)
        if delivery.outcome is Outcome.SENT:
            self._trouble, self._retry_s = "", FIRST_RETRY_S
        self._note(parcel, delivery.outcome, delivery.reason)
        return None

    def _doubt(self, parcel: Sequence[Alert], delivery: Delivery) -> str:
        """A message that may have arrived is told once more, so that it comes twice at the most."""
        self._trouble = delivery.reason
        twice = [alert for alert in parcel if alert.id in self._unsure]
        self._unsure ^= {alert.id for alert in parcel}
        self._note(twice, "unconfirmed", delivery.reason)
        return delivery.reason

    def _note(self, alerts: Sequence[Alert], outcome: str, reason: str) -> None:
        for alert in alerts:
            self._count(outcome)
            if outcome != Outcome.SENT:
                log.warning("%s: %s alert %s: %s", self.channel, outcome, alert.id, reason)
        self._settle(alerts, outcome)

    def _settle(self, alerts: Sequence[Alert], outcome: str) -> None:
        self._settled |= {alert.id: outcome for alert in alerts}
        for alert in alerts:
            if alert in self._handed:
                self._handed.remove(alert)
            else:
                try:
                    self._outbox.settle(self.channel, alert.id, outcome)
                except StoreError as error:  # noted later; what else waits is told meanwhile
                    self._unnoted = f"{type(error).__name__}: {error}"
                    continue
                del self._settled[alert.id]

    def _later(self, failure: str) -> float:
        """Wait longer after each failure in a row, and log it only when it reads differently."""
        if failure != self._failure:
            log.warning("%s: alerts wait: %s", self.channel, failure)
            self._failure = failure
        wait_s = self._retry_s
        self._retry_s = min(2 * wait_s, LAST_RETRY_S)
        return wait_s

    def _count(self, what: str) -> None:
        self._health.count(f"{self.channel}-{what}")
