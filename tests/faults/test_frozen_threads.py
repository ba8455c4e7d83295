"""A thread of the daemon freezes, each in turn: what is to be told is told within 70 s.

The test plays systemd's part, by the numbers of the unit file: a daemon that gives no sign of life
for 30 s is ended, and started again 5 s later.
"""

import ctypes
import os
import re
import signal
import socket
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, suppress
from functools import partial
from pathlib import Path

import pytest

from broker import Broker, Phone
from e2e.orchard import CLOCK
from faults.extent import FULL, Tell
from faults.field import COOKERS, HOT_C, Field, lasting_broker, until

UNIT = Path(__file__).parents[2] / "systemd" / "noonpot.service"
TOLD_S = 70.0
SEIZE, INTERRUPT = 0x4206, 0x4207  # ptrace(2)
ALL_THREADS = 0x40000000  # __WALL of waitpid(2)
SETTLED = 2
"""After so many signs of life a daemon that was started is at rest."""
PATIENCE_S = 90.0


def unit_s(key: str) -> float:
    """A time of the unit file [s]."""
    found = re.search(rf"^{key}=(\d+)$", UNIT.read_text(), re.MULTILINE)
    assert found is not None
    return float(found[1])


def freeze(thread: int) -> None:
    """Stop one thread of another process. Raises OSError where the system does not allow it."""
    libc = ctypes.CDLL(None, use_errno=True)
    libc.ptrace.argtypes = (ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p)
    for request in (SEIZE, INTERRUPT):
        if libc.ptrace(request, thread, None, None) != 0:
            raise OSError(ctypes.get_errno(), f"thread {thread} cannot be stopped")
    os.waitpid(thread, ALL_THREADS)  # until it has stopped


class Service:
    """A station of its own name under the care of a service manager."""

    def __init__(self, folder: Path, broker: Broker, name: str) -> None:
        folder.mkdir()
        self.name = name
        self.starts = 0
        self.told_s: float | None = None
        self._field = Field(folder, broker.port)
        self._field.edit('name = "orchard"', f'name = "{name}"')
        self._ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._ear.bind(str(folder / "notify"))
        self._ear.setblocking(False)
        self._field.environment = {"NOTIFY_SOCKET": str(folder / "notify")}
        self._signs, self._alive_s, self._again_s = 0, CLOCK.moment().mono_s, 0.0
        self._frozen = 0

    def start(self) -> None:
        """Start the daemon, as the manager does."""
        self._field.start()
        self.starts += 1
        self._signs, self._alive_s = 0, CLOCK.moment().mono_s

    def settled(self) -> bool:
        """Whether the daemon has worked for a while."""
        self.care()
        return self._signs >= SETTLED

    def care(self) -> None:
        """Do what a service manager does now."""
        now_s = CLOCK.moment().mono_s
        if self._again_s:
            if now_s >= self._again_s:
                self._again_s = 0.0
                self.start()
            return
        while said := self._heard():
            self._alive_s = now_s
            self._signs += said == b"WATCHDOG=1"
        if now_s - self._alive_s > unit_s("WatchdogSec"):
            self._kill(signal.SIGABRT)
            self._again_s = CLOCK.moment().mono_s + unit_s("RestartSec")

    def cook(self) -> None:
        """Begin a cook in each cooker."""
        self._field.cook()

    def heat(self) -> None:
        """From now on there is something to tell of each cooker."""
        self._field.show(HOT_C)

    def threads(self) -> dict[str, int]:
        """The daemon's threads by name, the first of all being called ``main``."""
        tasks = Path(f"/proc/{self._field.pid}/task")
        named = {(task / "comm").read_text().strip(): int(task.name) for task in tasks.iterdir()}
        return {**named, "main": self._field.pid}

    def freeze(self, name: str) -> None:
        """Let this thread stand still. Raises OSError where the system does not allow it."""
        thread = self.threads()[name]
        freeze(thread)
        self._frozen = thread

    def log(self) -> str:
        """What the daemon said."""
        return self._field.log()

    def end(self) -> None:
        """End it, whatever it does."""
        self._kill(signal.SIGKILL)
        self._ear.close()

    def _kill(self, how: signal.Signals) -> None:
        self._field.send(how)
        if self._frozen:
            with suppress(ChildProcessError):
                os.waitpid(
                    self._frozen, ALL_THREADS
                )  # whoever stopped it must take note of its end
        self._frozen = 0
        self._field.end(how)

    def _heard(self) -> bytes:
        try:
            return self._ear.recv(4096)
        except BlockingIOError:
            return b""


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with lasting_broker(tmp_path / "broker") as broker:
        yield broker


def told_of(phone: Phone, name: str) -> bool:
    """Whether every cooker of a station was told of."""
    alerts = phone.messages(f"noonpot/{name}/alert")
    return {alert.json["cooker"] for alert in alerts} >= set(COOKERS)


def care_for(services: Sequence[Service], phone: Phone, frozen_s: float) -> bool:
    """Look after all of them; returns whether everything was told."""
    for service in services:
        service.care()
        if service.told_s is None and told_of(phone, service.name):
            service.told_s = CLOCK.moment().mono_s - frozen_s
    return all(service.told_s is not None for service in services)


@pytest.mark.skipif(not FULL, reason="the watchdog waits for half a minute")
def test_whichever_thread_freezes_what_is_to_be_told_is_told(
    tmp_path: Path, broker: Broker, figure: Tell
) -> None:
    with ExitStack() as stack:
        phone = stack.enter_context(Phone(broker.port, "noonpot/+/alert"))

        def service(name: str) -> Service:
            made = Service(tmp_path / name, broker, name)
            stack.callback(made.end)
            made.start()
            return made

        whole = service("whole")
        until(whole.settled, whole.log, PATIENCE_S)
        names = sorted(whole.threads())
        whole.end()
        services = [service(f"s{number}") for number in range(len(names))]
        for each in services:
            until(each.settled, each.log, PATIENCE_S)
            each.cook()
        for each, name in zip(services, names, strict=True):
            try:
                each.freeze(name)
            except OSError as error:
                pytest.skip(str(error))
        frozen_s = CLOCK.moment().mono_s
        for each in services:
            each.heat()
        with suppress(AssertionError):  # who was not told of fails below, with all figures
            until(partial(care_for, services, phone, frozen_s), str, limit_s=2 * TOLD_S)
    for each, name in zip(services, names, strict=True):
        told = "never" if each.told_s is None else f"{each.told_s:.1f} s"
        figure(
            18,
            f"thread '{name}' frozen, all is told",
            f"{told}, {each.starts - 1} restarts",
            f"<= {TOLD_S:.0f} s",
        )
    assert [e.name for e in services if e.told_s is None or e.told_s > TOLD_S] == []
