"""A real message broker for tests, and a person's phone that listens to it."""

import getpass
import json
import os
import shutil
import signal
import socket
import subprocess
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

DEADLINE_S = 10.0


def until(condition: Callable[[], bool], what: str) -> None:
    """Look again and again, at most ten seconds."""
    pause = threading.Event()
    for _ in range(1000):
        if condition():
            return
        pause.wait(DEADLINE_S / 1000)
    raise AssertionError(f"not within {DEADLINE_S:.0f} s: {what}")


def program(name: str) -> str:
    """Where a program is. Raises RuntimeError when it is not installed."""
    path = shutil.which(name, path=f"{os.environ['PATH']}:/usr/sbin")
    if path is None:
        raise RuntimeError(f"{name} is missing: sudo apt install mosquitto openssl")
    return path


def free_port() -> int:
    """A port of the loopback interface on which nobody listens now."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


def listens(port: int) -> bool:
    """Whether somebody answers on the port."""
    with socket.socket() as sock:
        return sock.connect_ex(("127.0.0.1", port)) == 0


class Broker:
    """mosquitto on a loopback port. ``access`` are the lines of its configuration that say who may
    come in and how; ``folder`` keeps what it remembers."""

    def __init__(self, folder: Path, *access: str) -> None:
        self.port = free_port()
        self.folder = folder
        self._access = access or ("allow_anonymous true",)
        self._data = folder / "mosquitto.db"
        self._saved: bytes | None = None
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> Self:
        """Start it, on the same port and data as before; returns once it answers."""
        self.folder.mkdir(parents=True, exist_ok=True)
        config = self.folder / "mosquitto.conf"
        lines = (
            f"user {getpass.getuser()}",
            f"listener {self.port} 127.0.0.1",
            "persistence true",
            f"persistence_location {self.folder}/",
            "autosave_interval 1",
            "max_queued_messages 0",
            f"log_dest file {self.folder / 'log'}",
            *self._access,
        )
        config.write_text("\n".join(lines) + "\n")
        self._process = subprocess.Popen([program("mosquitto"), "-c", config])
        until(self._answers, "mosquitto answers")
        return self

    def _answers(self) -> bool:
        if self._process is None or self._process.poll() is not None:
            raise RuntimeError(f"mosquitto ended: {(self.folder / 'log').read_text()}")
        return listens(self.port)

    def stop(self) -> None:
        """End it as the service manager does."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it as a crash does."""
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(DEADLINE_S)
            self._process = None

    def freeze(self) -> None:
        """Let it hang: connections stay open, nothing is answered."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def has_unread(self) -> bool:
        """Whether a client has sent it something that it has not read; asks the kernel."""
        for line in Path("/proc/net/tcp").read_text().splitlines()[1:]:
            _, local, _, state, queues, *_ = line.split()
            established = local.endswith(f":{self.port:04X}") and state == "01"
            if established and int(queues.partition(":")[2], 16) > 0:
                return True
        return False

    def thaw(self) -> None:
        """Let it go on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def save(self) -> None:
        """Have it write to disk all that it remembers."""
        assert self._process is not None
        before = self._data.stat().st_mtime_ns if self._data.exists() else 0
        self._process.send_signal(signal.SIGUSR1)
        until(lambda: self._data.exists() and self._data.stat().st_mtime_ns > before, "it saves")
        self._saved = self._data.read_bytes()

    def fall_back(self) -> None:
        """Lose all that came after the last ``save``, or everything; it must not be running."""
        if self._saved is None:
            self._data.unlink(missing_ok=True)
        else:
            self._data.write_bytes(self._saved)

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_: object) -> None:
        if self._process is not None:
            self.thaw()
        self.kill()


@dataclass(frozen=True)
class Message:
    """One message as the phone got it."""

    topic: str
    body: bytes
    qos: int
    retained: bool
    expires_in_s: int | None

    @property
    def json(self) -> dict[str, Any]:
        """What it says."""
        told = json.loads(self.body)
        assert isinstance(told, dict)
        return told


class Phone:
    """An independent client with a lasting MQTT 5 session. ``prepare`` may give it a password."""

    def __init__(
        self,
        port: int,
        *topics: str,
        name: str = "phone",
        prepare: Callable[[mqtt.Client], None] = lambda _: None,
    ) -> None:
        self._topics = topics
        self._messages: list[Message] = []
        self._changed = threading.Condition()
        self._listening = threading.Event()
        lasting = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        lasting.SessionExpiryInterval = 3600
        client = mqtt.Client(
            CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTProtocolVersion.MQTTv5
        )
        prepare(client)
        client.reconnect_delay_set(1, 1)
        client.on_connect = self._connected
        client.on_subscribe = lambda *_: self._listening.set()
        client.on_message = self._heard
        client.connect_async("127.0.0.1", port, clean_start=False, properties=lasting)
        client.loop_start()
        self._client = client
        assert self._listening.wait(DEADLINE_S), "the phone could not subscribe"

    def _connected(
        self, client: mqtt.Client, _: object, flags: mqtt.ConnectFlags, *_more: object
    ) -> None:
        if flags.session_present:
            self._listening.set()
        else:
            client.subscribe([(topic, 1) for topic in self._topics])

    def _heard(self, _client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        told = Message(
            topic=message.topic,
            body=bytes(message.payload),
            qos=message.qos,
            retained=message.retain,
            expires_in_s=getattr(message.properties, "MessageExpiryInterval", None),
        )
        with self._changed:
            self._messages.append(told)
            self._changed.notify_all()

    def messages(self, end: str = "") -> list[Message]:
        """All messages so far whose topic ends so."""
        with self._changed:
            return [m for m in self._messages if m.topic.endswith(end)]

    def wait(self, condition: Callable[[], bool], what: str) -> None:
        """Wait until what was heard fulfils the condition."""
        with self._changed:
            heard = self._changed.wait_for(condition, DEADLINE_S)
        assert heard, f"not within {DEADLINE_S:.0f} s: {what}; heard {self._messages}"

    def wait_for(self, end: str, **values: object) -> dict[str, Any]:
        """Wait for a message whose topic ends so and whose keys have these values; the newest."""

        def fitting() -> list[Message]:
            return [m for m in self.messages(end) if values.items() <= m.json.items()]

        self.wait(lambda: bool(fitting()), f"{end} with {values}")
        return fitting()[-1].json

    def close(self) -> None:
        """Hang up; the session stays with the broker."""
        self._client.disconnect()
        self._client.loop_stop()
        self._client.on_connect = self._client.on_subscribe = self._client.on_message = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
