"""Every alarm of a cooker in every state, and a process that stores them and waits to be killed."""

import sys
import threading
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from engine.kitchen import HOUSE, PROBES, daylight
from fakes import FakeClock
from noonpot.core.alarms import COVERS, AlarmRecord, AlarmState, fresh
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.rules import RULES
from noonpot.core.station import CookerSpec, Station
from noonpot.engine.watch import Watch
from noonpot.ports import Batch
from noonpot.store.sqlite import Store

BEGIN = datetime(2026, 6, 3, 9, 0, tzinfo=UTC)
STATES = tuple(AlarmState)
TOLD_AGO_S = 10.0
SHELVED_S = 600.0


def record(cooker: str, alarm: str, state: AlarmState, now: Moment) -> AlarmRecord:
    """The alarm in this state, told ten seconds ago, every timer it may have running."""
    told_s = now.mono_s - TOLD_AGO_S
    return replace(
        fresh(cooker, alarm, now),
        state=state,
        beneath=AlarmState.UNACKNOWLEDGED if state in COVERS else AlarmState.NORMAL,
        occurrence=3,
        subject="box-core:open" if alarm == "probe" else "",
        text=f"{cooker}: what was said of {alarm}",
        told_s=None if state is AlarmState.NORMAL else told_s,
        tellings=0 if state is AlarmState.NORMAL else 1,
        rising_s=told_s if state is AlarmState.NORMAL else None,
        until_s=now.mono_s + SHELVED_S if state is AlarmState.SHELVED else None,
    )


def all_records(now: Moment) -> Sequence[AlarmRecord]:
    """Each alarm in each state; a cooker for each state."""
    return [record(state.value, alarm, state, now) for state in STATES for alarm in RULES]


def watches(clock: FakeClock) -> Iterator[Watch]:
    """A watch for each state, with the same pot of chicken at work."""
    for state in STATES:
        cooker = CookerSpec(state.value)
        probes = tuple(replace(p, cooker=cooker.name if p.cooker else None) for p in PROBES)
        station = Station("garden", HOUSE.station.place, (cooker,), probes)
        now = clock.moment()
        watch = Watch(cooker, replace(HOUSE, station=station), daylight(now.at), now)
        aim = {"azimuth": "100", "elevation": "45"}
        load = {"food": "chicken", "mass_kg": "1.2"}
        for kind, detail in ((EventKind.AIM, aim), (EventKind.LOAD, load)):
            watch.take(Event(cooker.name, now.at, kind, detail), now)
        yield watch


def main(path: Path) -> None:
    """Store them all, say so, and wait for the end."""
    clock = FakeClock(BEGIN)
    with Store(path, clock) as store:
        store.register(PROBES)
        now = clock.moment()
        store.write(now, Batch(alarms=all_records(now)))
        print("stored", flush=True)
        threading.Event().wait()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
