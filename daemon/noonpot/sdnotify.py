"""Tells systemd how the service fares: a datagram to the socket that it names."""

import os
import socket
from collections.abc import Mapping


class ServiceNotice:
    """Sends the daemon's own state to systemd, as sd_notify(3) describes it.

    Where no socket is named (a terminal, a container) nothing is sent. A message that cannot be
    delivered is dropped: systemd's watchdog is there for the case that none gets through.
    """

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        address = environment.get("NOTIFY_SOCKET", "")
        # A leading @ stands for the zero byte of an abstract socket.
        self._address = "\0" + address[1:] if address.startswith("@") else address

    def ready(self) -> None:
        """All parts run."""
        self._send("READY=1")

    def alive(self) -> None:
        """Real work was done since the last time; due more often than WatchdogSec."""
        self._send("WATCHDOG=1")

    def status(self, sentence: str) -> None:
        """What ``systemctl status`` shows, in one line."""
        self._send(f"STATUS={' '.join(sentence.split())}")

    def stopping(self) -> None:
        """The service is about to end by itself."""
        self._send("STOPPING=1")

    def _send(self, message: str) -> None:
        if not self._address:
            return
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
            sender.settimeout(0)  # a full queue must not hold up the watch
            try:
                sender.sendto(message.encode(), self._address)
            except OSError:
                return
