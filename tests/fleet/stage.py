"""Played stations on real connections, each with its own last will.

Run: python stage.py PORT FIRST STATIONS MINUTES MINUTE_S. It says how many messages went out, waits
for a line on its input after the first, and ends by being killed or by the end of its input.
"""

import json
import sys
import threading
from collections.abc import Sequence
from functools import partial
from typing import Self

from fleet.parts import until
from fleet.play import Played
from noonpot.clock import SystemClock
from noonpot.core.alarms import AlarmState
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.ports import Health

AT_ONCE = 50  # connections begun; a broker takes only so many that wait


def _open(notifier: MqttNotifier) -> bool:
    return notifier.problem is None


class Stage:
    """Some stations at a broker on loopback."""

    def __init__(self, port: int, stations: Sequence[Played]) -> None:
        self.clock = SystemClock()
        self.sent: dict[str, int] = {}  # messages by kind
        self.bytes = 0
        self._stations: dict[Played, MqttNotifier] = {}
        for first in range(0, len(stations), AT_ONCE):
            some = stations[first : first + AT_ONCE]
            self._stations |= {played: self._connected(port, played) for played in some}
            for played in some:
                until(partial(_open, self._stations[played]), "the broker lets the station in")

    def _connected(self, port: int, played: Played) -> MqttNotifier:
        options = MqttOptions("127.0.0.1", port, played.name, keepalive_s=60)
        return MqttNotifier(options, self.clock, Health(), version="9.9")

    def begin(self) -> None:
        """Every alarm, and the first minute."""
        for played, notifier in self._stations.items():
            for topic, payload in played.first(self.clock.moment()):
                self._show(notifier, topic, payload)

    def minute(self, number: int, pause_s: float = 0.0) -> None:
        """What they all say in one minute, spread over it."""
        rest = threading.Event()
        for played, notifier in self._stations.items():
            for topic, payload in played.minute(number, self.clock.moment()):
                self._show(notifier, topic, payload)
            if pause_s:
                self.clock.wait(rest, pause_s / len(self._stations))

    def calm_minute(self, played: Played, number: int) -> None:
        """What one says in a minute in which no alarm changes."""
        for topic, payload in played.minute(number, self.clock.moment()):
            if "/alarm/" not in topic:
                self._show(self._stations[played], topic, payload)

    def raise_alarm(self, played: Played, cooker: str, name: str) -> None:
        """An alarm of one begins to wait."""
        state = AlarmState.UNACKNOWLEDGED
        self._show(self._stations[played], *played.alarm(cooker, name, state, self.clock.moment()))

    def show(self, played: Played, topic: str, payload: dict[str, object]) -> None:
        """Anything, said by one."""
        self._show(self._stations[played], topic, payload)

    def die(self, played: Played) -> None:
        """One goes without a goodbye."""
        notifier = self._stations.pop(played)
        notifier._connection._client.abandon()  # noqa: SLF001  as supervise() does

    def _show(self, notifier: MqttNotifier, topic: str, payload: dict[str, object]) -> None:
        kind = "alarm" if "/alarm/" in topic else topic.rpartition("/")[2]
        self.sent[kind] = self.sent.get(kind, 0) + 1
        self.bytes += len(json.dumps(payload, ensure_ascii=False, separators=(",", ":")).encode())
        notifier.show(topic, payload)

    def close(self) -> None:
        """Everybody says goodbye."""
        for notifier in self._stations.values():
            notifier.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def main(port: int, first: int, count: int, minutes: int, minute_s: float) -> None:
    """Play; see above."""

    def tell(word: str) -> None:
        print(json.dumps({"at": word, "sent": stage.sent, "bytes": stage.bytes}), flush=True)

    stage = Stage(port, [Played(first + number) for number in range(count)])
    stage.begin()
    tell("begun")
    sys.stdin.readline()
    for number in range(1, minutes + 1):
        stage.minute(number, minute_s)
    tell("played")
    sys.stdin.readline()


if __name__ == "__main__":
    at, start, many, lasting = map(int, sys.argv[1:5])
    main(at, start, many, lasting, float(sys.argv[5]))
