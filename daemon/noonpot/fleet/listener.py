"""One lasting connection to a broker that hears all stations and says nothing.

The session begins clean at every connection: the broker tells anew what it has in store, and keeps
nothing that would arrive as if it were new. What stations are commanded is not listened to, for it
carries their secrets.
"""

import logging
import ssl
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal, Protocol
from uuid import uuid4

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from noonpot.core.payloads import ROOT
from noonpot.fleet.board import MOST_BYTES

log = logging.getLogger(__name__)

FILTERS = (
    f"{ROOT}/+/status",
    f"{ROOT}/+/health",
    f"{ROOT}/+/+/alarm/+",
    f"{ROOT}/+/+/now",
    f"{ROOT}/+/+/forecast",
)
QOS = 0  # with more, mosquitto as it comes drops all but 1 020 of what it has in store
KEEPALIVE_S = 15
RETRY_S = (1, 10)

Heard = Callable[[str, bytes, bool], None]
"""Topic, body, and whether the broker had it in store."""


class Words(Protocol):
    """Why a broker cannot be used, in sentences."""

    def unreachable(self, error: BaseException | None, host: str, port: int) -> str:
        """No connection could be opened."""

    def refused(self, reason: ReasonCode, username: str | None) -> str:
        """The broker did not let us in."""


@dataclass(frozen=True, slots=True)
class BrokerAccess:
    """How to reach a broker; with ``tls`` the connection is encrypted."""

    host: str
    port: int = 1883
    protocol: Literal["5", "3.1.1"] = "5"
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: ssl.SSLContext | None = field(default=None, repr=False)

    @property
    def name(self) -> str:
        """The broker in words."""
        return f"{self.host} port {self.port}"


class _Client(mqtt.Client):
    """paho's client, with a network thread that an exception does not end."""

    def __init__(self, access: BrokerAccess, closed: threading.Event) -> None:
        v5 = access.protocol == "5"
        super().__init__(
            CallbackAPIVersion.VERSION2,
            client_id=f"noonpot-stations-{uuid4().hex[:8]}",  # as many may watch as like to
            clean_session=None if v5 else True,
            protocol=MQTTProtocolVersion.MQTTv5 if v5 else MQTTProtocolVersion.MQTTv311,
        )
        self._closed = closed
        self.username_pw_set(access.username, access.password)
        if access.tls is not None:
            self.tls_set_context(access.tls)
        self.reconnect_delay_set(*RETRY_S)
        properties = None
        if v5:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.MaximumPacketSize = MOST_BYTES
        self.connect_async(
            access.host,
            access.port,
            KEEPALIVE_S,
            clean_start=True if v5 else mqtt.MQTT_CLEAN_START_FIRST_ONLY,
            properties=properties,
        )

    def loop_forever(
        self,
        timeout: float = 1.0,
        retry_first_connection: bool = False,  # noqa: FBT001, FBT002 - as the parent has it
    ) -> MQTTErrorCode:
        """Run until told to end."""
        while True:
            try:
                return super().loop_forever(timeout, retry_first_connection)
            except Exception as error:  # whatever it was, we go on listening
                log.exception("listening fails, trying again", exc_info=error)
                if self._closed.wait(RETRY_S[1]):
                    return MQTTErrorCode.MQTT_ERR_UNKNOWN


class Listener:
    """Hears all stations for as long as it lives; ``heard`` is called in its thread.

    ``problem`` says in words why nothing can be heard now, "" while it can.
    """

    def __init__(self, access: BrokerAccess, words: Words, heard: Heard) -> None:
        self.problem = f"not yet connected to {access.name}"
        self.opened = threading.Event()  # whether it was ever let in
        self.refused = threading.Event()  # whether a person must put something right
        self._access = access
        self._words = words
        self._heard = heard
        self._closed = threading.Event()
        self._client = client = _Client(access, self._closed)
        client.on_connect = self._answered
        client.on_connect_fail = self._unreachable
        client.on_disconnect = self._broken
        client.on_subscribe = self._subscribed
        client.on_message = self._message
        client.loop_start()

    def close(self) -> None:
        """Hang up."""
        self._closed.set()
        self._client.disconnect()
        self._client.loop_stop()

    def _answered(
        self, client: mqtt.Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if reason.is_failure:
            self.problem = self._words.refused(reason, self._access.username)
            self.refused.set()
        else:
            client.subscribe([(filter_, QOS) for filter_ in FILTERS])

    def _subscribed(
        self, _: mqtt.Client, _data: object, _number: int, reasons: list[ReasonCode], _more: object
    ) -> None:
        denied = [f for f, reason in zip(FILTERS, reasons, strict=False) if reason.is_failure]
        if denied:
            self.problem = (
                f"{self._access.name} denies {', '.join(denied)}; check what this user may read"
            )
            self.refused.set()
            return
        self.problem = ""
        self.opened.set()

    def _unreachable(self, _client: mqtt.Client, _data: object) -> None:
        # paho keeps the error to itself, but calls from within the handler that caught it
        self.problem = self._words.unreachable(
            sys.exception(), self._access.host, self._access.port
        )
        self.refused.set()

    def _broken(
        self, _client: mqtt.Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if not self.problem:
            self.problem = f"the connection to {self._access.name} broke: {reason}"

    def _message(self, _client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        self._heard(message.topic, bytes(message.payload), message.retain)
