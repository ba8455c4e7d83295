"""Rounds as the daemon writes them, numbered so that any loss, double or half of one shows."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from fakes import FakeClock
from noonpot.core.alarms import AlarmRecord, AlarmState, fresh
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.readings import Reading
from noonpot.ports import Batch
from noonpot.store.sqlite import Store
from store.shelf import PROBES, START, alert, reading

STEP_S = 2.0
ALARMS = ("done", "turn", "probe")
STATES = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.NORMAL)
CHANNEL = "mqtt"
FOREVER = timedelta(days=365)


def clock_at(number: int) -> FakeClock:
    """The clock just before the round of this number."""
    clock = FakeClock(mono_s=1000 + STEP_S * number)
    clock.step_wall(STEP_S * number)
    return clock


def batch(number: int, now: Moment) -> Batch:
    """Round ``number``: a reading of each probe, an event, an alert, how three alarms stand, and a
    cook that ends and begins every hundred rounds.
    """
    cooks = []
    if number % 100 == 0:
        cooks = [Cook("box", now.at, "bread", stopped_at=now.at + timedelta(seconds=1))]
    return Batch(
        samples=[reading(now, number, probe.name) for probe in PROBES],
        events=[Event("box", now.at, EventKind.NOTE, {"number": str(number)})],
        cooks=cooks,
        alarms=[record(alarm, number, now) for alarm in ALARMS],
        alerts=[alert(str(number), now)],
    )


def record(alarm: str, number: int, now: Moment) -> AlarmRecord:
    """How an alarm stands after this round."""
    return replace(
        fresh("box", alarm, now),
        state=STATES[number % len(STATES)],
        occurrence=number,
        text=f"round {number}",
    )


def rounds_in(store: Store) -> int:
    """How many rounds a store holds, each of them whole and once.

    Fails when one is missing, there twice or in part, or when the alarms are not those of the last.
    """
    until = START + FOREVER
    events = [int(e.detail["number"]) for e in store.events_of("box", START, until)]
    count = len(events)
    assert events == list(range(count)), "an event is lost or doubled"
    for probe in PROBES:
        back = store.samples_of(probe.name, START, until)
        values = [s.value for s in back if isinstance(s, Reading)]
        assert values == events, f"a reading of {probe.name} is lost or doubled"
    told = _alerts(store, count)
    assert told == events, "an alert is lost or doubled"
    assert len(store.cooks()) == (count + 99) // 100, "a cook is lost or doubled"
    if count:
        stand = {r.alarm: (r.occurrence, r.text, r.state) for r in store.alarm_records()}
        last = count - 1
        wanted = (last, f"round {last}", STATES[last % len(STATES)])
        assert stand == dict.fromkeys(ALARMS, wanted), "the alarms are not as last written"
    return count


def _alerts(store: Store, count: int) -> Sequence[int]:
    found = store.unsent("nobody", count + 10)
    return [int(alert.id) for alert in found]
