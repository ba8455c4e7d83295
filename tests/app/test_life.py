"""The real daemon with threads that freeze or die: healed, or no sign of life any more."""

import socket
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from noonpot.app.daemon import Daemon, Parts
from noonpot.app.machine import DATA_FILE
from noonpot.clock import FastClock, SystemClock
from noonpot.core.alert import Alert
from noonpot.core.cook import Event
from noonpot.core.readings import Defect, Measured
from noonpot.ports import Delivery, Found, Health, Outcome
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.reading import load
from noonpot.store.sqlite import Store
from simday import SimpleSun

RATE = 100.0  # a second of the test is so many of the daemon
DEADLINE_S = 20.0
SETTLED_S = 3.0  # 300 s of the daemon
CONFIG = """
[station]
name = "garden"
latitude = 40
longitude = -105
elevation_m = 1600

[[bus]]
name = "wires"
driver = "simulated"

[[cooker]]
name = "box"

[[probe]]
name = "box-pot"
role = "pot"
bus = "wires"
address = "box/pot"
cooker = "box"
"""


class Death(BaseException):
    """What no handler of ordinary errors catches."""


class Spell:
    """Lies on whoever passes: nothing, frost until it is lifted, or death, once."""

    def __init__(self) -> None:
        self.frozen = threading.Event()
        self.lifted = threading.Event()
        self.lifted.set()
        self.deadly = False

    def passed(self) -> None:
        if self.deadly:
            self.deadly = False
            raise Death
        if not self.lifted.is_set():
            self.frozen.set()
            self.lifted.wait(DEADLINE_S)


class Bus:
    """One probe that shows a warm pot."""

    def __init__(self) -> None:
        self.spell = Spell()

    def scan(self) -> Sequence[Found]:
        return ()

    def read(self, _address: str) -> Measured | Defect:
        self.spell.passed()
        return Measured(60.0)

    def notice(self, event: Event) -> None:
        pass

    def close(self) -> None:
        pass


class Phone:
    """A channel whose thread comes by to look for alerts."""

    channel = "phone"

    def tell(self, _alert: Alert) -> Delivery:
        return Delivery(Outcome.SENT)

    def show(self, _topic: str, _payload: Mapping[str, object]) -> None:
        pass

    def close(self) -> None:
        pass


class Spelled(Store):
    """The real store; who asks it for alerts can be put under a spell."""

    def __init__(self, path: Path, clock: FastClock) -> None:
        self.telling = Spell()
        super().__init__(path, clock)

    def unsent(self, channel: str, limit: int) -> Sequence[Alert]:
        self.telling.passed()
        return super().unsent(channel, limit)


class Service:
    """The daemon at work, and systemd's end of the line."""

    def __init__(self, store: Spelled, bus: Bus, health: Health, line: socket.socket) -> None:
        self.store, self.bus, self.health, self.line = store, bus, health, line

    def beats(self, seconds: float) -> int:
        """How many signs of life come within so many seconds."""
        clock, count = SystemClock(), 0
        end_s = clock.moment().mono_s + seconds
        while (left_s := end_s - clock.moment().mono_s) > 0:
            self.line.settimeout(left_s)
            try:
                count += self.line.recv(100) == b"WATCHDOG=1"
            except TimeoutError:
                break
        return count

    def beats_again(self) -> bool:
        self.line.settimeout(DEADLINE_S)
        return any(self.line.recv(100) == b"WATCHDOG=1" for _ in range(5))

    def until(self, condition: Callable[[], bool]) -> None:
        clock, never = SystemClock(), threading.Event()
        end_s = clock.moment().mono_s + DEADLINE_S
        while not condition():
            assert clock.moment().mono_s < end_s
            never.wait(0.01)


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    with running(tmp_path) as service:
        yield service


@contextmanager
def running(folder: Path) -> Iterator[Service]:
    (folder / "noonpot.toml").write_text(
        CONFIG.replace("[station]", f'[station]\ndata = "{folder}"')
    )
    settings = load(folder / "noonpot.toml")
    clock = FastClock(datetime(2026, 6, 3, 16, 0, tzinfo=UTC), RATE)
    bus, health = Bus(), Health()
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
        line.bind(str(folder / "line"))
        with Spelled(folder / DATA_FILE, clock) as store:
            notice = ServiceNotice({"NOTIFY_SOCKET": str(folder / "line")})
            parts = Parts(clock, store, {"wires": bus}, SimpleSun(), [Phone()], health, notice)
            daemon = Daemon(settings, parts)
            working = threading.Thread(target=daemon.run, name="rounds")
            clock.go()
            working.start()
            try:
                service = Service(store, bus, health, line)
                assert service.beats_again()
                yield service
            finally:
                for spell in (bus.spell, store.telling):
                    spell.lifted.set()
                daemon.stop.set()
                daemon.kick()
                working.join(DEADLINE_S)
                assert not working.is_alive()


def test_a_healthy_daemon_gives_a_sign_of_life_well_within_the_minute(service: Service) -> None:
    # every 15 s, the first of them that comes after the wait began
    assert 4 <= service.beats(1.2) <= 9


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_threads_that_die_are_replaced_and_the_signs_of_life_go_on(service: Service) -> None:
    service.bus.spell.deadly = True
    service.until(lambda: service.health.counts.get("threads-restarted") == 1)
    service.store.telling.deadly = True
    service.until(lambda: service.health.counts.get("threads-restarted") == 2)
    assert service.beats_again()


def test_a_frozen_channel_ends_the_signs_of_life_until_it_moves_again(service: Service) -> None:
    spell = service.store.telling
    spell.lifted.clear()
    assert spell.frozen.wait(DEADLINE_S)
    service.beats(SETTLED_S)
    assert service.beats(1.0) == 0
    spell.lifted.set()
    assert service.beats_again()


def test_a_frozen_bus_is_named_and_worth_no_restart(service: Service) -> None:
    spell = service.bus.spell
    spell.lifted.clear()
    assert spell.frozen.wait(DEADLINE_S)
    service.until(lambda: service.health.counts.get("hung-buses") == 1)
    assert service.beats(1.0) >= 3
