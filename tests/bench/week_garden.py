"""A garden under a measured sky, and its probes down to the bytes on their wires, sound or not.

Two cookers have DS18B20s, read by the real driver from files with the text of the kernel; the
other two have thermocouples, read by the real driver from the words that its chip would send.
"""

import math
import random
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import numpy as np

from bench.measured import MeasuredDay
from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.sysfs import W1Tree, scratchpad, slave_text
from noonpot.core.cook import Event
from noonpot.core.readings import Defect, FaultKind, Measured, Role, Sample
from noonpot.core.station import CookerSpec, Place, ProbeSpec, Station
from noonpot.core.sun import DayTable, SunSky
from noonpot.engine.poller import sample
from noonpot.ports import Bus, Surroundings
from noonpot_hw import ds18b20, max31855
from noonpot_hw.cooker_physics import Cooker
from noonpot_hw.garden import Garden
from noonpot_hw.garden_options import garden_options
from noonpot_hw.weather import Light, Weather

COOKERS = {
    "box": ("box", "light", "w1"),
    "iron": ("box", "heavy", "w1"),
    "dish": ("reflector", "light", "spi"),
    "pan": ("reflector", "heavy", "spi"),
}
"""Kind, pot and bus of each."""
APERTURE_M2, ACCEPTANCE_DEG = 0.40, 30.0
SLEEVE_S = 20.0
"""A probe in its sleeve follows what is around it within this time constant [s] (our choice)."""
BARE_S = 60.0
BOARD_WARMER_K = 4.0
NOISE_C = 0.05
LOST_BYTES = 0.8
"""So many reads of a noisy cable lose a bit."""


class MeasuredSun:
    """The sun of one measured day; it is asked for no other."""

    def __init__(self, day: MeasuredDay) -> None:
        self._day = day

    def day(self, _place: Place, _date: object) -> DayTable:
        """The table of the day."""
        return self._day.table


class MeasuredWeather(Weather):
    """The light, air and wind that a station measured, minute by minute."""

    def __init__(self, day: MeasuredDay) -> None:
        super().__init__(0, (), ambient_c=20.0, wind_ms=1.5, longitude=day.place.longitude)
        self._measured = day
        self._minute = 0.0

    def step(self, when: datetime, seconds: float) -> None:  # noqa: ARG002 - as Weather has it
        """Go on until ``when``."""
        day = self._measured
        self._minute = (when.timestamp() - day.start_s) / 60
        self.ambient_c, self.wind_ms = self._at(day.ambient_c), self._at(day.wind_ms)

    def light(self, clear: SunSky) -> Light:  # noqa: ARG002 - as Weather has it
        """What was measured."""
        day = self._measured
        return Light(self._at(day.dni), self._at(day.dhi), self._at(day.ghi))

    def _at(self, column: np.ndarray) -> float:
        return float(np.interp(self._minute, np.arange(len(column)), column))


def station(place: Place, cookers: Sequence[str]) -> Station:
    """Cookers with two probes each, and one probe for air and for light."""
    probes = [
        ProbeSpec(f"{name}-{role}", role, COOKERS[name][2], f"{name}-{role}", name)
        for name in cookers
        for role in (Role.POT, Role.CORE)
    ]
    probes.append(ProbeSpec("shade", Role.AMBIENT, "w1", "shade"))
    probes.append(ProbeSpec("light", Role.IRRADIANCE, "sky", "light"))
    specs = tuple(CookerSpec(name, APERTURE_M2, ACCEPTANCE_DEG) for name in cookers)
    return Station("week", place, specs, tuple(probes))


def measured_garden(day: MeasuredDay, start: datetime, names: Sequence[str]) -> Garden:
    """Cookers under the sky of that day."""
    cookers = [
        {
            "name": name,
            "kind": COOKERS[name][0],
            "pot": COOKERS[name][1],
            "aperture_m2": APERTURE_M2,
            "acceptance_deg": ACCEPTANCE_DEG,
        }
        for name in names
    ]
    garden = Garden(garden_options({"cookers": cookers}), day.place, MeasuredSun(day), start)
    garden._weather = MeasuredWeather(day)  # noqa: SLF001 - its own weather comes from a seed
    return garden


class Wires:
    """All probes of the garden. ``broken`` tells what is wrong with the wire of a probe, ``moved``
    in whose place it is (``"core"``, ``"pot"`` of its cooker), ``hung`` whether the 1-Wire bus is.
    """

    def __init__(
        self,
        garden: Garden,
        day: MeasuredDay,
        clock: FakeClock,
        folder: Path,
        chance: random.Random,
    ) -> None:
        self.broken: dict[str, str] = {}
        self.moved: dict[str, str] = {}
        self.hung = False
        self.spi = SpiBench(folder)
        self._garden = garden
        self._clock = clock
        self._chance = chance
        self._station = station(day.place, list(garden.stands))
        self._tree = W1Tree(folder)
        around = Surroundings(clock, day.place, MeasuredSun(day))
        self._shown: dict[str, float] = {}
        self._shown_s = clock.moment().mono_s
        thermocouples = [p.name for p in self._station.probes if p.bus == "spi"]
        self._nodes = {name: self.spi.node(name, word(20.0)) for name in thermocouples}
        roms = [p.name for p in self._station.probes if p.bus == "w1"]
        self._roms = {name: f"28-{0x0316A2790000 + i:012x}" for i, name in enumerate(roms)}
        self._w1: Bus = ds18b20.open_bus({"base": str(self._tree.base), "min_read_s": 0}, around)
        nodes = list(self._nodes.values()) or [self.spi.node("spare", word(20.0))]
        self._spi: Bus = max31855.open_bus({"devices": nodes}, around)

    def cooker(self, name: str) -> Cooker:
        """The true state of a cooker."""
        return self._garden.stands[name].cooker

    def samples(self) -> list[Sample]:
        """What every probe says now."""
        now = self._clock.moment()
        passed_s, self._shown_s = now.mono_s - self._shown_s, now.mono_s
        samples = []
        for probe in self._station.probes:
            if probe.role is Role.IRRADIANCE:
                answer: Measured | Defect = Measured(round(self._garden.ghi_wm2, 1))
            else:
                self._follow(probe, passed_s)
                value = self._shown[probe.name] + self._chance.gauss(0, NOISE_C)
                answer = self._read(probe, value)
            samples.append(sample(probe.name, now, answer))
        return samples

    def notice(self, event: Event) -> None:
        """Let something happen in the garden."""
        self._garden.happen(event)

    def _follow(self, probe: ProbeSpec, passed_s: float) -> None:
        """Let the probe come nearer to what is around it."""
        around_c, follows_s = self._garden.ambient_c, SLEEVE_S
        if probe.cooker is not None:
            cooker = self.cooker(probe.cooker)
            place = self.moved.get(probe.name, probe.role)
            around_c = cooker.core_c if place == Role.CORE else cooker.air_c
            follows_s = BARE_S if probe.name in self.moved else SLEEVE_S
        before_c = self._shown.get(probe.name, around_c)
        self._shown[probe.name] = around_c + (before_c - around_c) * math.exp(-passed_s / follows_s)

    def _read(self, probe: ProbeSpec, value_c: float) -> Measured | Defect:
        wrong = self.broken.get(probe.name, "")
        if probe.bus == "spi":
            return self._thermocouple(self._nodes[probe.name], value_c, wrong)
        if self.hung:
            return Defect(FaultKind.BUS_HANGS, "no answer")
        return self._digital(self._roms[probe.name], value_c, wrong)

    def _digital(self, rom: str, value_c: float, wrong: str) -> Measured | Defect:
        device = self._tree.base / rom
        if wrong == "unplugged":
            if device.exists():
                self._tree.unplug(rom)
        elif wrong == "start-value":
            self._tree.set(rom, 85.0)
        elif wrong == "starved":
            self._tree.set(rom, 127.9375)
        elif wrong == "noisy" and self._chance.random() < LOST_BYTES:
            nine = bytearray(scratchpad(value_c))
            nine[self._chance.randrange(8)] ^= 1 << self._chance.randrange(8)
            self._tree.write(rom, slave_text(bytes(nine)))
        elif wrong != "frozen" or not device.exists():
            self._tree.set(rom, value_c)
        return self._w1.read(rom)

    def _thermocouple(self, node: str, value_c: float, wrong: str) -> Measured | Defect:
        board_c = self._garden.ambient_c + BOARD_WARMER_K
        words = {
            "open": word(0.0, board_c, causes=1),
            "grounded": word(0.0, board_c, causes=2),
            "silent": 0,
            "shorted": word(board_c, board_c),
            "reversed": word(2 * board_c - value_c, board_c),
        }
        if wrong != "frozen":
            self.spi.send(node, words.get(wrong, word(value_c, board_c)))
        return self._spi.read(node)
