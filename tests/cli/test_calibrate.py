"""Probes in simulated baths, calibrated and compared as a person does it: wires, files, letters."""

import json
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from baths import Stay, WrongProbe, bath_at
from cli.terminal import Noonpot
from fakes import FakeClock
from hw.sysfs import W1Tree
from noonpot.core.filtering import ProbeFilter
from noonpot.core.moment import utc
from noonpot.core.readings import Fault, FaultKind, Reading
from noonpot.core.wording import Wording
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.ports import Health, Signal
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.inbox import FileInbox
from noonpot.store.sqlite import Store
from simday import SimpleSun

ADDRESSES = {"box-pot": "28-000000000001", "box-core": "28-000000000002"}
CONFIG = """
[station]
name = "garden"
latitude = 40
longitude = -105
elevation_m = 1524
timezone = "America/Denver"
data = "data"
[[bus]]
name = "w1"
driver = "ds18b20"
base = "{base}"
min_read_s = 0
[[bus]]
name = "light"
driver = "simulated"
cookers = [{{ name = "box" }}]
[[cooker]]
name = "box"
[[probe]]
name = "box-pot"
role = "pot"
bus = "w1"
address = "28-000000000001"
cooker = "box"
[[probe]]
name = "box-core"
role = "core"
bus = "w1"
address = "28-000000000002"
cooker = "box"
[[probe]]
name = "sky"
role = "irradiance"
bus = "light"
address = "irradiance"
"""
MOUNTAIN_C = 94.904  # where water boils at 1524 m, tests/reference/test_saturation.py
USUAL = (Stay(60, 0.0), Stay(600, MOUNTAIN_C))
"""A person who needs a minute for the ice, and ten for the kettle."""


class Bench:
    """A worktop with a 1-Wire tree in baths; its clock moves while a command waits."""

    def __init__(self, folder: Path) -> None:
        seed = random.randrange(2**32)
        print(f"seed {seed}")
        self.chance = random.Random(seed)
        self.clock = BenchClock(self)
        self.stays: tuple[Stay, ...] = USUAL
        self.probes = {
            "box-pot": WrongProbe(off_k=-0.3),
            "box-core": WrongProbe(gain=1.01, off_k=0.8),
        }
        self.tree = W1Tree(folder)
        self.faulty: set[str] = set()
        self.station: RunningStation | None = None
        self._begun_s = self.clock.moment().mono_s
        file = folder / "noonpot.toml"
        file.write_text(CONFIG.format(base=self.tree.base))
        self.settings: Settings = load(file)
        self.settings.data.mkdir()
        self.inbox = FileInbox(self.settings.data / "inbox", lambda _: False)
        self.live(0.0)

    def live(self, seconds: float) -> None:
        now = self.clock.moment()
        bath_c = bath_at(self.stays, now.mono_s - self._begun_s)
        samples: list[Reading | Fault] = []
        for name, probe in self.probes.items():
            probe.live(bath_c, seconds)
            shown_c = round(16 * probe.shown(self.chance)) / 16
            self.tree.set(ADDRESSES[name], shown_c)
            if name in self.faulty:
                self.tree.write(ADDRESSES[name], "")
                samples.append(Fault(name, now.at, now.mono_s, FaultKind.CHECKSUM))
            else:
                samples.append(Reading(name, now.at, now.mono_s, shown_c))
        if self.station is not None:
            self.station.round(samples)


class BenchClock(FakeClock):
    """Each wait goes by at once, and the bench lives through it."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(utc("2026-06-03T17:00:00Z"))
        self._bench = bench

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        if signal.is_set():
            return True
        self.advance(timeout_s)
        self._bench.live(timeout_s)
        return False


class RunningStation:
    """What a daemon does with readings and letters, on its real data file and inbox."""

    def __init__(self, bench: Bench) -> None:
        settings, now = bench.settings, bench.clock.moment()
        house = Household(
            settings.station, settings.foods, settings.policies, settings.limits, Wording()
        )
        self._clock = bench.clock
        self.store = Store(settings.data / "noonpot.db", bench.clock)
        self.store.register(settings.station.probes)
        daylight = Daylight(settings.station.place, SimpleSun())
        self.watch = Watch(settings.station.cookers[0], house, daylight, now)
        self._inbox = FileInbox(settings.data / "inbox", self.store.knows_event)
        self._pipeline = Pipeline(
            "garden",
            [self.watch],
            {p.name: ProbeFilter() for p in settings.station.probes},
            self.store,
            [],
            Health(),
            own=StationWatch(house, now),
        )
        self._pipeline.resume(now)

    def round(self, samples: list[Reading | Fault]) -> None:
        letters = self._inbox.take()
        events = [letter.event for letter in letters]
        refused = self._pipeline.round(self._clock.moment(), samples, events)
        for index, letter in enumerate(letters):
            if index in refused:
                self._inbox.refuse(letter, refused[index])
            else:
                self._inbox.done(letter)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    bench = Bench(tmp_path)
    for module in ("machine", "checkup"):
        monkeypatch.setattr(f"noonpot.app.{module}.system_clock", lambda: bench.clock)
    yield bench
    if bench.station is not None:
        bench.station.store.close()


def running(bench: Bench) -> RunningStation:
    bench.station = RunningStation(bench)
    return bench.station


def waiting(bench: Bench) -> list[dict[str, str]]:
    """The details of the letters that no daemon has taken."""
    folder = bench.settings.data / "inbox"
    return [json.loads(file.read_text())["detail"] for file in sorted(folder.glob("*.json"))]


def test_without_a_daemon_the_command_reads_the_baths_and_hands_a_letter_in(
    noonpot: Noonpot, bench: Bench
) -> None:
    said = noonpot("probes", "calibrate", "box-core")
    print(said.out)
    assert (said.code, said.err) == (0, "")
    for words in (
        "Now the ice bath, 0.00 °C (±0.2 K).",
        "Now the boiling water, 94.90 °C (±0.7 K).",
        "Steam burns",
        "waiting: the bath has 94.9 °C; is the tip in it?",
        "at rest",
        "At 63 °C it is right to ±",
        "no daemon has taken it yet",
    ):
        assert words in said.out
    (detail,) = waiting(bench)
    assert detail["probe"] == "box-core"
    assert detail["place"] == "w1 28-000000000002"
    assert float(detail["gain"]) == pytest.approx(1 / 1.01, abs=0.003)
    assert float(detail["offset_k"]) == pytest.approx(-0.8, abs=0.15)
    assert float(detail["spread_k"]) < 0.2


def test_with_a_daemon_its_readings_are_used_and_the_watch_goes_by_it_at_once(
    noonpot: Noonpot, bench: Bench
) -> None:
    station = running(bench)
    said = noonpot("probes", "calibrate", "box-core")
    print(said.out)
    assert (said.code, said.err) == (0, "")
    assert "station: calibrate noted" in said.out
    assert waiting(bench) == []
    made = station.store.calibrations()["box-core"]
    assert made.gain == pytest.approx(1 / 1.01, abs=0.003)
    bench.stays = (Stay(0, 60.0),)
    for _ in range(60):
        bench.clock.advance(2)
        bench.live(2)
    now = bench.clock.moment()
    assert station.watch.facts(now).core_c == pytest.approx(60.0, abs=0.5)
    raw = station.store.raw_of("box-core", now.at.replace(minute=0), now.at)[-1]
    assert isinstance(raw, Reading)
    assert raw.value == pytest.approx(61.4, abs=0.3)


def test_check_and_probes_go_by_the_calibration_and_check_reminds_of_it(
    noonpot: Noonpot, bench: Bench
) -> None:
    station = running(bench)
    assert noonpot("probes", "calibrate", "box-core").code == 0
    station.store.close()
    bench.station = None
    said = noonpot("check")
    hints = {line.split(":")[0]: line for line in said.out.splitlines() if " probe " in line}
    assert "°C, calibrated on 2026-06-03" in hints["good  probe box-core"]
    assert "'noonpot probes calibrate box-pot' makes it truer" in hints["good  probe box-pot"]
    assert "calibrate" not in hints["good  probe sky"]
    bodies = [json.loads(line) for line in noonpot("probes", "--json").out.splitlines()]
    shown = {body["probe"]: body["value"] for body in bodies}
    assert shown["box-core"] == pytest.approx(MOUNTAIN_C, abs=0.5)
    assert shown["box-pot"] == pytest.approx(MOUNTAIN_C - 0.3, abs=0.3)
    bench.clock.advance(366 * 86_400)
    assert "more than a year ago; do it anew" in noonpot("check").out


def test_a_measured_pressure_moves_the_boiling_point(noonpot: Noonpot, bench: Bench) -> None:
    bench.stays = (Stay(60, 0.0), Stay(600, 94.28))  # under 823.9 hPa
    said = noonpot("probes", "calibrate", "box-core", "--pressure-hpa", "823.9")
    assert "Now the boiling water, 94.28 °C (±0.2 K)." in said.out
    (detail,) = waiting(bench)
    assert float(detail["gain"]) == pytest.approx(1 / 1.01, abs=0.003)


def test_one_bath_is_enough_for_one_number_and_that_is_said(noonpot: Noonpot, bench: Bench) -> None:
    said = noonpot("probes", "calibrate", "box-pot", "--only", "ice")
    assert said.code == 0
    assert "boiling water" not in said.out.split("ice bath")[1]
    assert "One bath corrects all temperatures by +0." in said.out
    assert "not known elsewhere" in said.out
    (detail,) = waiting(bench)
    assert (detail["gain"], detail["points"].count("/")) == ("1.000000", 3)


def test_a_calibration_can_be_forgotten(noonpot: Noonpot, bench: Bench) -> None:
    station = running(bench)
    assert noonpot("probes", "calibrate", "box-core", "--only", "ice").code == 0
    assert station.store.calibrations()["box-core"].points
    bench.clock.advance(5)
    assert noonpot("probes", "calibrate", "box-core", "--forget").code == 0
    assert not station.store.calibrations()["box-core"].points


def test_a_probe_that_is_far_from_its_bath_is_given_up_and_nothing_is_handed_in(
    noonpot: Noonpot, bench: Bench
) -> None:
    bench.probes["box-core"] = WrongProbe(off_k=6.0)
    said = noonpot("probes", "calibrate", "box-core")
    assert said.code == 2
    assert "given up after 30 minutes: box-core: the bath has 0.0 °C" in said.err
    assert waiting(bench) == []


def test_a_probe_that_fails_in_the_bath_is_named_with_its_cure_until_it_answers(
    noonpot: Noonpot, bench: Bench
) -> None:
    bench.faulty = {"box-core"}
    said = noonpot("probes", "calibrate", "box-core")
    assert said.code == 2
    assert "box-core: not-answering: not answering, value unknown; check plug" in said.err


def test_readings_that_stay_away_are_told(noonpot: Noonpot, bench: Bench) -> None:
    running(bench)
    del bench.probes["box-core"]
    said = noonpot("probes", "calibrate", "box-core")
    assert said.code == 2
    assert "box-core: nothing is heard of it" in said.err


def test_probes_in_one_bath_are_compared(noonpot: Noonpot, bench: Bench) -> None:
    bench.stays = (Stay(0, 40.0),)
    said = noonpot("probes", "compare", "box-pot", "box-core")
    assert said.code == 0
    assert "Put all tips close together into one bath" in said.out
    assert "That is much: calibrate them" in said.out
    lines = noonpot("probes", "compare", "box-pot", "box-core", "--json").out.splitlines()
    bodies = [json.loads(line) for line in lines]
    apart_k = bodies[1]["true_c"] - bodies[0]["true_c"]
    assert apart_k == pytest.approx(0.8 + 0.4 + 0.3, abs=0.1)
    assert bodies[0]["from_middle_k"] == pytest.approx(-apart_k / 2, abs=0.002)


def test_probes_that_were_calibrated_are_compared_as_they_are_gone_by(
    noonpot: Noonpot, bench: Bench
) -> None:
    running(bench)
    bench.stays = (Stay(0, 0.0),)
    for probe in ("box-pot", "box-core"):
        assert noonpot("probes", "calibrate", probe, "--only", "ice").code == 0
    said = noonpot("probes", "compare", "box-pot", "box-core")
    assert "They agree; whether they are right, only a known bath shows." in said.out


def test_a_probe_whose_cooker_cooks_is_left_there(noonpot: Noonpot, bench: Bench) -> None:
    running(bench)
    assert noonpot("cook", "start", "box").code == 0
    said = noonpot("probes", "calibrate", "box-core")
    assert (said.code, said.err) == (
        2,
        "box cooks: its probes are needed there; first 'noonpot cook stop box'\n",
    )


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["calibrate", "box-cor"], "there is no probe 'box-cor'; did you mean box-core?"),
        (["calibrate", "sky"], "sky measures sunlight; only thermometers are calibrated"),
        (["calibrate", "box-core", "--pressure-hpa", "1018"], "at 1524 m the air has about 843"),
        (["--config", "x.toml", "calibrate", "box-core"], "--config belongs behind calibrate"),
        (["compare", "box-pot", "box-pot"], "name at least two probes to compare"),
    ],
)
def test_a_wrong_word_is_told_before_anybody_boils_water(
    noonpot: Noonpot, bench: Bench, words: list[str], sentence: str
) -> None:
    begun = bench.clock.moment()
    said = noonpot("probes", *words)
    assert said.code == 2
    assert sentence in said.err
    assert bench.clock.moment() == begun


def test_without_a_place_for_letters_nobody_boils_water(noonpot: Noonpot, bench: Bench) -> None:
    for folder in ("inbox/refused", "inbox"):
        (bench.settings.data / folder).rmdir()
    said = noonpot("probes", "calibrate", "box-core")
    assert said.code == 2
    assert "start 'noonpot run' once, then do it" in said.err
