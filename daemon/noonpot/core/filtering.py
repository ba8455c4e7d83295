"""What the neighbours in time say of a reading: one probe, one sample after the other."""

from collections import Counter, deque

from noonpot.core.readings import Fault, FaultKind, Reading, Sample

DEFAULT_MAX_RATE_C_S = 5.0
"""No probe in a pot changes faster, except when it is moved: common practice, no source."""

START_VALUE_NEAR_C = 5.0
START_VALUE_VOUCHED_S = 600.0
SIGHTINGS_OF_A_NEW_LEVEL = 3
WINDOW = 5
BAD_TO_RAISE = 3


class ProbeFilter:
    """Turns the samples of one probe into those that may be believed.

    It decides three things that no single reading can show. A sensor's start value (85.0 °C for a
    DS18B20) is believed only near a true reading of the last ten minutes; it vouches for no other.
    A leap faster than ``max_rate_c_s`` [°C/s] is refused, until three unbroken readings agree that
    the probe was really moved. A fault is active after three bad samples of five, gone after five
    good ones.
    """

    def __init__(self, max_rate_c_s: float = DEFAULT_MAX_RATE_C_S) -> None:
        if max_rate_c_s <= 0:
            raise ValueError(f"largest rate {max_rate_c_s} °C/s must be above 0")
        self._max_rate_c_s = max_rate_c_s
        self._trusted: Reading | None = None
        self._new_level: list[Reading] = []
        self._recent: deque[FaultKind | None] = deque(maxlen=WINDOW)
        self._active: FaultKind | None = None

    @property
    def active_fault(self) -> FaultKind | None:
        """The fault a person should know of, or None."""
        return self._active

    def accept(self, sample: Sample) -> Sample:
        """The sample as it may be believed: a reading without doubt, or a fault.

        Samples must come in the order of their monotonic time.
        """
        judged = sample if isinstance(sample, Fault) else self._judge(sample)
        if isinstance(judged, Fault):
            self._recent.append(judged.kind)
            if judged.kind is not FaultKind.JUMP:
                self._new_level.clear()
        else:
            self._recent.append(None)
        self._debounce()
        return judged

    def _judge(self, reading: Reading) -> Sample:
        if reading.doubt is FaultKind.POWER_ON_VALUE:
            return self._start_value(reading)
        if reading.doubt is not None:
            return _fault(reading, reading.doubt, f"{reading.value:g}")
        if self._trusted is not None and not self._within_rate(self._trusted, reading):
            return self._leap(self._trusted, reading)
        return self._trust(reading)

    def _start_value(self, reading: Reading) -> Sample:
        """The start value is a temperature when the probe was on its way through it."""
        near = self._trusted
        if (
            near is not None
            and reading.mono_s - near.mono_s <= START_VALUE_VOUCHED_S
            and abs(reading.value - near.value) <= START_VALUE_NEAR_C
            and self._within_rate(near, reading)
        ):
            return _believed(reading)
        return _fault(reading, FaultKind.POWER_ON_VALUE, f"{reading.value:g}")

    def _leap(self, trusted: Reading, reading: Reading) -> Sample:
        if self._new_level and not self._within_rate(self._new_level[-1], reading):
            self._new_level.clear()
        self._new_level.append(reading)
        if len(self._new_level) >= SIGHTINGS_OF_A_NEW_LEVEL:
            return self._trust(reading)
        return _fault(reading, FaultKind.JUMP, f"from {trusted.value:g} to {reading.value:g}")

    def _within_rate(self, earlier: Reading, later: Reading) -> bool:
        # Less than a second apart, noise alone would look like a rate.
        seconds = max(1.0, later.mono_s - earlier.mono_s)
        return abs(later.value - earlier.value) <= self._max_rate_c_s * seconds

    def _trust(self, reading: Reading) -> Reading:
        self._new_level.clear()
        self._trusted = reading
        return reading

    def _debounce(self) -> None:
        bad = [kind for kind in self._recent if kind is not None]
        if len(bad) >= BAD_TO_RAISE:
            # The commonest names it; among equals the latest.
            self._active = Counter(reversed(bad)).most_common(1)[0][0]
        elif not bad:
            # Three bad ones were seen, so the window is full: all five are good.
            self._active = None


def _believed(reading: Reading) -> Reading:
    return Reading(reading.probe, reading.at, reading.mono_s, reading.value)


def _fault(reading: Reading, kind: FaultKind, detail: str) -> Fault:
    return Fault(reading.probe, reading.at, reading.mono_s, kind, detail)
