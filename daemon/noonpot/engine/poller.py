"""Reads every bus in a thread of its own, so that a slow or hung bus delays nobody else."""

import logging
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from queue import SimpleQueue

from noonpot.core.moment import Moment
from noonpot.core.readings import Defect, Fault, FaultKind, Measured, Reading, Sample
from noonpot.core.station import ProbeSpec
from noonpot.ports import Bus, Clock, Health

log = logging.getLogger(__name__)

MOST_HUNG_THREADS = 3


def sample(probe: str, moment: Moment, answer: Measured | Defect) -> Sample:
    """What a bus answered, stamped with the moment it was asked."""
    if isinstance(answer, Measured):
        return Reading(probe, moment.at, moment.mono_s, answer.value, answer.doubt, answer.board_c)
    return Fault(probe, moment.at, moment.mono_s, answer.kind, answer.detail)


@dataclass(slots=True, eq=False)
class _Reader:
    """One bus and the thread that reads it now. A reader that hung is left behind: what it still
    says is dropped, because its ``generation`` is over.
    """

    name: str
    bus: Bus
    probes: Sequence[ProbeSpec]
    generation: int = 0
    asked_s: float | None = None
    finished_s: float = 0.0
    hung_since_s: float | None = None
    threads: list[threading.Thread] = field(default_factory=list)


class Poller:
    """Polls all buses every ``interval_s``; a read longer than ``hang_s`` counts as hung."""

    def __init__(
        self,
        buses: Mapping[str, Bus],
        probes: Sequence[ProbeSpec],
        clock: Clock,
        health: Health,
        *,
        interval_s: float = 2.0,
        hang_s: float = 10.0,
    ) -> None:
        self.news = threading.Event()
        self._clock = clock
        self._health = health
        self._interval_s = interval_s
        self._hang_s = hang_s
        self._stop = threading.Event()
        self._queue: SimpleQueue[tuple[_Reader, int, Sample]] = SimpleQueue()
        self._readers = [
            _Reader(name, bus, [p for p in probes if p.bus == name]) for name, bus in buses.items()
        ]

    def start(self) -> None:
        """Begin to read."""
        for reader in self._readers:
            reader.finished_s = self._clock.moment().mono_s
            self._launch(reader)

    def stop(self) -> None:
        """Stop reading; a hung thread is not waited for."""
        self._stop.set()
        for reader in self._readers:
            if reader.hung_since_s is None:
                for thread in reader.threads:
                    thread.join(timeout=2.0)

    def collect(self) -> list[Sample]:
        """All that was read since the last call, and a fault for every probe of a hung bus."""
        self.news.clear()
        samples: list[Sample] = []
        while not self._queue.empty():
            reader, generation, read = self._queue.get()
            if generation == reader.generation:
                samples.append(read)
        now = self._clock.moment()
        for reader in self._readers:
            self._heal(reader)
            samples += self._hung(reader, now)
        return samples

    def stalled(self, now: Moment) -> Sequence[str]:
        """Buses that neither finished a round nor were named as hung within three intervals."""
        limit_s = self._hang_s + 3 * self._interval_s
        return [
            r.name
            for r in self._readers
            if r.hung_since_s is None and now.mono_s - r.finished_s > limit_s
        ]

    def _launch(self, reader: _Reader) -> None:
        reader.threads = [t for t in reader.threads if t.is_alive()]
        if len(reader.threads) >= MOST_HUNG_THREADS:
            return
        reader.generation += 1
        reader.asked_s = None
        thread = threading.Thread(
            target=self._run,
            args=(reader, reader.generation),
            name=f"bus-{reader.name}",
            daemon=True,
        )
        reader.threads.append(thread)
        thread.start()

    def _heal(self, reader: _Reader) -> None:
        """Read on in a new thread where the present one has died."""
        if reader.threads and not reader.threads[-1].is_alive() and not self._stop.is_set():
            self._health.count("threads-restarted")
            log.error("bus=%s thread has died and is started again", reader.name)
            self._launch(reader)

    def _run(self, reader: _Reader, generation: int) -> None:
        due_s = self._clock.moment().mono_s
        while not self._stop.is_set() and generation == reader.generation:
            for probe in reader.probes:
                # one by one: a slow bus must not hold back what it has said already
                self._queue.put((reader, generation, self._read(reader, generation, probe)))
                self.news.set()
            if generation == reader.generation:
                reader.hung_since_s = None
                reader.finished_s = self._clock.moment().mono_s
            now_s = self._clock.moment().mono_s
            # A late round is not made up for: the next one is simply a full interval away.
            due_s = max(due_s + self._interval_s, now_s)
            self._clock.wait(self._stop, due_s - now_s)

    def _read(self, reader: _Reader, generation: int, probe: ProbeSpec) -> Sample:
        moment = self._clock.moment()
        if generation == reader.generation:
            reader.asked_s = moment.mono_s
        try:
            answer = reader.bus.read(probe.address)
        except Exception as error:  # a driver's slip must never end the thread that reads
            self._health.count("driver-errors")
            log.exception("bus=%s probe=%s driver error", reader.name, probe.name)
            answer = Defect(FaultKind.DRIVER_ERROR, str(error))
        if generation == reader.generation:
            reader.asked_s = None
        return sample(probe.name, moment, answer)

    def _hung(self, reader: _Reader, now: Moment) -> list[Sample]:
        asked_s = reader.asked_s
        if asked_s is not None and now.mono_s - asked_s > self._hang_s:
            if reader.hung_since_s is None:
                reader.hung_since_s = asked_s
                self._health.count("hung-buses")
                log.error("bus=%s hangs; trying again in a new thread", reader.name)
            self._launch(reader)
        if reader.hung_since_s is None:
            return []
        waited_s = now.mono_s - reader.hung_since_s
        detail = f"no answer for {waited_s:.0f} s"
        return [
            Fault(p.name, now.at, now.mono_s, FaultKind.BUS_HANGS, detail) for p in reader.probes
        ]
