"""A calibration through real rounds: told by letter, gone by at once, and after a restart."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from engine.kitchen import HOUSE, PROBES, STATION, event, reading, watch_at
from fakes import FakeClock
from noonpot.core.calibration import Calibration, Point, calibrated, place_of
from noonpot.core.calibrationletter import detail_of
from noonpot.core.cook import Event, EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Fault, FaultKind, Reading
from noonpot.core.stationfacts import OWN
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.ports import Health
from noonpot.store.sqlite import Store
from simday import at

CORE = PROBES[1]
BEGIN = at("09:00")


class House:
    """A station with one cooker on a real store."""

    def __init__(self, folder: Path, clock: FakeClock) -> None:
        self.clock = clock
        self.store = Store(folder / "noonpot.db", clock)
        self.store.register(PROBES)
        self.watch: Watch = watch_at(clock)
        self.pipeline = Pipeline(
            STATION.name,
            [self.watch],
            {p.name: ProbeFilter() for p in PROBES},
            self.store,
            [],
            Health(),
            own=StationWatch(HOUSE, clock.moment()),
        )
        self.pipeline.resume(clock.moment())

    def read(self, value: float, probe: str = "box-core") -> None:
        now = self.clock.advance(2)
        self.pipeline.round(now, [reading(probe, now, value)], [])

    def tell(self, told: Event) -> dict[int, str]:
        return self.pipeline.round(self.clock.moment(), [], [told])

    @property
    def core_c(self) -> float | None:
        return self.watch.facts(self.clock.moment()).core_c

    def kept(self, *, raw: bool = False) -> list[float]:
        self.pipeline.write(self.clock.moment())
        find = self.store.raw_of if raw else self.store.samples_of
        told = find("box-core", BEGIN, self.clock.moment().at)
        return [s.value for s in told if isinstance(s, Reading)]


@contextmanager
def station(folder: Path, clock: FakeClock) -> Iterator[House]:
    house = House(folder, clock)
    try:
        yield house
    finally:
        house.store.close()


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    with station(tmp_path, FakeClock(BEGIN)) as house:
        yield house


def letter(clock: FakeClock, cooker: str = OWN, **changes: str) -> Event:
    """The core shows 1 K too much in ice and 2 K too much at 95 °C."""
    points = [Point(0.0, 1.0, 0.02, 0.1), Point(95.0, 97.0, 0.05, 0.3)]
    made = calibrated("box-core", place_of(CORE), clock.moment().at, points)
    detail = {**detail_of(made), **changes, "uid": "u-1"}
    return Event(cooker, clock.moment().at, EventKind.CALIBRATE, detail)


def test_the_watch_goes_by_what_is_true_and_the_file_keeps_what_was_shown(house: House) -> None:
    house.read(97.0)
    assert house.core_c == 97.0
    house.clock.advance(1)
    assert house.tell(letter(house.clock)) == {}
    house.read(97.0)
    assert house.core_c == pytest.approx(95.0)
    assert house.kept() == [97.0, 95.0]
    assert house.kept(raw=True) == [97.0, 97.0]


def test_it_is_gone_by_after_a_restart_live_and_in_what_is_remembered(
    house: House, tmp_path: Path
) -> None:
    clock = house.clock
    house.tell(letter(clock))
    house.tell(event(EventKind.START, clock.advance(2), food="bread"))
    house.read(97.0)
    house.pipeline.write(clock.moment())
    house.store.close()
    with station(tmp_path, clock) as again:
        assert again.core_c == pytest.approx(95.0)
        again.read(97.0)
        assert again.core_c == pytest.approx(95.0)
        assert again.kept() == [95.0, 95.0]


def test_a_calibration_that_is_taken_back_leaves_the_readings_as_they_are(house: House) -> None:
    house.tell(letter(house.clock))
    house.clock.advance(2)
    none = Calibration("box-core", place_of(CORE), house.clock.moment().at)
    house.tell(Event(OWN, house.clock.moment().at, EventKind.CALIBRATE, detail_of(none)))
    house.read(97.0)
    assert house.core_c == 97.0


def test_a_probe_is_judged_by_what_it_shows_not_by_what_is_true(house: House) -> None:
    house.tell(letter(house.clock))
    now = house.clock.advance(2)
    start_value = Reading("box-core", now.at, now.mono_s, 85.0, FaultKind.POWER_ON_VALUE)
    house.pipeline.round(now, [start_value], [])
    house.pipeline.write(now)
    (kept,) = house.store.samples_of("box-core", BEGIN, now.at)
    assert isinstance(kept, Fault)
    assert (kept.kind, kept.detail) == (FaultKind.POWER_ON_VALUE, "85")


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"probe": "box-heart"}, "there is no probe 'box-heart'"),
        ({"place": "bus 9"}, "calibrate it where it is now"),
        ({"points": "0/9/0/0"}, "is no calibration"),
        ({"cooker": "box"}, "box: probes are calibrated at the station, not at a cooker"),
    ],
)
def test_a_letter_that_does_not_fit_is_refused_and_changes_nothing(
    house: House, changes: dict[str, str], sentence: str
) -> None:
    refused = house.tell(letter(house.clock, **changes))
    assert sentence in refused[0]
    house.read(97.0)
    assert house.core_c == 97.0
    assert house.store.calibrations() == {}
    assert not house.store.knows_event("u-1")


def test_the_event_is_kept_with_the_station(house: House) -> None:
    house.tell(letter(house.clock))
    (kept,) = house.store.events_of(OWN, BEGIN, house.clock.moment().at)
    assert kept.kind is EventKind.CALIBRATE
    assert kept.detail["probe"] == "box-core"
    assert float(kept.detail["gain"]) == pytest.approx(95 / 96, abs=1e-6)
