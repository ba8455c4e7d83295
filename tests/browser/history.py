"""Cooks of earlier days in a data file, as if the daemon had watched them."""

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind, begin
from noonpot.core.readings import Reading, Role
from noonpot.core.recording import Recording
from noonpot.core.station import ProbeSpec
from noonpot.ports import Batch
from noonpot.store.sqlite import Store


def keep(file: Path, probes: Sequence[ProbeSpec], recording: Recording, food: str) -> None:
    """Write a recorded cook of one cooker into the data file, begun and stopped."""
    cooker, first, last = recording.header.cooker, recording.rows[0].at, recording.rows[-1].at
    names = {p.role: p.name for p in probes if p.cooker in (cooker, "")}
    clock = FakeClock(first)
    clock.boot_id = f"boot of {first}"
    origin_s = clock.moment().mono_s
    events = [Event(cooker, first, EventKind.START, {"food": food})]
    events += [Event(cooker, r.at, r.event, r.detail) for r in recording.rows if r.event]
    events.append(Event(cooker, last, EventKind.STOP))
    cook = begin(events[0])
    for event in events[1:]:
        cook = cook.after(event)
    samples = [
        Reading(names[role], row.at, origin_s + (row.at - first) / timedelta(seconds=1), value)
        for row in recording.rows
        for role, value in row.values.items()
        if role in names and role is not Role.IRRADIANCE
    ]
    with Store(file, clock) as store:
        store.register(probes)
        end = clock.advance((last - first) / timedelta(seconds=1))
        store.write(end, Batch(samples=samples, events=events, cooks=[cook]))
