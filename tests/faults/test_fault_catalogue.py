"""Every way a probe can fail, from the kernel's text or the bits of a chip to the words on the
phone: through driver, filter and watch. Each has a name of its own.
"""

import errno
import math
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from engine.kitchen import HOUSE, daylight
from engine.test_poller import ScriptedBus, collect_until
from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.surroundings import surroundings
from hw.sysfs import W1Tree, scratchpad, slave_text
from noonpot.clock import SystemClock
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.cook import Event, EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Fault, FaultKind, Measured, Role
from noonpot.core.station import CookerSpec, ProbeSpec, Station
from noonpot.core.wording import PHONE_LENGTH
from noonpot.engine.poller import Poller, sample
from noonpot.engine.sieve import Sieve
from noonpot.engine.watch import Watch
from noonpot.ports import Health
from noonpot_hw.ds18b20 import open_bus as open_ds18b20
from noonpot_hw.max31855 import open_bus as open_max31855
from simday import HILL, at

CORE, CORE_2, SHADE = "28-0316a2795fff", "28-0316a2795f02", "28-0316a2795f03"
BOARD_C = 27.0
STEP_S = 10.0
Course = Callable[[float], float]


def steady(value: float) -> Course:
    return lambda _: value


POT, CORE_OF_FOOD, AIR = steady(60.0), steady(40.0), steady(25.0)


@dataclass
class Bench:
    """A box cooker: its pot is a thermocouple, its core and the shade are digital probes. What is
    in ``pot``, ``core`` and ``shade`` is what they truly have, by seconds since the bench began.
    """

    tree: W1Tree
    spi: SpiBench
    clock: FakeClock
    node: str
    watch: Watch
    sieve: Sieve
    pot: Course = POT
    core: Course = CORE_OF_FOOD
    shade: Course = AIR
    pot_word: int | None = None
    core_text: str | None = None
    silent: bool = False

    def __post_init__(self) -> None:
        around = surroundings(self.clock)
        self.wires = open_ds18b20({"base": str(self.tree.base), "min_read_s": 0}, around)
        self._spi = open_max31855({"devices": [self.node]}, around)
        self._buses = {"pot": (self._spi, self.node), "core": (self.wires, CORE)}
        self._buses["shade"] = (self.wires, SHADE)
        self._begun_s = self.clock.moment().mono_s

    @property
    def seconds(self) -> float:
        return self.clock.moment().mono_s - self._begun_s

    def tell(self, kind: EventKind, **detail: str) -> None:
        now = self.clock.moment()
        self.watch.take(Event("box", now.at, kind, detail), now)

    def load(self) -> None:
        self.tell(EventKind.AIM, azimuth="100", elevation="45")
        self.tell(EventKind.LOAD, food="bread", mass_kg="0.8", start_c="20")

    def live(self, seconds: float) -> None:
        """Read all probes every ten seconds, as the daemon does."""
        for _ in range(round(seconds / STEP_S)):
            now = self.clock.advance(STEP_S)
            self._wire()
            heard = [
                sample(name, now, bus.read(address)) for name, (bus, address) in self._buses.items()
            ]
            self.watch.step(now, self.sieve.sift(heard), self.sieve.faults)

    def alarm(self, name: str = "probe") -> AlarmRecord:
        return self.watch.records[name]

    def _wire(self) -> None:
        t = self.seconds
        if not self.silent:
            flicker = 0.25 * (round(t / STEP_S) % 2)
            known = self.pot_word
            self.spi.send(
                self.node, word(self.pot(t) + flicker, BOARD_C) if known is None else known
            )
            self.tree.write(SHADE, slave_text(scratchpad(self.shade(t))))
            text = (
                slave_text(scratchpad(self.core(t))) if self.core_text is None else self.core_text
            )
            self.tree.write(CORE, text)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    spi = SpiBench(tmp_path)
    spi.install(monkeypatch)
    probes = (
        ProbeSpec("pot", Role.POT, "spi", "0", "box"),
        ProbeSpec("core", Role.CORE, "wires", CORE, "box"),
        ProbeSpec("shade", Role.AMBIENT, "wires", SHADE),
    )
    clock = FakeClock(at("09:00"))
    station = Station("garden", HILL, (CookerSpec("box", acceptance_deg=60.0),), probes)
    house = replace(HOUSE, station=station)
    watch = Watch(station.cookers[0], house, daylight(at("09:00")), clock.moment())
    sieve = Sieve({probe.name: ProbeFilter() for probe in probes})
    node = spi.node("spidev0.0", word(60.0, BOARD_C))
    return Bench(W1Tree(tmp_path), spi, clock, node, watch, sieve)


def noisy() -> str:
    nine = bytearray(scratchpad(40.0))
    nine[0] ^= 0x10
    return slave_text(bytes(nine))


BITS: dict[str, tuple[str, int | str, FaultKind, str]] = {
    "P1": ("core", noisy(), FaultKind.CHECKSUM, "noisy cable, no trustworthy reading; check plug"),
    "P2": ("core", slave_text(scratchpad(85.0)), FaultKind.POWER_ON_VALUE, "shows its start value"),
    "P3": ("core", slave_text(scratchpad(127.9375)), FaultKind.LOW_POWER, "too little power"),
    "P5": (
        "core",
        slave_text(scratchpad(-54.0)),
        FaultKind.OUT_OF_RANGE,
        "impossible value, ignore",
    ),
    "T1": ("pot", word(60.0, BOARD_C, 1), FaultKind.OPEN_CIRCUIT, "thermocouple not connected"),
    "T2": ("pot", word(60.0, BOARD_C, 2), FaultKind.SHORT_TO_GROUND, "use a probe with insulated"),
    "T3": ("pot", word(60.0, BOARD_C, 4), FaultKind.SHORT_TO_SUPPLY, "touches the supply"),
    "T4 silent": ("pot", 0, FaultKind.SPI_SILENT, "thermocouple board silent"),
    "T4 high": ("pot", 0xFFFFFFFF, FaultKind.SPI_STUCK_HIGH, "missing or its data line stuck"),
    "T4 frame": ("pot", word(60.0, BOARD_C) | 1 << 17, FaultKind.FRAME_ERROR, "scrambled bits"),
    "T7": ("pot", word(60.0, 91.0), FaultKind.BOARD_TOO_HOT, "move the board into shade"),
}


@pytest.mark.parametrize("row", BITS)
def test_what_one_reading_shows_is_named_and_over_after_five_good_ones(
    bench: Bench, row: str
) -> None:
    probe, wrong, kind, words = BITS[row]
    bench.live(100.0)
    assert bench.alarm().state is AlarmState.NORMAL
    if isinstance(wrong, int):
        bench.pot_word = wrong
    else:
        bench.core_text = wrong
    bench.live(60.0)
    assert bench.alarm().state is AlarmState.UNACKNOWLEDGED
    assert bench.alarm().subject == f"{probe}:{kind}"
    assert f"box: probe {probe}: " in bench.alarm().text
    assert words in bench.alarm().text
    bench.pot_word = bench.core_text = None
    bench.live(80.0)
    assert bench.alarm().state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_every_row_of_bits_has_a_name_of_its_own() -> None:
    assert len({kind for _, _, kind, _ in BITS.values()}) == len(BITS)


def test_p4_a_missing_probe_is_named_holds_and_comes_back(bench: Bench) -> None:
    bench.live(100.0)
    bench.silent = True
    bench.tree.unplug(CORE)
    bench.live(60.0)
    assert "probe core: not answering, value unknown" in bench.alarm().text
    bench.live(3600.0)
    assert bench.alarm().state is AlarmState.UNACKNOWLEDGED
    bench.silent = False
    bench.live(80.0)
    assert bench.alarm().state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_p5_a_leap_is_refused_until_three_readings_agree(bench: Bench) -> None:
    bench.live(100.0)
    bench.core = lambda t: 40.0 + 70.0 * (round(t / STEP_S) % 2)
    bench.live(60.0)
    assert bench.alarm().subject == f"core:{FaultKind.JUMP}"
    assert "leapt faster than food can" in bench.alarm().text


def warming(t: float) -> float:
    return 25 + 75 * (1 - math.exp(-t / 1800))


def bread(t: float) -> float:
    return 20 + 65 * (1 - math.exp(-max(0.0, t - 600) / 4000))


def shade(t: float) -> float:
    return 25 + 0.4 * math.sin(t / 900)


def baking(bench: Bench) -> Bench:
    """Bread in a pot that warms up, for an hour; the pot stays clear of boiling at 94.7 °C."""
    bench.pot, bench.core, bench.shade = warming, bread, shade
    bench.load()
    bench.live(3600.0)
    assert all(not record.active for name, record in bench.watch.records.items() if name in DOUBT)
    return bench


DOUBT = ("probe", "probe-out", "lid", "no-news")


def test_p6_a_stuck_pot_is_named_with_the_minutes(bench: Bench) -> None:
    baking(bench)
    bench.pot_word = word(warming(3600.0), BOARD_C)
    bench.live(1500.0)
    assert bench.alarm().subject == f"pot:{FaultKind.STUCK}"
    assert "does not move though it must" in bench.alarm().text
    assert "for 1" in bench.alarm().text  # so many minutes


def test_p7_probes_that_fall_silent_together_are_their_bus(bench: Bench) -> None:
    bench.live(100.0)
    bench.silent = True
    bench.tree.unplug(CORE)
    bench.tree.unplug(SHADE)
    bench.live(60.0)
    assert "2 probes do not answer: likely their bus, not the probes" in bench.alarm().text


def test_p8_an_unknown_probe_is_listed_and_never_used(bench: Bench) -> None:
    bench.live(100.0)
    bench.tree.set(CORE_2, 99.0)
    bench.live(100.0)
    assert CORE_2 in [found.address for found in bench.wires.scan()]
    assert bench.watch.facts(bench.clock.moment()).core_c == 40.0


def test_p9_a_core_out_of_the_food_pauses_done_until_a_person_was_there(bench: Bench) -> None:
    baking(bench)
    out_s, before_c = bench.seconds, bread(bench.seconds)

    def sleeve(t: float) -> float:
        """Into air of 100 °C, hotter than the target."""
        return 100.0 - (100.0 - before_c) * math.exp(-(t - out_s) / 40)

    bench.pot, bench.core = steady(100.0), sleeve
    bench.live(1200.0)
    record = bench.alarm("probe-out")
    assert record.state is AlarmState.UNACKNOWLEDGED
    assert record.text.startswith("box: core not in the food? Rose ")
    assert "food cannot" in record.text
    assert len(record.text) <= PHONE_LENGTH
    assert not bench.alarm("done").active  # 100 °C for 20 minutes, but not in the bread
    assert bench.watch.facts(bench.clock.moment()).core_c is None
    bench.tell(EventKind.LID)
    bench.core = steady(before_c)
    bench.live(180.0)
    assert not bench.alarm("probe-out").active
    assert bench.watch.facts(bench.clock.moment()).core_c == pytest.approx(before_c, abs=0.1)


def test_p9_swapped_probes_are_named(bench: Bench) -> None:
    bench.pot, bench.core, bench.shade = bread, warming, shade
    bench.load()
    bench.live(2400.0)
    assert "pot and core seem swapped: core " in bench.alarm("probe-out").text


def test_a_lid_that_stays_open_is_told_once_more(bench: Bench) -> None:
    baking(bench)
    since_s = bench.seconds
    bench.pot = lambda t: 30 + (warming(t) - 30) * math.exp(-(t - since_s) / 200)
    bench.live(300.0)
    first = bench.alarm("lid")
    assert first.state is AlarmState.UNACKNOWLEDGED
    assert "faster than without any sun" in first.text
    bench.live(1200.0)
    assert "Lid open or cooker blown over?" in bench.alarm("lid").text
    assert bench.alarm("lid").occurrence == first.occurrence + 1
    assert not bench.alarm().active
    assert not bench.alarm("probe-out").active


def test_t5_reversed_wires_are_named_because_they_fall_when_heated(bench: Bench) -> None:
    bench.pot, bench.core, bench.shade = lambda t: 2 * BOARD_C - warming(t), bread, shade
    bench.load()
    bench.live(2400.0)
    assert bench.alarm().subject == f"pot:{FaultKind.REVERSED}"
    assert "wired backwards; swap its two wires (fell " in bench.alarm().text


def test_t6_shorted_leads_are_named_by_the_temperature_of_their_board(bench: Bench) -> None:
    bench.pot, bench.core, bench.shade = steady(BOARD_C), bread, shade
    bench.load()
    bench.live(3600.0)
    assert bench.alarm().subject == f"pot:{FaultKind.SHORTED}"
    assert "its two wires touch, shows only its board" in bench.alarm().text
    assert not bench.alarm("probe-out").active


def test_t8_a_busy_port_is_named_and_the_others_run(bench: Bench) -> None:
    bench.live(100.0)
    bench.spi.refuse(bench.node, errno.EBUSY)
    bench.live(60.0)
    assert bench.alarm().subject == f"pot:{FaultKind.BUS_BUSY}"
    assert "port in use by another program" in bench.alarm().text
    assert bench.watch.facts(bench.clock.moment()).core_c == 40.0


def test_b1_a_bus_that_hangs_is_named(bench: Bench) -> None:
    released = threading.Event()

    def hang(_: str) -> Measured:
        released.wait(30.0)
        return Measured(50.0)

    spec = [ProbeSpec("pot", Role.POT, "spi", "0", "box")]
    poller = Poller(
        {"spi": ScriptedBus(hang)}, spec, SystemClock(), Health(), interval_s=0.02, hang_s=0.1
    )
    poller.start()
    try:
        hung = collect_until(poller, lambda heard: len(heard) >= 3)
    finally:
        released.set()
        poller.stop()
    for fault in hung[:3]:
        assert isinstance(fault, Fault)
        now = bench.clock.advance(STEP_S)
        stamped = replace(fault, at=now.at, mono_s=now.mono_s)
        bench.watch.step(now, bench.sieve.sift([stamped]), bench.sieve.faults)
    bench.watch.step(bench.clock.advance(STEP_S), (), bench.sieve.faults)
    assert "probe pot: reading it hangs, trying again" in bench.alarm().text


def test_a1_without_a_core_nothing_is_ever_done_and_the_forecast_says_so(bench: Bench) -> None:
    bench.pot, bench.shade = steady(120.0), shade
    bench.load()
    bench.core_text = noisy()
    bench.live(3600.0)
    assert not bench.alarm("done").active
    forecast = bench.watch.foresee(bench.clock.moment())
    assert forecast is not None
    assert forecast.core_estimated
