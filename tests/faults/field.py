"""A station with four pots whose temperatures a test sets, for the real daemon and a real broker.

Every pot that gets hot is an alert: `preheated` without delays, raised anew each time.
"""

import random
import signal
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from broker import Broker, Message, Phone, listens
from e2e.orchard import CLOCK, Garden, Orchard
from hw.spi import SpiBench, word
from noonpot.core.cook import Event, EventKind
from noonpot.store.inbox import hand_in

COOKERS = ("box", "barrel", "basin", "bowl")
COOL_C, HOT_C = 80.0, 100.0
DEADLINE_S = 30.0
COOKER = """
[[cooker]]
name = "{name}"

[[probe]]
name = "{name}-pot"
role = "pot"
bus = "spi"
address = "{node}"
cooker = "{name}"
max_rate_c_per_s = 100
"""


def lasting_port() -> int:
    """A port nobody takes while the broker is away for long: the system gives out none below 32768
    by itself, not even to whoever knocks at it again and again.
    """
    for port in random.sample(range(20_000, 30_000), 100):
        if not listens(port):
            return port
    raise AssertionError("of 100 ports none is free")


@contextmanager
def lasting_broker(folder: Path) -> Iterator[Broker]:
    """A broker that can come back to its port whenever it likes."""
    broker = Broker(folder)
    broker.port = lasting_port()
    with broker:
        yield broker


def until(
    condition: Callable[[], bool], what: Callable[[], str], limit_s: float = DEADLINE_S
) -> float:
    """Wait for it with patience for a busy machine; returns how long it took [s]."""
    never, begun_s = threading.Event(), CLOCK.moment().mono_s
    while not condition():
        assert CLOCK.moment().mono_s - begun_s < limit_s, what()
        CLOCK.wait(never, 0.02)
    return CLOCK.moment().mono_s - begun_s


class Field(Orchard):
    """The orchard with three cookers more."""

    def __init__(self, folder: Path, port: int) -> None:
        garden = Garden(folder)
        super().__init__(folder, garden, port)
        self._bench = SpiBench(folder)
        self._inbox = folder / "data" / "inbox"
        more = [self._bench.node(f"spidev0.{n}", word(COOL_C, 26.0)) for n in (1, 2, 3)]
        self.nodes = dict(zip(COOKERS, [garden.node, *more], strict=True))
        self.edit(f'devices = ["{garden.node}"]', f"devices = {[garden.node, *more]}")
        self.edit("[alarm.preheated]\non_delay_s = 1", "[alarm.preheated]\non_delay_s = 0")
        self.edit("on_delay_s = 0\n", "on_delay_s = 0\noff_delay_s = 0\n")
        text = self.file.read_text()
        beds = [COOKER.format(name=n, node=self.nodes[n]) for n in COOKERS[1:]]
        self.file.write_text("".join([text, *beds]))
        self.show(COOL_C)

    def show(self, celsius: float) -> None:
        """Let all pots have this temperature."""
        for node in self.nodes.values():
            self._bench.send(node, word(celsius, 26.0))

    def cook(self) -> None:
        """Begin a cook in each cooker."""
        self.ready()
        for name in COOKERS:
            event = Event(name, CLOCK.moment().at, EventKind.START, {"food": "flatbread"})
            hand_in(self._inbox, event)
        self.wait(lambda: len(self.select("SELECT * FROM cook")) == len(COOKERS), "the cooks begin")

    @property
    def pid(self) -> int:
        """The number of the daemon's process."""
        assert self._process is not None
        return self._process.pid

    def send(self, how: signal.Signals) -> None:
        """Send the daemon a signal, and do not wait for what it does."""
        if self._process is not None:
            self._process.send_signal(how)

    def wait(self, condition: Callable[[], bool], what: str) -> float:
        """Wait for it; what the daemon said is told when it fails. Returns how long it took [s]."""
        return until(condition, lambda: f"{what}: {self.log()[-2000:]}")

    def is_cool(self) -> bool:
        """Whether no pot is held to be hot any more."""
        query = "SELECT state FROM alarm WHERE alarm = 'preheated'"
        states = [state for (state,) in self.select(query)]
        return len(states) == len(COOKERS) and "unacknowledged" not in states

    def outbox(self) -> Mapping[str, Sequence[str]]:
        """The ids of all alerts in the data file, those of each alarm in order."""
        rows = self.select("SELECT cooker, alarm, id FROM alert ORDER BY seq")
        return by_alarm(rows)

    def states(self) -> dict[str, str]:
        """How every alarm of the data file stands, by the end of its topic."""
        rows = self.select("SELECT cooker, alarm, state FROM alarm")
        return {f"{cooker}/alarm/{alarm}": state for cooker, alarm, state in rows}


def by_alarm(rows: Sequence[tuple[str, str, str]]) -> Mapping[str, Sequence[str]]:
    """Ids by cooker and alarm, in order; an id that comes again is dropped."""
    found: dict[str, list[str]] = {}
    for cooker, alarm, number in rows:
        ids = found.setdefault(f"{cooker}/{alarm}", [])
        if number not in ids:
            ids.append(number)
    return found


def heard(phone: Phone) -> Mapping[str, Sequence[str]]:
    """The ids a careful reader keeps, those of each alarm in the order they first came."""
    told = [m.json for m in phone.messages("/alert")]
    return by_alarm([(t["cooker"], t["alarm"], t["id"]) for t in told])


def doubles(messages: Sequence[Message]) -> int:
    """How many messages brought an id that had come before."""
    counted = Counter(m.json["id"] for m in messages)
    return sum(counted.values()) - len(counted)
