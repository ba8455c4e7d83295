"""A cook as a recording, and back."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.cook import Cook, Event, EventKind, begin
from noonpot.core.header import Header
from noonpot.core.moment import iso
from noonpot.core.readings import FaultKind, Role, Sample
from noonpot.core.recording import Recording, Row, format_recording, parse_recording
from noonpot.core.station import CookerSpec, Place, Station
from noonpot.errors import CookError
from noonpot.ports import Batch
from noonpot.store.export import export
from noonpot.store.sqlite import Store
from store.shelf import PROBES, START, fault, opened, reading, write_reading

PLACE = Place(46.95, 7.44, 540.0, ((90.0, 12.0), (270.0, 8.0)))
STATION = Station("garden", PLACE, (CookerSpec("box", 0.31, 25.0), CookerSpec("dish")), PROBES)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(tmp_path / "noonpot.db", clock) as store:
        yield store


def happen(
    store: Store, clock: FakeClock, kind: EventKind, cooker: str = "box", **detail: str
) -> None:
    now = clock.moment()
    store.write(now, Batch(events=[Event(cooker, now.at, kind, detail)]))


def start(store: Store, clock: FakeClock, **detail: str) -> Cook:
    event = Event("box", clock.moment().at, EventKind.START, detail)
    (cook,) = store.write(clock.moment(), Batch(events=[event], cooks=[begin(event)]))
    return cook


def exported(store: Store, cook: Cook, clock: FakeClock) -> Recording:
    return export(store, cook.id, STATION, clock.moment().at)


def test_a_whole_cook_comes_out_as_a_recording_that_can_be_read(
    store: Store, clock: FakeClock
) -> None:
    cook = start(store, clock, food="bread", target_c="92")
    happen(store, clock, EventKind.AIM, azimuth="94.5", elevation="37.0")
    for pot_c, core_c in ((24.0, 21.5), (40.0625, 21.5625)):
        now = clock.advance(2)
        samples = [
            reading(now, pot_c),
            reading(now, core_c, "box-core"),
            reading(now, 23.4375, "shade"),
            reading(now, 556, "sky"),
            reading(now, 300, "dish-pot"),
        ]
        store.write(now, Batch(samples=samples))
    clock.advance(1)
    happen(store, clock, EventKind.LOAD, mass_kg="0.6", uid="u-1")
    happen(store, clock, EventKind.NOTE, text='she said "smells good", thrice')
    happen(store, clock, EventKind.LID, cooker="dish")
    recording = exported(store, cook, clock)
    text = format_recording(recording)
    assert text.splitlines() == [
        "# format: noonpot-recording 1",
        "# cooker: box",
        "# latitude: 46.95",
        "# longitude: 7.44",
        "# elevation_m: 540.0",
        "# horizon: 90.0/12.0 270.0/8.0",
        "# aperture_m2: 0.31",
        "# acceptance_deg: 25.0",
        "time,pot_c,core_c,ambient_c,irradiance_wm2,event,detail",
        "2026-06-03T07:00:00Z,,,,,aim,azimuth=94.5 elevation=37.0",
        "2026-06-03T07:00:02Z,24.0,21.5,23.4375,556.0,,",
        "2026-06-03T07:00:04Z,40.0625,21.5625,23.4375,556.0,,",
        "2026-06-03T07:00:05Z,,,,,load,food=bread target_c=92 mass_kg=0.6",
        '2026-06-03T07:00:05Z,,,,,note,"text=""she said \\""smells good\\"", thrice"""',
    ]
    assert parse_recording(text) == recording


def test_of_two_core_probes_the_coldest_counts(store: Store, clock: FakeClock) -> None:
    cook = start(store, clock)
    now = clock.advance(2)
    samples = [reading(now, 93, "box-core"), reading(now, 71.5, "box-core-2")]
    store.write(now, Batch(samples=samples))
    assert exported(store, cook, clock).rows == [Row(now.at, {Role.CORE: 71.5})]


def test_a_round_that_crosses_a_second_is_one_row_and_two_rounds_are_two(
    store: Store, clock: FakeClock
) -> None:
    cook = start(store, clock)
    clock.advance(1.9)
    for value in (20, 21, 22):
        write_reading(store, clock.moment(), value)
        write_reading(store, clock.advance(0.2), value + 50, "box-core")
        clock.advance(1.8)
    rows = exported(store, cook, clock).rows
    assert [(row.at - START, row.values) for row in rows] == [
        (timedelta(seconds=1 + 2 * n), {Role.POT: 20 + n, Role.CORE: 70 + n}) for n in range(3)
    ]


def test_a_probe_read_every_second_is_a_row_every_second(store: Store, clock: FakeClock) -> None:
    cook = start(store, clock)
    for value in (20, 21, 22):
        write_reading(store, clock.advance(1), value)
    rows = exported(store, cook, clock).rows
    assert [row.values[Role.POT] for row in rows] == [20, 21, 22]


def test_a_fault_is_an_empty_cell(store: Store, clock: FakeClock) -> None:
    cook = start(store, clock)
    now = clock.advance(2)
    samples: list[Sample] = [reading(now, 93), fault(now, FaultKind.CHECKSUM, "box-core")]
    store.write(now, Batch(samples=samples))
    assert exported(store, cook, clock).rows == [Row(now.at, {Role.POT: 93})]


def test_the_aim_from_before_the_start_holds_at_the_start(store: Store, clock: FakeClock) -> None:
    happen(store, clock, EventKind.AIM, azimuth="80", elevation="20")
    clock.advance(60)
    happen(store, clock, EventKind.AIM, azimuth="90", elevation="30")
    happen(store, clock, EventKind.AIM, cooker="dish", azimuth="1", elevation="1")
    clock.advance(60)
    cook = start(store, clock)
    row = Row(cook.started_at, event=EventKind.AIM, detail={"azimuth": "90", "elevation": "30"})
    assert exported(store, cook, clock).rows == [row]


def test_an_aim_in_the_second_of_the_start_replaces_the_one_before(
    store: Store, clock: FakeClock
) -> None:
    happen(store, clock, EventKind.AIM, azimuth="80", elevation="20")
    clock.advance(60)
    cook = start(store, clock)
    happen(store, clock, EventKind.AIM, azimuth="90", elevation="30")
    rows = exported(store, cook, clock).rows
    assert [row.detail for row in rows] == [{"azimuth": "90", "elevation": "30"}]


def test_only_the_time_of_the_cook_comes_out(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 1)
    clock.advance(10)
    cook = start(store, clock)
    write_reading(store, clock.advance(10), 2)
    stop = Event("box", clock.advance(1).at, EventKind.STOP)
    store.write(clock.moment(), Batch(events=[stop], cooks=[cook.after(stop)]))
    write_reading(store, clock.advance(10), 3)
    happen(store, clock, EventKind.LID)
    rows = exported(store, cook, clock).rows
    assert [(iso(row.at), row.values) for row in rows] == [
        ("2026-06-03T07:00:20Z", {Role.POT: 2}),
    ]


def test_rows_are_in_the_order_of_time_though_the_clock_fell_back(
    store: Store, clock: FakeClock
) -> None:
    cook = start(store, clock)
    write_reading(store, clock.advance(100), 20)
    clock.step_wall(-60)
    write_reading(store, clock.advance(2), 21)
    clock.advance(100)
    rows = exported(store, cook, clock).rows
    assert [(row.at - START, row.values[Role.POT]) for row in rows] == [
        (timedelta(seconds=42), 21),
        (timedelta(seconds=100), 20),
    ]


def test_a_cooker_that_is_gone_from_the_configuration_still_comes_out(
    store: Store, clock: FakeClock
) -> None:
    cook = start(store, clock)
    bare = export(store, cook.id, Station("garden", PLACE, ()), clock.moment().at)
    assert bare.header == Header(PLACE, "box")


def test_a_cook_that_is_not_there_is_named(store: Store, clock: FakeClock) -> None:
    with pytest.raises(CookError, match="no cook 7; 'noonpot cook list' shows them"):
        export(store, 7, STATION, clock.moment().at)
