"""What goes to a time-series server, and that nothing is left behind its cursor."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.ports import Batch
from noonpot.store.outgoing import Point
from noonpot.store.sqlite import Store
from store.shelf import START, opened, reading, write_reading

START_MS = int(START.timestamp()) * 1000


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(tmp_path / "noonpot.db", clock) as store:
        yield store


def values(points: Sequence[Point]) -> list[float | str]:
    """The first value of each point; of an event it is 1."""
    return [next(iter(point.fields.values())) for point in points]


def drained(store: Store, limit: int = 500) -> list[Point]:
    """All that goes out until nothing is left."""
    gone: list[Point] = []
    while points := store.outgoing("influx", limit):
        store.delivered("influx")
        gone += points
    return gone


def test_a_reading_and_an_event_go_with_all_that_names_them(store: Store, clock: FakeClock) -> None:
    now = clock.advance(10)
    stir = Event("box", now.at, EventKind.NOTE, {"text": "stirred", "uid": "u-1"})
    samples = [reading(now, 20.5), reading(now, 556, "sky")]
    store.write(now, Batch(samples=samples, events=[stir]))
    assert store.outgoing("influx", 500) == [
        Point(
            "event",
            {"cooker": "box", "kind": "note"},
            {"count": 1.0, "detail": '{"text": "stirred"}'},
            START_MS + 10_001,
        ),
        Point(
            "temperature",
            {"probe": "box-pot", "role": "pot", "cooker": "box"},
            {"celsius": 20.5},
            START_MS + 10_000,
        ),
        Point(
            "irradiance",
            {"probe": "sky", "role": "irradiance"},
            {"w_per_m2": 556.0},
            START_MS + 10_000,
        ),
    ]


def test_two_events_of_one_kind_and_second_stay_two(store: Store, clock: FakeClock) -> None:
    lid = Event("box", clock.moment().at, EventKind.LID)
    store.write(clock.moment(), Batch(events=[lid, lid]))
    assert len({point.at_ms for point in store.outgoing("influx", 500)}) == 2


@pytest.mark.parametrize("limit", [1, 3, 500])
def test_everything_goes_once_in_its_order(store: Store, clock: FakeClock, limit: int) -> None:
    for value in range(10):
        now = clock.advance(2)
        store.write(now, Batch(samples=[reading(now, value), reading(now, value, "dish-pot")]))
    gone = drained(store, limit)
    assert values(gone) == [value for value in range(10) for _ in range(2)]
    assert len({(point.tags["probe"], point.at_ms) for point in gone}) == 20


def test_what_was_not_acknowledged_goes_again(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20)
    first = store.outgoing("influx", 500)
    assert store.outgoing("influx", 500) == first != []
    store.delivered("influx")
    assert store.outgoing("influx", 500) == []


def test_each_server_has_a_cursor_of_its_own(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20)
    store.outgoing("influx", 500)
    store.delivered("influx")
    assert values(store.outgoing("other", 500)) == [20]


def test_the_rest_of_a_second_that_went_already_goes_too(store: Store, clock: FakeClock) -> None:
    """A batch may end in the middle of a round: the probe with the smaller number comes later."""
    now = clock.advance(2)
    write_reading(store, now, 21, "dish-pot")
    drained(store)
    write_reading(store, now, 20, "box-pot")
    assert 20 in values(drained(store))


def test_a_reading_replaced_within_its_second_goes_again(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20)
    drained(store)
    write_reading(store, clock.advance(0.4), 21)
    assert values(drained(store)) == [21]


def test_a_reading_that_comes_while_the_server_is_writing_is_not_passed_over(
    store: Store, clock: FakeClock
) -> None:
    early = clock.advance(2)
    write_reading(store, clock.advance(2), 21)
    store.outgoing("influx", 500)
    store.write(clock.advance(2), Batch(samples=[reading(early, 20)]))
    store.delivered("influx")
    assert 20 in values(drained(store))


def test_a_reading_that_came_late_is_not_passed_over_after_a_restart(
    tmp_path: Path, clock: FakeClock
) -> None:
    path = tmp_path / "late.db"
    with opened(path, clock) as store:
        early = clock.advance(2)
        write_reading(store, clock.advance(2), 21)
        drained(store)
        store.write(clock.advance(2), Batch(samples=[reading(early, 20)]))
    with opened(path, clock) as store:
        assert values(drained(store)) == [20, 21]


def test_rows_of_an_untrusted_clock_wait_until_it_is_set(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.advance(2), 20)
    clock.trust(False)
    clock.step_wall(-3600)
    now = clock.advance(2)
    lid = Event("box", now.at, EventKind.LID)
    store.write(now, Batch(samples=[reading(now, 21)], events=[lid]))
    assert values(drained(store)) == [20]
    assert store.waiting("influx") == 0
    clock.step_wall(3600)
    clock.trust(True)
    write_reading(store, clock.advance(2), 22)
    assert store.waiting("influx") == 3
    gone = drained(store)
    assert values(gone) == [1.0, 21, 22]
    assert [point.at_ms - START_MS for point in gone] == [4001, 4000, 6000]


def test_rows_of_a_boot_that_never_knew_the_time_go_after_it(
    tmp_path: Path, clock: FakeClock
) -> None:
    path = tmp_path / "unset.db"
    clock.trust(False)
    with opened(path, clock) as store:
        now = clock.moment()
        lid = Event("box", now.at, EventKind.LID)
        store.write(now, Batch(samples=[reading(now, 20)], events=[lid]))
        assert drained(store) == []
    after = FakeClock(START + timedelta(hours=1), 5)
    after.boot_id = "boot-2"
    after.trust(False)
    with opened(path, after) as store:
        write_reading(store, after.advance(1), 21)
        assert values(drained(store)) == [1.0, 20]


def test_what_is_refused_is_put_aside_with_its_reason(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20)
    store.outgoing("influx", 500)
    store.delivered("influx", [("a line", "field type conflict")])
    rows = store._db.execute("SELECT sink, line, reason, at FROM quarantine")  # noqa: SLF001
    assert [tuple(row) for row in rows] == [
        ("influx", "a line", "field type conflict", "2026-06-03T07:00:00Z")
    ]
    assert store.waiting("influx") == 0
