"""What the daemon shows, as last heard, and whoever looks at it live."""

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, field

from noonpot.core.payloads import BEAT
from noonpot.ports import Clock

SILENT_S = 10.0
LOOK_S = 1.0
MOST_ALERTS = 100
ALERT = "alert"

Payload = Mapping[str, object]


@dataclass(frozen=True, slots=True)
class News:
    """One thing to pass on: ``kind`` is ``shown``, ``alert`` or ``feed``."""

    kind: str
    body: Payload


@dataclass(slots=True, eq=False)
class _Viewer:
    """One who looks: of each topic the newest waits for him, alerts all."""

    states: dict[str, Payload] = field(default_factory=dict)
    alerts: deque[Payload] = field(default_factory=lambda: deque(maxlen=MOST_ALERTS))
    news: asyncio.Event = field(default_factory=asyncio.Event)


class Board:
    """All topics with their last state. Lives in one event loop."""

    def __init__(self, life: Clock) -> None:
        self._life = life
        self._topics: dict[str, Payload] = {}
        self._viewers: set[_Viewer] = set()
        self._heard_s: float | None = None
        self._closed = False

    @property
    def topics(self) -> Mapping[str, Payload]:
        """The last state of each topic."""
        return self._topics

    @property
    def viewers(self) -> int:
        """How many look at it live."""
        return len(self._viewers)

    @property
    def alive(self) -> bool:
        """Whether the daemon was heard of late."""
        heard_s = self._heard_s
        return heard_s is not None and self._life.moment().mono_s - heard_s <= SILENT_S

    @property
    def time(self) -> str | None:
        """The newest time that a message told."""
        times = [p["time"] for p in self._topics.values() if isinstance(p.get("time"), str)]
        return max(map(str, times), default=None)

    def hear(self, topic: str, payload: Payload) -> None:
        """Take what the daemon says: a state, an alert, or a mere sign of life."""
        self._heard_s = self._life.moment().mono_s
        if topic not in (BEAT, ALERT):
            self._topics[topic] = payload
        for viewer in self._viewers if topic != BEAT else ():
            if topic == ALERT:
                viewer.alerts.append(payload)
            else:
                viewer.states[topic] = payload
            viewer.news.set()

    def close(self) -> None:
        """Let everybody go."""
        self._closed = True
        for viewer in self._viewers:
            viewer.news.set()

    async def look(self, welcome: Callable[[], bool]) -> AsyncIterator[News]:
        """All that is shown, then the news, for as long as the viewer is ``welcome``."""
        viewer = _Viewer(states=dict(self._topics))
        self._viewers.add(viewer)
        alive: bool | None = None
        try:
            while not self._closed and welcome():
                viewer.news.clear()
                states, viewer.states = viewer.states, {}
                for topic, payload in states.items():
                    yield News("shown", {"topic": topic, "payload": payload})
                while viewer.alerts:
                    yield News(ALERT, viewer.alerts.popleft())
                if alive is not self.alive:
                    alive = self.alive
                    yield News("feed", {"alive": alive})
                try:
                    await asyncio.wait_for(viewer.news.wait(), LOOK_S)
                except TimeoutError:
                    continue
        finally:
            self._viewers.discard(viewer)
