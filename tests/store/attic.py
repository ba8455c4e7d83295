"""Old data files, made by chance: readings of years, cooks, events, calibrations, clocks that jump;
and what must be left of them.
"""

import random
import sqlite3
import sys
from collections.abc import Mapping, Sequence
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from fakes import FakeClock
from noonpot.clock import SystemClock
from noonpot.core.calibration import Calibration
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.readings import FaultKind, Reading
from noonpot.ports import Batch
from noonpot.store import retention
from noonpot.store.connection import reading
from noonpot.store.drill import Sums, sums
from noonpot.store.retention import Rule
from noonpot.store.sqlite import Store
from store.shelf import PROBES, START, fault, opened

DAY_S = 86_400
RULE = Rule(30 * DAY_S, 2 * 3600, 6 * 3600)
NEVER_TOUCHED = (
    "event", "cook", "alert", "alarm", "forecast", "calibration", "fault", "series", "start",
    "settlement", "cursor", "quarantine",
)  # fmt: skip
Rows = Mapping[int, int]
"""Values of readings by their ids."""


def filled(path: Path, dice: random.Random, days: int = 40) -> FakeClock:
    """A data file with so many days of old readings; returns its clock."""
    clock = FakeClock(START)
    for boot in range(4):
        clock.boot_id = f"boot-{boot}"
        clock.trust(dice.random() < 0.8)
        with opened(path, clock) as store:
            _live(store, clock, dice, days / 8)
            clock.trust(True)
            _live(store, clock, dice, days / 8)
        clock.advance(dice.choice((60.0, 3600.0, 5 * DAY_S)))
    clock.boot_id = "boot-last"
    with opened(path, clock) as store:
        _live(store, clock, dice, 2)
        clock.advance(29 * DAY_S)
        _live(store, clock, dice, 2)  # young: these are not old enough
    return clock


def _live(store: Store, clock: FakeClock, dice: random.Random, days: float) -> None:
    store._db.execute("PRAGMA synchronous = OFF")  # noqa: SLF001  nothing is killed meanwhile
    cooks: dict[str, Cook] = {}
    until_s = clock.moment().mono_s + days * DAY_S
    while clock.moment().mono_s < until_s:
        now = clock.advance(dice.choice((5, 60, 300, 300, 3600, 7200)))
        if dice.random() < 0.004:
            clock.step_wall(dice.choice((-7200, -5, 5, 3600, DAY_S, 56 * 365 * DAY_S)))
            now = clock.moment()
        batch = Batch(
            samples=[
                Reading(probe.name, now.at, now.mono_s, dice.randrange(-800, 4000) / 16)
                for probe in PROBES
                if dice.random() < 0.8
            ]
            + ([fault(now, FaultKind.CHECKSUM, "shade")] if dice.random() < 0.02 else []),
            events=_events(now, dice),
            cooks=_cooks(now, cooks, dice),
            calibrations=[Calibration("box-pot", "w1/28-01", now.at, 1.01, 0.2)]
            if dice.random() < 0.002
            else [],
        )
        for cook in store.write(now, batch):
            cooks[cook.cooker] = cook
    now = clock.moment()
    ended = [cook for cook in cooks.values() if cook.running]
    stops = [Event(cook.cooker, now.at, EventKind.STOP) for cook in ended]
    store.write(now, Batch(cooks=[c.after(s) for c, s in zip(ended, stops, strict=True)]))


def _events(now: Moment, dice: random.Random) -> list[Event]:
    if dice.random() > 0.004:
        return []
    earlier = now.at - timedelta(seconds=dice.choice((0, 0, 900)))
    return [Event("box", earlier, dice.choice((EventKind.NOTE, EventKind.SPOT)), {"core_c": "60"})]


def _cooks(now: Moment, cooks: Mapping[str, Cook], dice: random.Random) -> list[Cook]:
    cooker = dice.choice(("box", "dish"))
    known = cooks.get(cooker)
    if known is not None and known.running:
        if dice.random() < 0.1:
            return [known.after(Event(cooker, now.at, EventKind.STOP))]
        return []
    return [Cook(cooker, now.at, "bread")] if dice.random() < 0.01 else []


def rows(path: Path, table: str) -> Sequence[tuple[object, ...]]:
    """All rows of a table."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        return db.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608


def readings(path: Path) -> Rows:
    """All readings that are there as they were read."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        return dict(db.execute("SELECT id, value FROM reading"))


def told(path: Path) -> Sums:
    """What a drill knows of a file."""
    with reading(path) as db:
        return sums(db)


def roll_up_all(store: Store, rule: Rule = RULE) -> int:
    """Roll up all that may be; returns how many readings went."""
    stays, gone = store.stays_whole(rule), 0
    while True:
        done = store.roll_up(rule, stays)
        gone += done.readings
        if not done.more:
            return gone


def main(path: Path, at_s: float, mono_s: float) -> None:
    """Roll up as a process of its own, which may be killed; says so after each transaction."""
    clock = FakeClock(SystemClock().moment().at, mono_s)
    clock.step_wall(at_s - clock.moment().at.timestamp())
    clock.boot_id = "boot-last"
    retention.MOST_ROWS = 50
    with Store(path, clock) as store:
        stays = store.stays_whole(RULE)
        print("ready", flush=True)
        while store.roll_up(RULE, stays).more:
            print("rolled", flush=True)
        print("done", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]), float(sys.argv[3]))
