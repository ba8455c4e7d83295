"""One lasting connection to a message broker that hears some topics.

The session begins clean at every connection, so the broker keeps no messages for us while we are
away: they would arrive as if they were new.
"""

import logging
import sys
import threading
from collections.abc import Callable, Sequence
from uuid import uuid4

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from noonpot_hw.broker_access import BrokerAccess

log = logging.getLogger(__name__)

KEEPALIVE_S = 15
RETRY_S = (1, 10)

Heard = Callable[[str, bytes, bool], None]
"""Topic, payload, and whether the broker had it in store: then its age is not known."""


class _Client(mqtt.Client):
    """paho's client, with a network thread that an exception does not end.

    ``failed`` is told of it, and returns True when it is time to end nevertheless.
    """

    def __init__(self, access: BrokerAccess, failed: Callable[[Exception], bool]) -> None:
        super().__init__(
            CallbackAPIVersion.VERSION2,
            client_id=f"noonpot-hears-{uuid4().hex[:8]}",
            protocol=MQTTProtocolVersion.MQTTv311,  # every broker has it, and all that is needed
        )
        self._failed: Callable[[Exception], bool] | None = failed
        self.username_pw_set(access.username, access.password)
        if access.tls is not None:
            self.tls_set_context(access.tls)
        self.reconnect_delay_set(*RETRY_S)
        self.connect_async(access.host, access.port, KEEPALIVE_S)

    def loop_forever(
        self,
        timeout: float = 1.0,
        retry_first_connection: bool = False,  # noqa: FBT001, FBT002 - as the parent has it
    ) -> MQTTErrorCode:
        """Run until told to end."""
        while True:
            try:
                code = super().loop_forever(timeout, retry_first_connection)
                break
            except Exception as error:  # noqa: BLE001 - whatever it was, we go on listening
                if self._failed is None or self._failed(error):
                    code = MQTTErrorCode.MQTT_ERR_UNKNOWN
                    break
        # Let go of who listened: they hold this client, and nothing should keep its sockets.
        self.on_connect = self.on_connect_fail = self.on_disconnect = None
        self.on_subscribe = self.on_message = self._failed = None
        return code


class Listener:
    """Hears the topics for as long as it lives; ``heard`` is called in its thread.

    ``problem`` says in words why nothing can be heard now, empty while it can.
    """

    def __init__(self, access: BrokerAccess, topics: Sequence[str], heard: Heard) -> None:
        self.problem = f"not yet connected to {access.name}"
        self._access = access
        self._topics = topics
        self._heard = heard
        self._closed = threading.Event()
        self._client = client = _Client(access, self._failed)
        client.on_connect = self._answered
        client.on_connect_fail = self._unreachable
        client.on_disconnect = self._broken
        client.on_subscribe = self._subscribed
        client.on_message = self._message
        client.loop_start()

    def close(self) -> None:
        """Hang up. The thread ends by itself, at the latest when a try to connect has ended."""
        self._closed.set()
        self._client.disconnect()

    def _answered(
        self, client: mqtt.Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if self._closed.is_set():  # hung up while it was being opened
            client.disconnect()
        elif reason.is_failure:
            self.problem = f"{self._access.name} refuses us: {reason}; check username and password"
        else:
            client.subscribe([(topic, 1) for topic in self._topics])

    def _subscribed(self, *_: object) -> None:
        self.problem = ""

    def _unreachable(self, _client: mqtt.Client, _data: object) -> None:
        # paho keeps the error to itself, but calls from within the handler that caught it
        self.problem = f"{self._access.name} cannot be reached: {sys.exception()}"

    def _broken(
        self, _client: mqtt.Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if not self.problem:
            self.problem = f"the connection to {self._access.name} broke: {reason}"

    def _failed(self, error: Exception) -> bool:
        """Say so, and wait a little."""
        log.error("listening fails, trying again", exc_info=error)
        self.problem = f"listening to {self._access.name} fails: {error}"
        return self._closed.wait(RETRY_S[1])

    def _message(self, _client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        self._heard(message.topic, bytes(message.payload), message.retain)
