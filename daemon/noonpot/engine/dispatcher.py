"""From the outbox to the people: one channel, in order, until each alert is settled."""

import logging
import threading

from noonpot.core.alert import Alert
from noonpot.ports import Clock, Health, Notifier, Outbox, Outcome, Signal

log = logging.getLogger(__name__)

BATCH = 20
IDLE_S = 10.0
FIRST_RETRY_S = 1.0
LAST_RETRY_S = 60.0


class Dispatcher:
    """Tells the alerts of one channel, the oldest first.

    An alert is settled only after the notifier has it. If the program dies in between, it is told
    again with the same id, and the receiver drops the double. While one alert cannot be told, those
    behind it wait, so that no "all well" overtakes its alarm; it holds them up until it expires at
    the longest.
    """

    def __init__(self, notifier: Notifier, outbox: Outbox, clock: Clock, health: Health) -> None:
        self._notifier = notifier
        self._outbox = outbox
        self._clock = clock
        self._health = health
        self._awake = threading.Event()
        self._retry_s = FIRST_RETRY_S
        self._failure = ""
        self._told = ("", "")  # the last alert that was dealt with, and the outcome

    def kick(self) -> None:
        """Look at once: there is a new alert, the channel has come back, or it is time to stop."""
        self._retry_s = FIRST_RETRY_S
        self._awake.set()

    def run(self, stop: Signal) -> None:
        """Take turns until ``stop`` is given; ``kick`` after giving it."""
        while True:
            self._awake.clear()
            if stop.is_set():
                return
            self._clock.wait(self._awake, self.turn())

    def turn(self) -> float:
        """Tell what can be told now. Returns how long to wait before the next turn [s]."""
        try:
            return self._tell_all()
        except Exception as exc:  # noqa: BLE001 - a broken notifier or store must not end the telling
            self._count("errors")
            return self._later(f"{type(exc).__name__}: {exc}")

    def _tell_all(self) -> float:
        alerts = self._outbox.unsent(self._notifier.channel, BATCH)
        for alert in alerts:
            if alert.id != self._told[0]:
                outcome, reason = self._outcome(alert)
                if outcome == Outcome.RETRY:
                    return self._later(reason)
                self._note(alert, outcome, reason)
                self._told = (alert.id, outcome)
            # If the store cannot note it, the next turn bothers the store again, not the people.
            self._outbox.settle(self._notifier.channel, *self._told)
        self._retry_s = FIRST_RETRY_S
        if self._failure:
            log.info("%s: nothing waits any longer", self._notifier.channel)
            self._failure = ""
        return 0.0 if len(alerts) == BATCH else IDLE_S

    def _outcome(self, alert: Alert) -> tuple[str, str]:
        """What becomes of the alert now, and why.

        While the clock cannot be trusted nothing expires: a late alert is better than a lost one.
        """
        now = self._clock.moment()
        if now.trusted and alert.expires_at <= now.at:
            return "expired", self._failure or "its time was over"
        delivery = self._notifier.tell(alert)
        return delivery.outcome.value, delivery.reason

    def _note(self, alert: Alert, outcome: str, reason: str) -> None:
        self._count(outcome)
        if outcome == Outcome.SENT:
            self._retry_s = FIRST_RETRY_S
        else:
            log.warning("%s: %s alert %s: %s", self._notifier.channel, outcome, alert.id, reason)

    def _later(self, failure: str) -> float:
        """Wait longer after each failure in a row, and log it only when it reads differently."""
        if failure != self._failure:
            log.warning("%s: alerts wait: %s", self._notifier.channel, failure)
            self._failure = failure
        wait_s = self._retry_s
        self._retry_s = min(2 * wait_s, LAST_RETRY_S)
        return wait_s

    def _count(self, what: str) -> None:
        self._health.count(f"{self._notifier.channel}-{what}")
