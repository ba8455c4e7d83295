"""Probes in a bath: heard until they come to rest."""

import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from noonpot.app.ears import Ear
from noonpot.app.machine import DATA_FILE
from noonpot.core.bath import Bath, Rest, rest, step_k
from noonpot.core.calibration import LARGEST_K, Calibration, place_of, thermometer
from noonpot.core.faultwords import WORDS
from noonpot.core.names import meant
from noonpot.core.readings import Fault, Reading
from noonpot.core.station import ProbeSpec
from noonpot.core.units import degrees
from noonpot.errors import CookError, StoreError
from noonpot.ports import Clock
from noonpot.settings.values import Settings
from noonpot.store.connection import held
from noonpot.store.reader import Reader

LOOK_S = 2.0
PATIENCE_S = 1800.0
"""A pot of water boils in less (our choice) [s]."""
SILENCE_S = 90.0


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a probe: what it shows [°C], None as long as nothing; its rest, once it can be
    told; and what is to wait for, in words, "" when it has come to rest.
    """

    shown_c: float | None
    rest: Rest | None
    waits_for: str


class Dip:
    """Probes that were put into baths, one after the other; ``units`` are those of the words."""

    def __init__(
        self, ear: Ear, probes: Sequence[ProbeSpec], clock: Clock, units: str = "C"
    ) -> None:
        self._ear = ear
        self._clock = clock
        self._units = units
        self._heard: dict[str, list[Reading]] = {probe.name: [] for probe in probes}
        self._faults: dict[str, Fault] = {}
        self._values: dict[str, set[float]] = {probe.name: set() for probe in probes}
        self._silent_since_s = clock.moment().mono_s

    def looks(self, bath: Bath | None = None) -> Iterator[Mapping[str, Look]]:
        """Look at all probes again and again until every one has come to rest in this bath, or in
        one of unknown temperature. The looks before that say what is waited for.

        Raises CookError when that takes more than half an hour.
        """
        never, begun_s = threading.Event(), self._clock.moment().mono_s
        self._silent_since_s = begun_s
        for heard in self._heard.values():
            heard.clear()
        while True:
            self._listen()
            looks = {probe: self._look(probe, bath) for probe in self._heard}
            yield looks
            waiting = {probe: look for probe, look in looks.items() if look.waits_for}
            if not waiting:
                return
            if self._clock.moment().mono_s - begun_s > PATIENCE_S:
                why = "; ".join(f"{probe}: {look.waits_for}" for probe, look in waiting.items())
                raise CookError(f"given up after {PATIENCE_S / 60:.0f} minutes: {why}")
            self._clock.wait(never, LOOK_S)

    def _listen(self) -> None:
        for sample in self._ear.listen():
            if isinstance(sample, Fault):
                self._faults[sample.probe] = sample
                continue
            self._faults.pop(sample.probe, None)
            self._heard[sample.probe].append(sample)
            self._values[sample.probe].add(sample.value)

    def _look(self, probe: str, bath: Bath | None) -> Look:
        heard, fault = self._heard[probe], self._faults.get(probe)
        if fault is not None:
            return Look(None, None, f"{fault.kind}: {WORDS[fault.kind].phrase}")
        now_s = self._clock.moment().mono_s
        if now_s - max([self._silent_since_s, *(r.mono_s for r in heard[-1:])]) > SILENCE_S:
            return Look(None, None, "nothing is heard of it")
        if not heard:
            return Look(None, None, "its first reading")
        found = rest(heard, step_k(self._values[probe]))
        shown_c = heard[-1].value
        if bath is not None and abs(shown_c - bath.true_c) > LARGEST_K:
            true = degrees(bath.true_c, self._units)
            return Look(shown_c, None, f"the bath has {true}; is the tip in it?")
        if found is None:
            return Look(shown_c, None, "a minute of readings")
        return Look(shown_c, found, found.unrest)


def thermometers(settings: Settings, names: Sequence[str]) -> list[ProbeSpec]:
    """The probes of these names. Raises CookError for one that is none, or no thermometer."""
    known = {probe.name: probe for probe in settings.station.probes}
    for name in names:
        if name not in known:
            raise CookError(f"there is no probe {name!r}; {meant(name, known)}")
        thermometer(known[name])
    return [known[name] for name in dict.fromkeys(names)]


def not_cooking(reader: Reader, probes: Sequence[ProbeSpec]) -> None:
    """Raises CookError when one of the probes watches a cook now."""
    cookers = {probe.cooker for probe in probes}
    for cook in reader.cooks():
        if cook.running and (None in cookers or cook.cooker in cookers):
            raise CookError(
                f"{cook.cooker} cooks: its probes are needed there; first 'noonpot cook stop "
                f"{cook.cooker}'"
            )


def daemon_runs(settings: Settings) -> bool:
    """Whether a daemon has the data file, and so reads the probes."""
    return held(settings.data / DATA_FILE)


def last_calibrations(settings: Settings, clock: Clock) -> Mapping[str, Calibration]:
    """The last calibration of each probe; none while there is no data file that can be read."""
    try:
        return Reader(settings.data / DATA_FILE, clock, whole=False).calibrations()
    except StoreError:
        return {}


def true_c(known: Mapping[str, Calibration], probe: ProbeSpec, shown_c: float) -> float:
    """What is, when a probe shows this, by its last calibration; that of another place is none."""
    last = known.get(probe.name)
    return shown_c if last is None or last.place != place_of(probe) else last.true_c(shown_c)
