"""Buses are read in threads of their own; one that hangs or raises delays nobody else."""

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import pairwise

import pytest

from noonpot.clock import SystemClock
from noonpot.core.cook import Event
from noonpot.core.readings import Defect, Fault, FaultKind, Measured, Reading, Role, Sample
from noonpot.core.station import ProbeSpec
from noonpot.engine.poller import Poller
from noonpot.ports import Found, Health

DEADLINE_S = 10.0


class ScriptedBus:
    """A bus that does what the test says when it is read."""

    def __init__(self, answer: Callable[[str], Measured | Defect]) -> None:
        self._answer = answer

    def scan(self) -> Sequence[Found]:
        return []

    def read(self, address: str) -> Measured | Defect:
        return self._answer(address)

    def notice(self, event: Event) -> None:
        pass

    def close(self) -> None:
        pass


def probe(bus: str) -> ProbeSpec:
    return ProbeSpec(f"{bus}-pot", Role.POT, bus, "1", "box")


@contextmanager
def polling(buses: dict[str, ScriptedBus], health: Health, hang_s: float) -> Iterator[Poller]:
    poller = Poller(
        buses,
        [probe(name) for name in buses],
        SystemClock(),
        health,
        interval_s=0.02,
        hang_s=hang_s,
    )
    poller.start()
    try:
        yield poller
    finally:
        poller.stop()


def collect_until(poller: Poller, enough: Callable[[list[Sample]], bool]) -> list[Sample]:
    """All samples until there are enough of them."""
    clock = SystemClock()
    samples: list[Sample] = []
    end_s = clock.moment().mono_s + DEADLINE_S
    while not enough(samples):
        assert clock.moment().mono_s < end_s, f"waited {DEADLINE_S} s, got {samples[-5:]}"
        poller.news.wait(0.05)
        samples += poller.collect()
    return samples


def heard_of(name: str) -> Callable[[list[Sample]], bool]:
    """Whether a probe has given a reading."""
    return lambda samples: any(isinstance(s, Reading) and s.probe == name for s in samples)


def test_every_probe_is_read_again_and_again_with_its_own_time() -> None:
    with polling({"a": ScriptedBus(lambda _: Measured(21.5))}, Health(), 5) as poller:
        samples = collect_until(poller, lambda got: len(got) >= 5)
    assert all(isinstance(s, Reading) and s.value == 21.5 for s in samples)
    times = [s.mono_s for s in samples]
    assert times == sorted(set(times))


def test_a_dead_probe_is_a_value_not_a_crash() -> None:
    bus = ScriptedBus(lambda _: Defect(FaultKind.OPEN_CIRCUIT))
    with polling({"a": bus}, Health(), 5) as poller:
        sample = collect_until(poller, bool)[0]
    assert isinstance(sample, Fault)
    assert sample.kind is FaultKind.OPEN_CIRCUIT


def test_a_driver_that_raises_is_a_named_fault_and_the_bus_goes_on() -> None:
    calls = iter(range(1000))

    def answer(_: str) -> Measured | Defect:
        if next(calls) == 0:
            raise ZeroDivisionError("slip in the driver")
        return Measured(30.0)

    health = Health()
    with polling({"a": ScriptedBus(answer)}, health, 5) as poller:
        samples = collect_until(poller, lambda got: len(got) >= 2)
    assert isinstance(samples[0], Fault)
    assert (samples[0].kind, samples[0].detail) == (FaultKind.DRIVER_ERROR, "slip in the driver")
    assert isinstance(samples[1], Reading)
    assert health.counts == {"driver-errors": 1}


def test_a_hung_bus_is_named_and_delays_no_other_bus() -> None:
    release = threading.Event()

    def hang(_: str) -> Measured | Defect:
        release.wait(DEADLINE_S)
        return Measured(99.0)

    buses = {"good": ScriptedBus(lambda _: Measured(50.0)), "bad": ScriptedBus(hang)}
    health = Health()

    def named(samples: list[Sample]) -> bool:
        return any(isinstance(s, Fault) and s.kind is FaultKind.BUS_HANGS for s in samples)

    with polling(buses, health, 0.3) as poller:
        samples = collect_until(poller, named)
        good = [s.mono_s for s in samples if s.probe == "good-pot"]
        gaps = [b - a for a, b in pairwise(good)]
        assert max(gaps) < 1.0
        assert poller.stalled(SystemClock().moment()) == []
        release.set()
        collect_until(poller, heard_of("bad-pot"))
    assert health.counts["hung-buses"] == 1
    assert len(good) > 3


def test_what_a_hung_read_says_later_is_dropped() -> None:
    release = threading.Event()
    first = threading.Event()

    def late(_: str) -> Measured | Defect:
        if not first.is_set():
            first.set()
            release.wait(DEADLINE_S)
            return Measured(99.0)  # long after its time
        return Measured(20.0)

    with polling({"a": ScriptedBus(late)}, Health(), 0.2) as poller:
        collect_until(poller, heard_of("a-pot"))
        release.set()
        samples = collect_until(poller, lambda got: len(got) >= 20)
    assert 99.0 not in [s.value for s in samples if isinstance(s, Reading)]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_dies_is_replaced_and_counted() -> None:
    """Only what is no ordinary error ends such a thread, a slip in our own loop say."""
    deaths = iter([True, True])

    def answer(_: str) -> Measured | Defect:
        if next(deaths, False):
            raise GeneratorExit
        return Measured(30.0)

    health = Health()
    with polling({"a": ScriptedBus(answer)}, health, 5) as poller:
        collect_until(poller, heard_of("a-pot"))
    assert health.counts == {"threads-restarted": 2}
