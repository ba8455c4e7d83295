"""One reference cell serves every cooker: from bytes on a wire to forecast, message and export."""

import random
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest

from broker import DEADLINE_S, until
from fakes import FakeClock, RecordingNotifier
from hw.i2c import Ads1115, I2cBench
from hw.surroundings import surroundings
from noonpot.app.daemon import NO_LIMIT, Daemon, Parts
from noonpot.clock import FastClock
from noonpot.core.cook import Event
from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Fault, FaultKind, Measured, Reading, Role
from noonpot.core.recording import format_recording, parse_recording
from noonpot.core.station import ProbeSpec
from noonpot.ports import Batch, Found, Health
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.reading import load
from noonpot.store.export import export
from noonpot.store.inbox import hand_in
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from noonpot_hw.ads1115 import open_bus
from simday import HILL, SimpleSun, at, event, turns

START = at("10:00")
COOKERS = ("box", "funnel")
CONFIG = """
[station]
name = "hill"
latitude = 40
longitude = 0
elevation_m = 1600
data = "data"

[poll]
interval_s = 10

[[bus]]
name = "i2c"
driver = "ads1115"
mv_at_1000_wm2 = 60

[[bus]]
name = "pots"
driver = "made for this test"

[[cooker]]
name = "box"

[[cooker]]
name = "funnel"

[[probe]]
name = "sky"
role = "irradiance"
bus = "i2c"
address = "A0-A1"
"""
POT = """
[[probe]]
name = "{cooker}-{role}"
role = "{role}"
bus = "pots"
address = "{cooker}-{role}"
cooker = "{cooker}"
"""


class Pots:
    """Thermometers in hot air, and in loaves on their way."""

    def scan(self) -> Sequence[Found]:
        return []

    def read(self, address: str) -> Measured:
        return Measured(105.0 if address.endswith("pot") else 45.0)

    def notice(self, event: Event) -> None:
        pass

    def close(self) -> None:
        pass


@pytest.fixture
def chip(monkeypatch: pytest.MonkeyPatch) -> Ads1115:
    chip = Ads1115(looks=1)
    I2cBench({0x48: chip}).install(monkeypatch)
    return chip


@contextmanager
def running(folder: Path, phone: RecordingNotifier) -> Iterator[None]:
    """A daemon that lives six hundred times as fast as we do, with a loaf in each cooker."""
    path = folder / "noonpot.toml"
    pots = [POT.format(cooker=cooker, role=role) for cooker in COOKERS for role in ("pot", "core")]
    path.write_text(CONFIG + "".join(pots))
    settings, clock = load(path), FastClock(START, 600)
    settings.data.mkdir()
    buses = {"i2c": open_bus({"mv_at_1000_wm2": 60}, surroundings(clock)), "pots": Pots()}
    with Store(settings.data / "noonpot.db", clock) as store:
        parts = Parts(clock, store, buses, SimpleSun(), [phone], Health(), ServiceNotice({}))
        daemon = Daemon(settings, parts)
        for cooker in COOKERS:
            for told in (
                event(cooker, "start", START, food="bread"),
                turns(cooker, START, at("10:01"))[0],
                event(cooker, "load", START, mass_kg=0.6, start_c=27),
            ):
                hand_in(settings.data / "inbox", told)
        thread = threading.Thread(target=daemon.run)
        clock.go()
        thread.start()
        try:
            yield
        finally:
            daemon.stop.set()
            daemon.kick()
            thread.join(DEADLINE_S)


def clear(when: str) -> float:
    """Clear-sky irradiance at that time [W/m²]."""
    return SimpleSun().day(HILL, START.date()).at(datetime.fromisoformat(when)).ghi


@pytest.mark.parametrize("wm2", [300.0, 750.0])
def test_one_cell_tells_the_forecaster_of_every_cooker_how_bright_it_is(
    chip: Ads1115, tmp_path: Path, wm2: float
) -> None:
    chip.pins[0] = wm2 * 60e-6
    phone = RecordingNotifier()

    def index(cooker: str) -> object:
        return phone.shown.get(f"{cooker}/forecast", {}).get("clear_sky_index")

    with running(tmp_path, phone):
        until(lambda: None not in map(index, COOKERS), "forecasts that know the sky")
    for cooker in COOKERS:
        when = str(phone.shown[f"{cooker}/forecast"]["time"])
        # the index is a mean of some minutes, in which the sun hardly moves
        assert index(cooker) == pytest.approx(wm2 / clear(when), abs=0.05)
        assert phone.shown[f"{cooker}/now"]["irradiance_wm2"] == pytest.approx(wm2, abs=0.2)
        assert phone.shown[f"{cooker}/now"]["faults"] == []

    clock = FakeClock(at("12:00"))
    reader = Reader(tmp_path / "data" / "noonpot.db", clock)
    station = load(tmp_path / "noonpot.toml").station
    for cook in reader.cooks():
        text = format_recording(export(reader, cook.id, station, clock.moment().at))
        rows = [r for r in parse_recording(text).rows if Role.IRRADIANCE in r.values]
        assert len(rows) > 3
        for row in rows:
            assert row.values[Role.IRRADIANCE] == pytest.approx(wm2, abs=0.1)


def light(wm2: float, mono_s: float) -> Reading:
    return Reading("sky", START, mono_s, wm2)


def test_clouds_may_leap_and_85_is_a_brightness_like_any_other() -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    sky = ProbeFilter(NO_LIMIT)
    for second in range(0, 200, 2):
        reading = light(chance.choice([0.0, 85.0, 150.0, 950.0, 1400.0]), second)
        assert sky.accept(reading) is reading
    assert sky.active_fault is None


def test_with_the_limit_of_a_thermometer_a_cloud_would_be_a_fault() -> None:
    sky = ProbeFilter()
    sky.accept(light(950.0, 0))
    judged = sky.accept(light(150.0, 2))
    assert isinstance(judged, Fault)
    assert judged.kind is FaultKind.JUMP


def test_the_store_keeps_sunlight_to_a_sixteenth_of_a_watt(tmp_path: Path) -> None:
    values = [0.0, 0.03, 85.0, 612.53, 1379.97, 1599.99]
    clock = FakeClock(START)
    with Store(tmp_path / "noonpot.db", clock) as store:
        store.register([ProbeSpec("sky", Role.IRRADIANCE, "i2c", "A0-A1")])
        for value in values:
            now = clock.advance(2)
            store.write(now, Batch(samples=[Reading("sky", now.at, now.mono_s, value)]))
        kept = store.samples_of("sky", START, clock.moment().at)
    assert [s.value for s in kept if isinstance(s, Reading)] == pytest.approx(values, abs=1 / 32)
