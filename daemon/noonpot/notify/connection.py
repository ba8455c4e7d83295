"""One lasting connection to a message broker: opened again whenever it breaks, started afresh when
the network thread itself dies, and never trusted to remember anything.
"""

import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Concatenate, ParamSpec

from paho.mqtt import client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from noonpot.notify import brokerwords
from noonpot.notify.client import Client
from noonpot.notify.doubt import Doubt, Sent
from noonpot.notify.options import MqttOptions
from noonpot.ports import Clock, Delivery, Health, Outcome

STUCK_AFTER = 3  # acknowledgements missed in a row, then the connection is taken for dead
GOODBYE_S = 2.0
ANSWER_EXPIRES_S = 60.0  # who asked has put the phone away by then
LONGEST_EXPIRY_S = 2**32 - 1  # MQTT 5.0 section 3.3.2.3.3: a four byte integer

P = ParamSpec("P")


@dataclass(frozen=True, slots=True)
class Problem:
    """Why there is no connection, in words, and since when."""

    text: str
    since: datetime


@dataclass(slots=True)
class _Receipt:
    """What is awaited for one message. The acknowledgement may come before ``publish`` has returned
    the number it refers to, so all are kept until that is known.
    """

    key: str
    number: int | None = None
    answers: dict[int, ReasonCode] = field(default_factory=dict)
    lost: bool = False
    missed: int = 0

    @property
    def answer(self) -> ReasonCode | None:
        """What the broker said of this message."""
        return None if self.number is None else self.answers.get(self.number)


def _contained(
    callback: Callable[Concatenate["Connection", mqtt.Client, P], None],
) -> Callable[Concatenate["Connection", mqtt.Client, P], None]:
    """Keep an exception in a callback from ending the network thread, and count it.

    A client that was let go is not listened to; should it connect after all, it is sent away.
    """

    def contained(
        self: "Connection", client: mqtt.Client, /, *args: P.args, **kwargs: P.kwargs
    ) -> None:
        try:
            if client is self._client and not self._closed:
                callback(self, client, *args, **kwargs)
            elif client.is_connected():
                client.disconnect()
        except Exception:  # noqa: BLE001 - whatever it was, the network thread must live on
            self._health.count("mqtt-callback-errors")

    return contained


@dataclass(frozen=True, slots=True)
class Listening:
    """What to hear: ``heard`` is called in the network thread with topic, body, and whether the
    broker had the message in store.
    """

    filter: str
    heard: Callable[[str, bytes, bool], None]


class Connection:
    """Keeps one connection open for as long as it lives.

    ``last_will`` gives topic and body of the message the broker tells when the line breaks, None
    for none; ``on_open`` is called in the network thread each time the broker has let us in. With
    ``listening`` it also hears: the session begins clean each time, so that the broker keeps
    nothing for us that would arrive as if it were new.

    Two rules keep the threads from a deadlock: no call into paho while ``_changed`` is held, and no
    waiting in a callback.
    """

    def __init__(
        self,
        options: MqttOptions,
        clock: Clock,
        health: Health,
        last_will: Callable[[], tuple[str, bytes] | None],
        on_open: Callable[[], None],
        listening: Listening | None = None,
    ) -> None:
        self._options = options
        self._clock = clock
        self._health = health
        self._last_will = last_will
        self._on_open = on_open
        self._listening = listening
        self._tls = options.tls()
        self._changed = threading.Condition()
        self._receipt: _Receipt | None = None
        self._doubt = Doubt()
        self._problem: Problem | None = None
        self._heard = False  # whether the broker has answered on the present line
        self._closed = False
        self._down(f"not yet connected to {options.host} port {options.port}")
        self._client = Client(options, self._tls)

    def open(self) -> None:
        """Begin to connect, in the background."""
        client = self._client
        client.on_pre_connect = self._before_connecting
        client.on_connect = self._answered
        client.on_connect_fail = self._unreachable
        client.on_disconnect = self._broken
        client.on_publish = self._acknowledged
        client.on_subscribe = self._subscribed
        client.on_message = self._message
        client.loop_start()

    @property
    def problem(self) -> Problem | None:
        """Why nothing can be sent, None while it can."""
        if self._problem is None and self._client.ended.is_set():
            self._down("the network thread has died; it will be started again")
        return self._problem

    def publish(self, to: str, body: bytes) -> None:
        """Send a retained message if there is a connection, and do not wait."""
        if self.problem is None:
            self._client.publish(to, body, qos=1, retain=True)

    def answer(self, to: str, body: bytes) -> None:
        """Send a message of the moment if there is a connection, and do not wait."""
        if self.problem is None:
            self._publish_once(self._client, to, body, ANSWER_EXPIRES_S)

    def deliver(self, to: str, body: bytes, key: str, expires_in_s: float) -> Delivery:
        """Send one message and wait until the broker has it, at most ``ack_limit_s``.

        A message whose acknowledgement was missed is not sent again on the same connection: the
        next call with its ``key`` goes on waiting. One caller at a time.
        """
        client, problem = self._client, self.problem
        if problem is not None:
            return Delivery(Outcome.RETRY, problem.text)
        with self._changed:
            receipt = self._receipt
            if receipt is None or receipt.key != key:
                receipt = self._receipt = _Receipt(key)
        if receipt.number is None:
            receipt.number = self._publish_once(client, to, body, expires_in_s)
        with self._changed:
            self._changed.wait_for(
                lambda: receipt.lost or receipt.answer is not None, self._options.ack_limit_s
            )
            delivery = self._verdict(receipt)
        if delivery.outcome is Outcome.SENT:
            now_s = self._clock.moment().mono_s
            self._doubt.add(Sent(to, body, now_s, now_s + expires_in_s))
        return delivery

    def supervise(self) -> None:
        """Start afresh when the network thread has died, or when nothing is acknowledged any more
        on a connection that looks alive. Call it every few seconds.
        """
        client, receipt = self._client, self._receipt
        stuck = receipt is not None and receipt.missed >= STUCK_AFTER
        if self._closed or not (stuck or client.ended.is_set()):
            return
        cause = "the broker acknowledges nothing" if stuck else client.cause or "its thread ended"
        self._down(f"the connection had to be started again: {cause}")
        self._health.count("mqtt-restarts")
        client.abandon()
        self._client = Client(self._options, self._tls)
        self.open()

    def close(self, goodbye: tuple[str, bytes] | None) -> None:
        """Leave a last retained message, if there is one, and part from the broker; returns within
        two seconds.

        The goodbye goes out with QoS 0 ahead of DISCONNECT on the same stream: a broker that reads
        DISCONNECT, and drops the last will for it, has read the goodbye before. One that does not
        read it tells the last will.
        """
        if self._closed:
            return
        client, problem = self._client, self.problem
        self._closed = True
        self._down("closed")
        del self._last_will, self._on_open, self._listening  # whoever gave them can now be let go
        if problem is None:
            if goodbye is not None:
                client.publish(*goodbye, qos=0, retain=True)
            client.disconnect()
            client.ended.wait(GOODBYE_S)
        else:
            client.disconnect()

    def _down(self, text: str) -> None:
        """Note why nothing can be sent; whatever was under way is lost."""
        now = self._clock.moment()
        with self._changed:
            if self._problem is None:
                self._doubt.broken(now.mono_s)
            self._problem = Problem(text, self._problem.since if self._problem else now.at)
            if self._receipt is not None:
                self._receipt.lost = True
                self._receipt = None
            self._changed.notify_all()

    def _publish_once(self, client: mqtt.Client, to: str, body: bytes, expires_in_s: float) -> int:
        """Send a message that is not retained; returns the number it will be acknowledged by. With
        MQTT 5 the broker drops it when it could not be passed on in time.
        """
        properties = None
        if self._options.protocol == "5":
            properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
            properties.MessageExpiryInterval = int(min(max(1.0, expires_in_s), LONGEST_EXPIRY_S))
        return client.publish(to, body, qos=1, properties=properties).mid

    def _verdict(self, receipt: _Receipt) -> Delivery:
        """What became of a message that was waited for. Holds ``_changed``."""
        answer = receipt.answer
        if answer is None and not receipt.lost:
            receipt.missed += 1
            return Delivery(Outcome.RETRY, "the broker does not acknowledge")
        self._receipt = None
        if answer is None:
            text = self._problem.text if self._problem else "the connection broke"
            return Delivery(Outcome.RETRY, text)
        if not answer.is_failure:
            return Delivery(Outcome.SENT)
        # Rights or a quota can be put right by a person while the alert is still worth telling.
        return Delivery(Outcome.RETRY, brokerwords.unaccepted(answer))

    @_contained
    def _before_connecting(self, client: mqtt.Client, _data: object) -> None:
        """Deposit the last will anew, and let paho forget what it did not get through: what still
        counts is kept elsewhere, and is sent again from there, in order.
        """
        self._heard = False
        client.drop_out_messages()
        last_will = self._last_will()
        if last_will is not None:
            client.will_set(*last_will, qos=1, retain=True)

    @_contained
    def _answered(
        self, client: mqtt.Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        self._heard = True
        if reason.is_failure:
            self._client.knock_slowly()
            self._down(brokerwords.refused(reason, self._options.username))
            return
        self._client.knock_often()
        now_s = self._clock.moment().mono_s
        for sent in self._doubt.again(now_s):  # first, so that nothing newer overtakes it
            self._publish_once(client, sent.to, sent.body, sent.until_s - now_s)
        self._problem = None
        if self._listening is not None:
            self._subscribe(client, self._listening.filter)
        self._on_open()

    def _subscribe(self, client: mqtt.Client, to: str) -> None:
        """With MQTT 5, what is stored for later comes marked as such even the first time."""
        if self._options.protocol == "5":
            client.subscribe(to, options=SubscribeOptions(qos=1, retainAsPublished=True))
        else:
            client.subscribe(to, qos=1)

    @_contained
    def _unreachable(self, _: mqtt.Client, _data: object) -> None:
        # paho keeps the error to itself, but calls from within the handler that caught it
        error = sys.exception()
        self._down(brokerwords.unreachable(error, self._options.host, self._options.port))

    @_contained
    def _broken(
        self, _: mqtt.Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if not self._heard:
            self._down(brokerwords.unanswered(self._options.host, self._options.port))
        elif self._problem is None:  # else it was refused, and why is known
            self._health.count("mqtt-breaks")
            self._down(brokerwords.broken(reason, self._options.client_id))

    @_contained
    def _subscribed(
        self, _: mqtt.Client, _data: object, _number: int, reasons: list[ReasonCode], _more: object
    ) -> None:
        if any(reason.is_failure for reason in reasons):
            self._health.count("mqtt-unheard")

    @_contained
    def _message(self, _: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        if self._listening is not None:
            self._listening.heard(message.topic, bytes(message.payload), message.retain)

    @_contained
    def _acknowledged(
        self, _: mqtt.Client, _data: object, number: int, reason: ReasonCode, _more: object
    ) -> None:
        with self._changed:
            receipt = self._receipt
            if receipt is not None and receipt.number in (None, number):
                receipt.answers[number] = reason
                self._changed.notify_all()
            elif reason.is_failure:
                self._health.count("mqtt-states-refused")
