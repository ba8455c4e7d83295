"""What the engine may rely on, whether the store is asked at once or after a restart."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.alert import Priority
from noonpot.core.cook import Aim, Cook, Event, EventKind, Load
from noonpot.core.readings import Fault, FaultKind, Reading
from noonpot.errors import StoreError
from noonpot.ports import Batch, Journal, Outbox
from noonpot.store.sqlite import Store
from store.shelf import START, alert, fault, opened, reading, write_reading

Again = Callable[[], Store]


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture(params=["at once", "after a restart"])
def again(request: pytest.FixtureRequest, tmp_path: Path, clock: FakeClock) -> Iterator[Again]:
    """Gives the store; after a restart it is another one on the same file."""
    path = tmp_path / "noonpot.db"
    stores = [opened(path, clock)]

    def give() -> Store:
        if request.param == "after a restart":
            stores[-1].close()
            stores.append(opened(path, clock))
        return stores[-1]

    yield give
    stores[-1].close()


def journal(store: Store) -> Journal:
    return store


def outbox(store: Store) -> Outbox:
    return store


def test_readings_come_back_in_the_order_of_time(again: Again, clock: FakeClock) -> None:
    values = [24.0, 23.9375, -0.0625, 150.25]
    for value in values:
        write_reading(again(), clock.advance(2), value)
    back = again().samples_of("box-pot", START, clock.moment().at)
    assert [s.value for s in back if isinstance(s, Reading)] == values
    assert [s.at - START for s in back] == [timedelta(seconds=2 * n) for n in (1, 2, 3, 4)]
    assert [s.mono_s for s in back] == [1002, 1004, 1006, 1008]


def test_only_the_asked_probe_and_time_come_back_ends_included(
    again: Again, clock: FakeClock
) -> None:
    for value in (1.0, 2.0, 3.0, 4.0):
        now = clock.advance(10)
        again().write(now, Batch(samples=[reading(now, value), reading(now, 99, "box-core")]))
    since, until = START + timedelta(seconds=20), START + timedelta(seconds=30)
    back = again().samples_of("box-pot", since, until)
    assert [s.value for s in back if isinstance(s, Reading)] == [2.0, 3.0]


def test_of_a_fault_the_beginning_and_each_change_come_back(again: Again, clock: FakeClock) -> None:
    for kind in (
        FaultKind.CHECKSUM,
        FaultKind.CHECKSUM,
        FaultKind.NOT_ANSWERING,
        None,
        None,
        FaultKind.NOT_ANSWERING,
    ):
        now = clock.advance(2)
        again().write(now, Batch(samples=[fault(now, kind) if kind else reading(now, 20)]))
    back = again().samples_of("box-pot", START, clock.moment().at)
    assert [s.kind if isinstance(s, Fault) else s.value for s in back] == [
        FaultKind.CHECKSUM,
        FaultKind.NOT_ANSWERING,
        20,
        20,
        FaultKind.NOT_ANSWERING,
    ]
    assert back[0] == Fault(
        "box-pot", START + timedelta(seconds=2), 1002, FaultKind.CHECKSUM, "as said by the driver"
    )


def test_a_cook_gets_an_id_and_keeps_it(again: Again, clock: FakeClock) -> None:
    now = clock.moment()
    first, other = again().write(now, Batch(cooks=[Cook("box", now.at), Cook("dish", now.at)]))
    assert 0 < first.id < other.id
    (second,) = again().write(now, Batch(cooks=[replace(first, food="bread")]))
    assert second == replace(first, food="bread")
    assert journal(again()).running_cooks() == [second, other]


def test_everything_of_a_running_cook_comes_back_and_a_stopped_one_does_not(
    again: Again, clock: FakeClock
) -> None:
    now = clock.moment()
    cook = Cook("box", now.at, "bread", 94.5, meal_at=now.at + timedelta(hours=6))
    (cook,) = again().write(now, Batch(cooks=[cook]))
    now = clock.advance(600)
    loaded = replace(
        cook, aim=Aim(94.5, 37.0), load=Load(now.at, "rye bread", 0.6, 27.0, 92.0), food="rye bread"
    )
    again().write(now, Batch(cooks=[loaded]))
    assert journal(again()).running_cooks() == [loaded]
    again().write(clock.advance(60), Batch(cooks=[replace(loaded, load=None)]))
    assert journal(again()).running_cooks() == [replace(loaded, load=None)]
    again().write(clock.moment(), Batch(cooks=[replace(loaded, stopped_at=clock.moment().at)]))
    assert journal(again()).running_cooks() == []


def test_everything_of_an_alarm_comes_back(again: Again, clock: FakeClock) -> None:
    now = clock.moment()
    first = AlarmRecord("box", "probe", AlarmState.NORMAL, now, rising_s=990.5)
    other = AlarmRecord("box", "done", AlarmState.NORMAL, now)
    again().write(now, Batch(alarms=[first, other]))
    now = clock.advance(5)
    raised = AlarmRecord(
        "box", "probe", AlarmState.UNACKNOWLEDGED, now, 3, "box-core", "box: look at the plug",
        Priority.URGENT, 990.5, 1003.25, 1005.0, 2800.0,
    )  # fmt: skip
    again().write(now, Batch(alarms=[raised]))
    assert journal(again()).alarm_records() == [other, raised]


def test_each_channel_settles_each_alert_by_itself_in_the_order_they_were_raised(
    again: Again, clock: FakeClock
) -> None:
    told = [alert(name, clock.advance(1)) for name in ("z", "a", "m")]
    again().write(clock.moment(), Batch(alerts=told[:2]))
    again().write(clock.moment(), Batch(alerts=told[2:]))
    assert outbox(again()).unsent("mqtt", 10) == told
    assert outbox(again()).unsent("mqtt", 2) == told[:2]
    again().settle("mqtt", "a", "sent")
    assert outbox(again()).unsent("mqtt", 10) == [told[0], told[2]]
    again().settle("mqtt", "z", "expired")
    again().settle("mqtt", "m", "refused")
    assert outbox(again()).unsent("mqtt", 10) == []
    assert outbox(again()).unsent("push", 10) == told


def test_an_alert_written_twice_is_told_once(again: Again, clock: FakeClock) -> None:
    told = alert("once", clock.moment())
    again().write(clock.moment(), Batch(alerts=[told]))
    again().write(clock.moment(), Batch(alerts=[told]))
    assert outbox(again()).unsent("mqtt", 10) == [told]
    again().settle("mqtt", "once", "sent")
    again().write(clock.moment(), Batch(alerts=[told]))
    assert outbox(again()).unsent("mqtt", 10) == []


def test_a_batch_that_fails_leaves_nothing(again: Again, clock: FakeClock) -> None:
    now = clock.moment()
    load = Event("box", now.at, EventKind.LOAD, {"food": "bread", "uid": "u-1"})
    batch = Batch(
        samples=[reading(now, 20.0), fault(now, FaultKind.CHECKSUM, "box-core")],
        events=[load],
        cooks=[Cook("box", now.at)],
        alarms=[AlarmRecord("box", "done", AlarmState.NORMAL, now)],
        alerts=[replace(alert("bad", now), text=None)],  # type: ignore[arg-type]
    )
    with pytest.raises(StoreError):
        again().write(now, batch)
    store = again()
    assert store.samples_of("box-pot", START, now.at) == []
    assert store.samples_of("box-core", START, now.at) == []
    assert store.events_of("box", START, now.at) == []
    assert not store.knows_event("u-1")
    assert store.running_cooks() == []
    assert store.alarm_records() == []
    assert store.unsent("mqtt", 10) == []
    good = replace(batch, alerts=[alert("good", now)])
    again().write(now, good)
    assert len(again().samples_of("box-pot", START, now.at)) == 1
    assert again().knows_event("u-1")
    assert outbox(again()).unsent("mqtt", 10) == [alert("good", now)]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 1e9])
def test_what_is_no_measurement_is_refused_with_its_probe_named(
    again: Again, clock: FakeClock, value: float
) -> None:
    with pytest.raises(StoreError, match=r"reading .* of probe 'box-pot' is no measurement"):
        write_reading(again(), clock.moment(), value)


def test_a_probe_that_is_not_registered_is_refused_with_its_name(
    again: Again, clock: FakeClock
) -> None:
    with pytest.raises(StoreError, match="probe 'unheard-of' is not registered"):
        write_reading(again(), clock.moment(), 20, "unheard-of")


def test_an_alert_that_nobody_raised_cannot_be_settled(again: Again) -> None:
    with pytest.raises(StoreError):
        again().settle("mqtt", "nobody", "sent")
