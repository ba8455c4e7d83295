"""Values that somebody else measures and tells a message broker: a weather station, say.

What the broker had in store (a *retained* message) may be a minute or a year old, and nobody can
tell: it is not believed. Only what arrives while we listen is, and only for a while.
"""

import re
import threading
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from noonpot.core.cook import Event
from noonpot.core.names import meant
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Clock, Found, Surroundings
from noonpot_hw.broker_access import ACCESS_OPTIONS, BrokerAccess, access_of
from noonpot_hw.payload import MOST_BYTES, number_in

OPTIONS = ("topics", "stale_s", *ACCESS_OPTIONS)
DEFAULT_STALE_S = 120.0
PATIENCE_S = 5.0
"""So long the first reads wait for a value: a station that speaks often is heard at once."""

# A topic without wildcards, then maybe "#" and a key of a JSON object.
_ADDRESS = re.compile(r"[^+#\x00]+(#[^#]+)?")


class _Message(NamedTuple):
    payload: bytes
    heard_s: float


class TopicBus:
    """Some topics of one broker. An address is a topic, or ``topic#key`` for one value in a JSON
    object: no topic has a ``#``.
    """

    def __init__(
        self, access: BrokerAccess, addresses: Sequence[str], stale_s: float, clock: Clock
    ) -> None:
        from noonpot_hw.listener import Listener

        self._addresses = tuple(addresses)
        self._stale_s = stale_s
        self._clock = clock
        self._patient_until_s = clock.moment().mono_s + PATIENCE_S
        topics = sorted({_parts(address)[0] for address in addresses})
        self._spoken = {topic: threading.Event() for topic in topics}
        self._newest: dict[str, _Message] = {}
        self._stored: set[str] = set()
        self._listener = Listener(access, topics, self._heard)

    def scan(self) -> Sequence[Found]:
        """All addresses; a topic does not show that somebody speaks there."""
        return [Found(address, "value from a message broker") for address in self._addresses]

    def read(self, address: str) -> Measured | Defect:
        """The newest value at this address [°C; W/m²]."""
        if address not in self._addresses:
            known = ", ".join(self._addresses)
            return Defect(FaultKind.NOT_ANSWERING, f"{address} is none of the topics {known}")
        topic, key = _parts(address)
        patience_s = self._patient_until_s - self._clock.moment().mono_s
        if patience_s > 0:
            self._clock.wait(self._spoken[topic], patience_s)
        message = self._newest.get(topic)
        if message is None:
            return Defect(FaultKind.NOT_ANSWERING, self._silence(topic))
        age_s = self._clock.moment().mono_s - message.heard_s
        if age_s > self._stale_s:
            why = self._listener.problem
            told = f"last value {age_s:.0f} s ago" + (f"; {why}" if why else "")
            return Defect(FaultKind.NOT_ANSWERING, told)
        return number_in(message.payload, key)

    def notice(self, event: Event) -> None:
        """Whoever measures does not ask us."""

    def close(self) -> None:
        """Hang up, and let nobody wait any longer."""
        self._listener.close()
        for spoken in self._spoken.values():
            spoken.set()

    def _heard(self, topic: str, payload: bytes, stored: bool) -> None:  # noqa: FBT001
        """Called in the listener's thread; one assignment each, so no lock is needed."""
        if stored:
            self._stored.add(topic)
            return
        self._newest[topic] = _Message(payload[: MOST_BYTES + 1], self._clock.moment().mono_s)
        self._spoken[topic].set()

    def _silence(self, topic: str) -> str:
        if self._listener.problem:
            return self._listener.problem
        if topic in self._stored:
            return "only a retained value so far, and its age is not known; waiting for a new one"
        return "nothing heard yet; check the topic, and what we may read"


def open_bus(options: Mapping[str, object], surroundings: Surroundings) -> Bus:
    """The bus behind a ``[[bus]]`` section with ``driver = "topic"``.

    Options: ``topics``, the addresses in a list; ``stale_s``, for how long a value is believed [s];
    and how the broker is reached, see ``broker_access``. Raises BusError for a wrong option.
    """
    for key in options:
        if key not in OPTIONS:
            raise BusError(f"topic: option {key!r} is unknown; {meant(key, OPTIONS)}")
    topics = options.get("topics")
    if not isinstance(topics, list) or not topics:
        raise BusError(f'topic: topics is {topics!r}; give a list as ["weather/roof/sun"]')
    for address in topics:
        if not isinstance(address, str) or not _ADDRESS.fullmatch(address):
            raise BusError(
                f"topic: topics holds {address!r}; give a topic without + and #, or, for one value "
                "in a JSON object, topic#key"
            )
    stale_s = options.get("stale_s", DEFAULT_STALE_S)
    if isinstance(stale_s, bool) or not isinstance(stale_s, int | float):
        raise BusError(f"topic: stale_s is {stale_s!r}; give seconds, for instance 120")
    if not 1 <= stale_s <= 3600:
        raise BusError(f"topic: stale_s is {stale_s}; it must be between 1 and 3600")
    return TopicBus(access_of(options), topics, float(stale_s), surroundings.clock)


def _parts(address: str) -> tuple[str, str]:
    """Topic and key, which may be empty."""
    topic, _, key = address.partition("#")
    return topic, key
