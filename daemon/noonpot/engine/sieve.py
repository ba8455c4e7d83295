"""What may be believed of all that the probes say, and which of them stand in a fault."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from noonpot.core.calibration import Calibration
from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Fault, Reading, Sample


class Sieve:
    """One filter for each probe, and what makes it true. A filter judges what the probe says, and
    that is written down; the watch goes by what is true.
    """

    def __init__(self, filters: Mapping[str, ProbeFilter]) -> None:
        self._filters = filters
        self._faults: dict[str, Fault] = {}
        self._calibrations: dict[str, Calibration] = {}

    @property
    def faults(self) -> tuple[Fault, ...]:
        """The faults that stand now, each with the time since when."""
        return tuple(self._faults.values())

    def sift(self, samples: Iterable[Sample]) -> list[Sample]:
        """The samples of known probes, each as it may be believed."""
        return [self._sifted(s) for s in samples if s.probe in self._filters]

    def correct(self, calibration: Calibration) -> None:
        """Go by this calibration of its probe from now on."""
        self._calibrations[calibration.probe] = calibration

    def corrected(self, samples: Iterable[Sample]) -> list[Sample]:
        """The same samples with the readings of calibrated probes made true."""
        return [self._corrected(s) if isinstance(s, Reading) else s for s in samples]

    def _corrected(self, reading: Reading) -> Reading:
        known = self._calibrations.get(reading.probe)
        return reading if known is None else replace(reading, value=known.true_c(reading.value))

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
