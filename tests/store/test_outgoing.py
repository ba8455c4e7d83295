"""What goes to a time-series server, and that nothing is left behind its cursor."""

import json
from collections.abc import Iterator, Sequence
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.forecast import Forecast
from noonpot.ports import Batch, Given
from noonpot.store.passes import RIPE_S
from noonpot.store.points import Point
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
    """All that goes out until nothing is left; the server takes it."""
    gone: list[Point] = []
    while True:
        points = store.outgoing("influx", limit)
        store.delivered("influx")
        if not points:
            return gone
        gone += points


def a_minute_later(store: Store, clock: FakeClock) -> None:
    """The server has all until now, and so much time goes by that it is sure to keep it."""
    drained(store)
    clock.advance(RIPE_S)
    store.outgoing("influx", 500)
    store.delivered("influx")


def cook(store: Store, clock: FakeClock, cooker: str = "box") -> int:
    """Begin a cook; returns its id."""
    begun = Cook(cooker, clock.moment().at, "beans", 90.0)
    return store.write(clock.moment(), Batch(cooks=[begun]))[0].id


def given(store: Store, clock: FakeClock, number: int, p_done: float = 0.75) -> None:
    """Keep a forecast of now: half done in an hour, the rest not known."""
    at = clock.moment().at
    forecast = Forecast(at, 90.0, p_done, None, at + timedelta(hours=1), None)
    store.write(clock.moment(), Batch(forecasts=[Given(number, forecast)]))


def test_a_row_of_each_kind_goes_with_all_that_names_it(store: Store, clock: FakeClock) -> None:
    number = cook(store, clock)
    now = clock.advance(10)
    detail = {"text": "stirred", "uid": "u-1", "mass_kg": "0.5", "start_c": "warm", "core_c": "inf"}
    store.write(now, Batch(events=[Event("box", now.at, EventKind.NOTE, detail)]))
    a_minute_later(store, clock)
    now = clock.advance(10 - RIPE_S % 10)
    at_ms = int(now.at.timestamp()) * 1000
    store.write(now, Batch([reading(now, 20.5), reading(now, 556, "sky")]))
    given(store, clock, number)
    del detail["uid"]
    assert store.outgoing("influx", 500) == [
        Point(
            "event",
            {"cooker": "box", "kind": "note"},
            {"count": 1.0, "detail": json.dumps(detail), "mass_kg": 0.5},
            START_MS + 10_001,
        ),
        Point(
            "forecast",
            {"cooker": "box"},
            {"cook": float(number), "target_c": 90.0, "p_done": 0.75, "done_p50_s": 3600.0},
            at_ms,
        ),
        Point(
            "temperature",
            {"probe": "box-pot", "role": "pot", "cooker": "box"},
            {"celsius": 20.5},
            at_ms,
        ),
        Point(
            "irradiance",
            {"probe": "sky", "role": "irradiance"},
            {"w_per_m2": 556.0},
            at_ms,
        ),
    ]


def test_two_events_of_one_kind_and_second_stay_two(store: Store, clock: FakeClock) -> None:
    lid = Event("box", clock.moment().at, EventKind.LID)
    store.write(clock.moment(), Batch(events=[lid, lid]))
    a_minute_later(store, clock)
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
    assert store.waiting("influx") == 2
    gone = drained(store)
    assert values(gone) == [21, 22], "no minute is over, whatever the wall clock says"
    assert [point.at_ms - START_MS for point in gone] == [4000, 6000]
    a_minute_later(store, clock)
    assert sorted(values(drained(store))) == [1.0, 20, 21, 22]


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
        assert values(drained(store)) == [20]
        a_minute_later(store, after)
        assert values(drained(store)) == [20, 1.0]


def test_what_is_refused_is_put_aside_with_its_reason(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20)
    store.outgoing("influx", 500)
    store.delivered("influx", [("a line", "field type conflict")])
    rows = store._db.execute("SELECT sink, line, reason, at FROM quarantine")  # noqa: SLF001
    assert [tuple(row) for row in rows] == [
        ("influx", "a line", "field type conflict", "2026-06-03T07:00:00Z")
    ]
    assert store.waiting("influx") == 0


def test_an_event_goes_when_nobody_can_take_it_back_any_more(
    store: Store, clock: FakeClock
) -> None:
    loaded = Event("box", clock.moment().at, EventKind.LOAD, {"uid": "u-1", "mass_kg": "2"})
    store.write(clock.moment(), Batch(events=[loaded]))
    assert drained(store) == []
    undo = Event("box", clock.advance(59).at, EventKind.UNDO, {"uid": "u-2", "letter": "u-1"})
    store.take_back(clock.moment(), undo)
    assert drained(store) == []
    clock.advance(RIPE_S - 59)
    assert drained(store) == []
    assert [point.tags["kind"] for point in drained(store)] == ["note"]
    clock.advance(59)
    assert drained(store) == []
    assert [point.tags["kind"] for point in drained(store)] == ["undo"]


@pytest.mark.parametrize("limit", [1, 2, 3, 500])
def test_all_goes_again_when_a_minute_is_over(store: Store, clock: FakeClock, limit: int) -> None:
    number = cook(store, clock)
    for value in range(20, 24):
        write_reading(store, clock.advance(2), value)
    given(store, clock, number)
    assert values(drained(store, limit)) == [number, 20, 21, 22, 23]
    for wait_s in (RIPE_S - 1, 1):
        clock.advance(wait_s)
        assert drained(store, limit) == []
    assert values(drained(store, limit)) == [number, 20, 21, 22, 23]
    for wait_s in (0, RIPE_S, RIPE_S):
        clock.advance(wait_s)
        assert drained(store, limit) == []


def test_what_went_once_goes_again_after_a_restart(tmp_path: Path, clock: FakeClock) -> None:
    path = tmp_path / "again.db"
    with opened(path, clock) as store:
        write_reading(store, clock.advance(2), 20)
        drained(store)
        clock.advance(RIPE_S)
        write_reading(store, clock.advance(2), 21)
        assert values(drained(store)) == [21, 20]
    with opened(path, clock) as store:
        assert store.waiting("influx") == 1
        assert values(drained(store)) == [21]


def test_old_rows_do_not_hold_up_new_ones(store: Store, clock: FakeClock) -> None:
    for value in range(20):
        write_reading(store, clock.advance(2), value)
    a_minute_later(store, clock)
    for value in range(20, 40):
        write_reading(store, clock.advance(2), value)
    assert values(store.outgoing("influx", 10)) == [0, 1, 2, 3, 4, 20, 21, 22, 23, 24]


def test_forecasts_of_cooks_at_the_same_time_all_go(store: Store, clock: FakeClock) -> None:
    cooks = [cook(store, clock, cooker) for cooker in ("box", "dish")]
    for _ in range(5):
        clock.advance(600)
        for number in cooks:
            given(store, clock, number)
    assert values(drained(store, 3)) == [*cooks] * 5


def test_a_forecast_that_comes_late_with_its_reading_is_not_passed_over(
    store: Store, clock: FakeClock
) -> None:
    """So it is when the card refused to be written for a while."""
    late, early = cook(store, clock), cook(store, clock, "dish")
    then = clock.advance(2)
    forecast = Forecast(then.at, 90.0, 0.5, None, None, None)
    clock.advance(2)
    given(store, clock, early)
    assert values(drained(store)) == [early]
    store.write(clock.moment(), Batch([reading(then, 20)], forecasts=[Given(late, forecast)]))
    assert late in values(drained(store))


def test_a_clock_set_back_takes_no_reading_for_another(store: Store, clock: FakeClock) -> None:
    for step_s in (-6, -6, 0):
        for value in range(3):
            write_reading(store, clock.advance(2), value)
        clock.step_wall(step_s)
    assert [point.at_ms - START_MS for point in drained(store)] == [
        *(2000, 4000, 6000),
        *(2001, 4001, 6001),
        *(2002, 4002, 6002),
    ]


def test_a_clock_set_back_by_a_year_stops_nothing(store: Store, clock: FakeClock) -> None:
    lid = Event("box", clock.moment().at, EventKind.LID)
    store.write(clock.moment(), Batch(events=[lid]))
    write_reading(store, clock.moment(), 20)
    assert values(drained(store)) == [20]
    clock.step_wall(-365 * 86_400)
    a_minute_later(store, clock)
    assert values(drained(store)) == [20, 1.0]
