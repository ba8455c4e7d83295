"""Where a command hears the probes: in the data file of a daemon that runs, or by reading them."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from noonpot.core.readings import Defect, Fault, FaultKind, Reading, Sample
from noonpot.core.station import ProbeSpec
from noonpot.ports import Bus, Clock
from noonpot.store.reader import Reader

SECOND = timedelta(seconds=1)


class Ear(Protocol):
    """Where readings come from."""

    def listen(self) -> Sequence[Sample]:
        """What the probes have said since the last call, uncorrected, in time order."""


class OwnEar:
    """Reads the probes itself, which only one may do at a time: no daemon runs."""

    def __init__(self, buses: Mapping[str, Bus], probes: Sequence[ProbeSpec], clock: Clock) -> None:
        self._buses = buses
        self._probes = probes
        self._clock = clock

    def listen(self) -> Sequence[Sample]:
        """One reading of each probe; a start value, which may be a temperature, is left out."""
        return [sample for probe in self._probes for sample in self._read(probe)]

    def _read(self, probe: ProbeSpec) -> Iterator[Sample]:
        outcome = self._buses[probe.bus].read(probe.address)
        now = self._clock.moment()
        if isinstance(outcome, Defect):
            yield Fault(probe.name, now.at, now.mono_s, outcome.kind, outcome.detail)
        elif outcome.doubt is None:
            yield Reading(probe.name, now.at, now.mono_s, outcome.value)
        elif outcome.doubt is not FaultKind.POWER_ON_VALUE:
            yield Fault(probe.name, now.at, now.mono_s, outcome.doubt)


class DaemonEar:
    """Finds in the data file what the daemon read; that comes there some seconds later."""

    def __init__(self, reader: Reader, probes: Sequence[ProbeSpec], clock: Clock) -> None:
        self._reader = reader
        self._clock = clock
        begun = clock.moment().at
        self._heard: dict[str, datetime] = {probe.name: begun for probe in probes}

    def listen(self) -> Sequence[Sample]:
        """What has come into the file."""
        found: list[Sample] = []
        for probe, heard in self._heard.items():
            told = self._reader.raw_of(probe, heard + SECOND, self._clock.moment().at)
            if told:
                self._heard[probe] = told[-1].at
            found += told
        return found
