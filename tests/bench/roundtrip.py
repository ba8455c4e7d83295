"""The floor under an alert: a message from one bare client to another through the broker."""

import threading
from typing import Self

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from bench.processes import CLOCK
from broker import DEADLINE_S

TOPIC, SIZE = "bare/alert", 400


class RoundTrip:
    """Two clients of the same library that know nothing of each other."""

    def __init__(self, port: int) -> None:
        self._heard, listening = threading.Event(), threading.Event()
        self._speaker, self._listener = (
            mqtt.Client(CallbackAPIVersion.VERSION2, client_id=name) for name in ("says", "hears")
        )
        self._listener.on_message = lambda *_: self._heard.set()
        self._listener.on_subscribe = lambda *_: listening.set()
        for client in (self._speaker, self._listener):
            client.connect("127.0.0.1", port)
            client.loop_start()
        self._listener.subscribe(TOPIC, qos=1)
        assert listening.wait(DEADLINE_S), "the listener could not subscribe"

    def took_s(self) -> float:
        """How long one message needs [s]."""
        self._heard.clear()
        begun_s = CLOCK.moment().mono_s
        self._speaker.publish(TOPIC, b"x" * SIZE, qos=1)
        assert self._heard.wait(DEADLINE_S), "the message did not arrive"
        return CLOCK.moment().mono_s - begun_s

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for client in (self._speaker, self._listener):
            client.disconnect()
            client.loop_stop()
