"""paho's client, which also tells when its network thread has ended: ``is_connected`` does not."""

import socket
import ssl
import threading
from contextlib import suppress

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from noonpot.notify.options import MqttOptions

FIRST_RETRY_S = 1
AWAY_RETRY_S = 10  # on a home network one try every ten seconds troubles nobody
MOST_BYTES = 65_536  # with MQTT 5 the broker keeps larger messages from us, and from our memory
REFUSED_RETRY_S = 60  # a refused login needs a person; knocking faster only fills the broker's log


class Client(mqtt.Client):
    """Like its parent, one message under way at a time, trying again for ever."""

    def __init__(self, options: MqttOptions, tls: ssl.SSLContext | None) -> None:
        v5 = options.protocol == "5"
        super().__init__(
            CallbackAPIVersion.VERSION2,
            client_id=options.client_id,
            clean_session=None if v5 else True,
            protocol=MQTTProtocolVersion.MQTTv5 if v5 else MQTTProtocolVersion.MQTTv311,
        )
        self.ended = threading.Event()
        self.cause: Exception | None = None
        self.username_pw_set(options.username, options.password)
        if tls is not None:
            self.tls_set_context(tls)
        self.max_inflight_messages_set(1)
        self.knock_often()
        properties = None
        if v5:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.MaximumPacketSize = MOST_BYTES
        self.connect_async(
            options.host,
            options.port,
            options.keepalive_s,
            clean_start=True if v5 else mqtt.MQTT_CLEAN_START_FIRST_ONLY,
            properties=properties,
        )

    def knock_often(self) -> None:
        """After a break, try again soon."""
        self.reconnect_delay_set(FIRST_RETRY_S, AWAY_RETRY_S)

    def knock_slowly(self) -> None:
        """After a refusal, give a person time to put it right."""
        self.reconnect_delay_set(REFUSED_RETRY_S, REFUSED_RETRY_S)

    def loop_forever(
        self,
        timeout: float = 1.0,
        retry_first_connection: bool = False,  # noqa: FBT001, FBT002 - as the parent has it
    ) -> MQTTErrorCode:
        """Run until told to end. An exception ends the thread, and ``supervise`` looks at it."""
        try:
            return super().loop_forever(timeout, retry_first_connection)
        except Exception as exc:  # noqa: BLE001 - whatever it was, supervise() starts afresh
            self.cause = exc
            return MQTTErrorCode.MQTT_ERR_UNKNOWN
        finally:
            self.ended.set()
            # Let go of who listened: they hold this client, and nothing should keep its sockets.
            self.on_pre_connect = self.on_connect = self.on_connect_fail = None
            self.on_disconnect = self.on_publish = self.on_subscribe = self.on_message = None

    def abandon(self) -> None:
        """Cut the line without a goodbye, so that the broker tells the last will."""
        sock = self.socket()
        if isinstance(sock, socket.socket):
            with suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)
        self.disconnect()
