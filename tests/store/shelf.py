"""What tests put into a store: a few probes, and readings of them."""

import os
import sys
from pathlib import Path

from fakes import FakeClock
from noonpot.core.alert import Alert, Priority
from noonpot.core.moment import Moment, utc
from noonpot.core.readings import Fault, FaultKind, Reading, Role
from noonpot.core.station import ProbeSpec
from noonpot.ports import Batch
from noonpot.store.sqlite import Store

# For a process of its own that imports what this one can.
ENVIRONMENT = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
START = utc("2026-06-03T07:00:00Z")
PROBES = (
    ProbeSpec("box-pot", Role.POT, "w1", "28-01", "box"),
    ProbeSpec("box-core", Role.CORE, "w1", "28-02", "box"),
    ProbeSpec("box-core-2", Role.CORE, "w1", "28-03", "box"),
    ProbeSpec("dish-pot", Role.POT, "spi", "0", "dish"),
    ProbeSpec("shade", Role.AMBIENT, "w1", "28-04"),
    ProbeSpec("sky", Role.IRRADIANCE, "adc", "0"),
)


def opened(path: Path, clock: FakeClock) -> Store:
    """A store that knows the probes."""
    store = Store(path, clock)
    store.register(PROBES)
    return store


def reading(now: Moment, value: float, probe: str = "box-pot") -> Reading:
    return Reading(probe, now.at, now.mono_s, value)


def fault(now: Moment, kind: FaultKind, probe: str = "box-pot") -> Fault:
    return Fault(probe, now.at, now.mono_s, kind, "as said by the driver")


def write_reading(store: Store, now: Moment, value: float, probe: str = "box-pot") -> None:
    store.write(now, Batch(samples=[reading(now, value, probe)]))


def alert(name: str, now: Moment) -> Alert:
    return Alert(
        id=name,
        at=now.at,
        expires_at=now.at,
        cooker="box",
        alarm="done",
        state="unacknowledged",
        priority=Priority.HIGH,
        text=f"box: {name}",
    )
