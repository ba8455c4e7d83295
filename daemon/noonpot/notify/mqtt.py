"""Telling over MQTT: alerts to people, states to whoever looks; docs/messages.md shows them all."""

import json
import threading
from collections.abc import Callable, Mapping
from typing import Literal

from noonpot.core.alert import Alert, Answer
from noonpot.core.payloads import alert_payload, did_payload, status_payload, topic
from noonpot.notify.commands import Commands
from noonpot.notify.connection import Connection, Listening, Problem
from noonpot.notify.options import MqttOptions
from noonpot.ports import Clock, Delivery, Health, Outcome


class MqttNotifier:
    """Brings alerts to a broker, and keeps the states there as good as new.

    It connects in the background: making one neither waits nor fails when the broker is away. The
    broker is taken for a cache: on every connection all states shown so far are published again.
    ``on_open`` is called each time there is a connection, in the network thread, perhaps before
    this notifier is even made; it must not wait. Without ``commands`` it hears nothing.

    Raises NotifierError when the file of ``tls_ca`` cannot be used.
    """

    channel = "mqtt"

    def __init__(
        self,
        options: MqttOptions,
        clock: Clock,
        health: Health,
        *,
        version: str,
        on_open: Callable[[], None] = lambda: None,
        commands: Commands | None = None,
    ) -> None:
        self._options = options
        self._clock = clock
        self._health = health
        self._version = version
        self._telling = threading.Lock()
        self._shown: dict[str, bytes] = {}
        self._on_open = on_open
        self._commands = commands
        self._connection = Connection(
            options,
            clock,
            health,
            last_will=lambda: self._last_word(last_will=True),
            on_open=self._opened,
            listening=None if commands is None else Listening(commands.filter, self._heard),
        )
        self._connection.open()

    @property
    def problem(self) -> Problem | None:
        """Why nothing can be sent, in words, None while it can."""
        return self._connection.problem

    def tell(self, alert: Alert) -> Delivery:
        """Hand one alert to the broker; returns at the latest after twice ``ack_limit_s``.

        What is worth another try (no connection, no answer, missing rights, a full broker) is
        RETRY; only a message that itself cannot be carried is REFUSED.
        """
        if not self._telling.acquire(timeout=self._options.ack_limit_s):
            return Delivery(Outcome.RETRY, "another alert is being told")
        try:
            try:
                body = _json(alert_payload(self._options.alert_station, alert))
            except ValueError as exc:
                return Delivery(Outcome.REFUSED, f"the text cannot be sent: {exc}")
            left_s = (alert.expires_at - self._clock.moment().at).total_seconds()
            return self._connection.deliver(
                topic(self._options.alert_station, "alert"), body, alert.id, left_s
            )
        finally:
            self._telling.release()

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """Keep a state visible under a topic relative to the station, such as ``box/now``. A topic
        or payload that MQTT or JSON cannot carry is counted and left out.
        """
        try:
            full, body = self._topic(*topic.split("/")), _json(payload)
        except (TypeError, ValueError):
            self._health.count("mqtt-unfit-states")
            return
        self._shown[full] = body
        self._publish(full)

    def answer(self, answer: Answer) -> None:
        """Tell the phone what came of its command, if there is a connection."""
        payload = did_payload(self._options.station, answer, self._clock.moment())
        self._connection.answer(self._topic(answer.cooker, "did"), _json(payload))

    def supervise(self) -> None:
        """Heal a connection whose network thread has died. Call it about every five seconds."""
        self._connection.supervise()

    def close(self) -> None:
        """Say that the station goes offline, and part; returns within a few seconds."""
        self._connection.close(self._last_word())

    def _heard(self, to: str, body: bytes, retained: bool) -> None:  # noqa: FBT001
        if self._commands is not None:
            answer = self._commands.hear(to, body, retained=retained)
            if answer is not None:
                self.answer(answer)

    def _opened(self) -> None:
        if not self._options.visiting:
            self._connection.publish(*self._status("online"))
        for full in list(self._shown):
            self._publish(full)
        self._on_open()

    def _publish(self, full: str) -> None:
        """Publish the newest body of a topic.

        Two threads may do so at once, the network thread with all states and another with a new
        one: who finds a newer body afterwards sends that too, so that the newest is the last.
        """
        body = None
        while body is not self._shown[full]:
            body = self._shown[full]
            self._connection.publish(full, body)

    def _last_word(self, *, last_will: bool = False) -> tuple[str, bytes] | None:
        """What stays at the broker when we go. A visitor leaves nothing: it would stay for good, as
        a station that there is not.
        """
        return None if self._options.visiting else self._status("offline", last_will=last_will)

    def _status(
        self, status: Literal["online", "offline"], *, last_will: bool = False
    ) -> tuple[str, bytes]:
        payload = status_payload(
            self._options.station,
            self._clock.moment(),
            self._version,
            status,
            last_will=last_will,
        )
        return self._topic("status"), _json(payload)

    def _topic(self, *levels: str) -> str:
        return topic(self._options.station, *levels)


def _json(payload: Mapping[str, object]) -> bytes:
    """Compact JSON. Raises TypeError or ValueError for what JSON cannot say, NaN among it."""
    return json.dumps(payload, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
