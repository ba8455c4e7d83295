"""What may be believed of all that the probes say, and which of them stand in a fault."""

from collections.abc import Iterable, Mapping

from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Fault, Sample


class Sieve:
    """One filter for each probe."""

    def __init__(self, filters: Mapping[str, ProbeFilter]) -> None:
        self._filters = filters
        self._faults: dict[str, Fault] = {}

    @property
    def faults(self) -> tuple[Fault, ...]:
        """The faults that stand now, each with the time since when."""
        return tuple(self._faults.values())

    def sift(self, samples: Iterable[Sample]) -> list[Sample]:
        """The samples of known probes, each as it may be believed."""
        return [self._sifted(s) for s in samples if s.probe in self._filters]

    def _sifted(self, sample: Sample) -> Sample:
        probe = self._filters[sample.probe]
        heard = probe.accept(sample)
        kind, known = probe.active_fault, self._faults.get(sample.probe)
        if kind is None:
            self._faults.pop(sample.probe, None)
        elif known is None or known.kind is not kind:
            detail = heard.detail if isinstance(heard, Fault) else ""
            self._faults[sample.probe] = Fault(sample.probe, sample.at, sample.mono_s, kind, detail)
        return heard
