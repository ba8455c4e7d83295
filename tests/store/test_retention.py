"""Old readings are rolled up, those of cooks are not, and nothing is lost or counted twice."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.calibration import Calibration
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.header import parse_header
from noonpot.core.readings import Reading, Role, Sample
from noonpot.core.recording import format_recording
from noonpot.core.station import CookerSpec, Place, Station
from noonpot.ports import Batch
from noonpot.store import retention
from noonpot.store.export import export
from noonpot.store.reader import Reader
from noonpot.store.retention import Rule
from noonpot.store.rollups import ROLL_S
from noonpot.store.samples import SERIES
from noonpot.store.sqlite import Store
from store import attic
from store.attic import DAY_S, NEVER_TOUCHED, RULE, readings, roll_up_all, rows
from store.shelf import ENVIRONMENT, PROBES, START, opened

FULL = os.environ.get("NOONPOT_ENDURANCE") == "full"
FILES, KILLS, DAYS = (60, 100, 40) if FULL else (1, 2, 16)
LONG_AGO, LATE = datetime(2020, 1, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC)
TEN = timedelta(seconds=ROLL_S)


def dice_of(number: int) -> random.Random:
    seed = int(os.environ.get("NOONPOT_SEED") or random.randrange(2**32)) + number
    print(f"NOONPOT_SEED={seed - number}")
    return random.Random(seed)


def of_cooks(reader: Reader, rule: Rule) -> dict[tuple[object, ...], list[Sample]]:
    """All that was read around each cook and each event, as it was read."""
    before, after = timedelta(seconds=rule.before_s), timedelta(seconds=rule.after_s)
    times = [(cook.cooker, cook.started_at, cook.stopped_at) for cook in reader.cooks()]
    for cooker in ("box", "dish"):
        times += [
            (cooker, event.at, event.at) for event in reader.events_of(cooker, LONG_AGO, LATE)
        ]
    return {
        (*time, probe.name): list(
            reader.raw_of(probe.name, time[1] - before, (time[2] or LATE) + after)
        )
        for time in times
        for probe in PROBES
    }


@pytest.mark.parametrize("number", range(FILES))
def test_after_years_every_row_of_every_cook_is_as_it_was_and_no_reading_is_lost(
    tmp_path: Path, number: int
) -> None:
    path = tmp_path / "noonpot.db"
    clock = attic.filled(path, dice_of(number), DAYS)
    was, around = readings(path), of_cooks(Reader(path, clock), RULE)
    untouched = {table: rows(path, table) for table in NEVER_TOUCHED}
    with Store(path, clock) as store:
        gone = roll_up_all(store)
        now_tick = max(was) // SERIES
        assert roll_up_all(store) == 0
    left = readings(path)
    print(f"{len(was)} readings, {gone} rolled up, {len(around) // len(PROBES)} cooks and events")
    assert gone > 100, "nothing was old: the test shows nothing"
    assert len(was) - len(left) == gone
    assert left.items() <= was.items()
    assert of_cooks(Reader(path, clock), RULE) == around
    assert {table: rows(path, table) for table in NEVER_TOUCHED} == untouched
    rolled = [number // SERIES for number in was.keys() - left.keys()]
    assert max(rolled) < now_tick - RULE.whole_s
    # What was neither near a cook nor young went, but for the last ten minutes before the limit.
    with opened(path, clock) as store:
        stays = store.stays_whole(RULE)
    end = (now_tick - RULE.whole_s) // ROLL_S * ROLL_S
    assert all(
        any(first <= number // SERIES <= last for first, last in stays)
        for number in left
        if number // SERIES < end
    )
    assert _tallied(path) == _tally(was, was.keys() - left.keys())


def _tally(was: attic.Rows, gone: set[int]) -> dict[tuple[int, int], tuple[int, int, int, int]]:
    """Count, sum, lowest and highest by ten minutes and series, of what went."""
    found = defaultdict(list)
    for number in gone:
        found[number // SERIES // ROLL_S, number % SERIES].append(was[number])
    return {key: (len(v), sum(v), min(v), max(v)) for key, v in found.items()}


def _tallied(path: Path) -> dict[tuple[int, int], tuple[int, int, int, int]]:
    """The same as the roll-ups tell it; where one was cut, its pieces are put together."""
    strange = (
        "SELECT count(*) FROM rollup WHERE min(low_s, high_s) < 0 OR max(low_s, high_s) >= 600"
    )
    told = """SELECT (id >> 10) / 600, id & 1023, sum(readings), sum(total), min(low), max(high)
        FROM rollup GROUP BY 1, 2"""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        assert db.execute(strange).fetchone() == (0,)
        return {(bin_, series): tuple(more) for bin_, series, *more in db.execute(told)}


def test_a_kill_in_the_middle_loses_nothing_and_counts_nothing_twice(tmp_path: Path) -> None:
    """A file whose worker was killed again and again ends as one that was left in peace. A kill
    keeps what the system has cached: this is no proof for a power cut.
    """
    dice, path, fresh = dice_of(0), tmp_path / "noonpot.db", tmp_path / "fresh.db"
    clock = attic.filled(fresh, dice, DAYS)
    calm, was, now = tmp_path / "calm.db", readings(fresh), clock.moment()
    shutil.copy(fresh, calm)
    with Store(calm, clock) as store:
        roll_up_all(store)
    begun = str(now.at.timestamp()), str(now.mono_s)
    command = [sys.executable, attic.__file__, str(path), *begun]
    kills = inside = 0
    while kills < KILLS:
        shutil.copy(fresh, path)
        left = was
        while kills < KILLS and len(left) > len(readings(calm)):
            killed_after(command, dice.randrange(9))
            kills += 1
            with closing(sqlite3.connect(path)) as db:
                assert db.execute("PRAGMA quick_check").fetchall() == [("ok",)]
            left = readings(path)
            inside += len(left) > len(readings(calm))
            assert left.items() <= was.items()
            assert _tallied(path) == _tally(was, was.keys() - left.keys())
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=ENVIRONMENT)
        for table in ("reading", "rollup", "rolled_up", *NEVER_TOUCHED):
            assert rows(path, table) == rows(calm, table), table
    print(f"{kills} kills, {inside} of them amid the work")
    assert inside


def killed_after(command: list[str], transactions: int) -> None:
    """Let the worker roll up so many times, and kill it while it goes on."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=ENVIRONMENT) as worker:
        assert worker.stdout is not None
        for _ in range(1 + transactions):
            worker.stdout.readline()
        worker.kill()


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(tmp_path / "noonpot.db", clock) as made:
        yield made


def read(store: Store, clock: FakeClock, minutes: float, value: float = 80.0) -> None:
    """Pot and core of the box and the air, a round each 20 s for so long."""
    samples = []
    for _ in range(round(minutes * 3)):
        now = clock.advance(20)
        for probe, more in (("box-pot", 0.0), ("box-core", -20.0), ("shade", -60.0)):
            samples.append(Reading(probe, now.at, now.mono_s, value + more))
        value += 0.0625
    store.write(clock.moment(), Batch(samples=samples))


def grow_old(store: Store, clock: FakeClock) -> None:
    """A month passes, with a reading at its end."""
    now = clock.advance(RULE.whole_s + 3600)
    store.write(now, Batch(samples=[Reading("box-pot", now.at, now.mono_s, 20.0)]))


def left(store: Store) -> list[datetime]:
    samples = store.samples_of("box-pot", LONG_AGO, LATE)
    return [sample.at for sample in samples]


def send(store: Store, clock: FakeClock, times: int) -> None:
    for _ in range(times):
        store.outgoing("influx", 100)
        store.delivered("influx")
        clock.advance(120)


def test_what_a_server_was_not_sent_yet_stays(
    tmp_path: Path, store: Store, clock: FakeClock
) -> None:
    read(store, clock, 60)
    send(store, clock, 8)
    ((*_, position),) = rows(tmp_path / "noonpot.db", "cursor WHERE stream = 'reading'")
    assert isinstance(position, int)
    was = readings(tmp_path / "noonpot.db")
    unsent = {number for number in was if number > position}
    assert 0 < len(unsent) < 540 - 90
    grow_old(store, clock)
    rule = Rule(RULE.whole_s, 0, 0, ("influx",))
    assert store.readings(rule).waits_for == "influx"
    gone = roll_up_all(store, rule)
    assert gone > 0
    assert unsent <= readings(tmp_path / "noonpot.db").keys()
    send(store, clock, 20)
    assert store.waiting("influx") == 0
    assert roll_up_all(store, rule) == 540 - gone
    assert store.readings(rule).waits_for is None


def test_before_a_server_was_sent_anything_all_stays(store: Store, clock: FakeClock) -> None:
    read(store, clock, 60)
    grow_old(store, clock)
    assert roll_up_all(store, Rule(RULE.whole_s, 0, 0, ("influx",))) == 0
    assert roll_up_all(store, Rule(RULE.whole_s, 0, 0)) == 540


def test_a_cook_that_nobody_ended_keeps_all_that_follows(store: Store, clock: FakeClock) -> None:
    read(store, clock, 60)
    (cook,) = store.write(clock.moment(), Batch(cooks=[Cook("box", clock.moment().at)]))
    read(store, clock, 60)
    rule = Rule(RULE.whole_s, 600, 600)
    grow_old(store, clock)
    roll_up_all(store, rule)
    # The piece of ten minutes in which that begins waits for the end of the cook, too.
    assert timedelta(0) <= cook.started_at - timedelta(seconds=600) - left(store)[0] < 2 * TEN
    stop = Event("box", cook.started_at + timedelta(seconds=1200), EventKind.STOP)
    store.write(clock.moment(), Batch(cooks=[cook.after(stop)]))
    roll_up_all(store, rule)
    assert left(store)[0] == cook.started_at - TEN
    assert left(store)[-2] == cook.started_at + timedelta(seconds=1800)
    assert len(left(store)) == 30 + 1 + 90 + 1


def test_baths_and_what_somebody_did_without_a_cook_stay(store: Store, clock: FakeClock) -> None:
    read(store, clock, 60)
    note = Event("box", clock.moment().at, EventKind.NOTE, {"text": "in the ice"})
    store.write(clock.moment(), Batch(events=[note]))
    read(store, clock, 60)
    grow_old(store, clock)
    roll_up_all(store, Rule(RULE.whole_s, 600, 600))
    assert (left(store)[0], left(store)[-2]) == (
        note.at - timedelta(seconds=600),
        note.at + timedelta(seconds=600),
    )


def test_no_clock_that_is_set_wrong_makes_a_reading_old(store: Store, clock: FakeClock) -> None:
    read(store, clock, 60)
    clock.step_wall(56 * 365 * DAY_S)
    read(store, clock, 60)
    assert roll_up_all(store, Rule(RULE.whole_s, 0, 0)) == 0


def test_readings_whose_clock_is_not_set_yet_wait(store: Store, clock: FakeClock) -> None:
    clock.boot_id = "boot-2"
    clock.trust(False)
    read(store, clock, 60)
    grow_old(store, clock)
    assert roll_up_all(store, Rule(RULE.whole_s, 0, 0)) == 0
    clock.trust(True)
    read(store, clock, 1)
    assert roll_up_all(store, Rule(RULE.whole_s, 0, 0)) == 540


def test_the_newest_reading_stays_for_the_count_of_seconds_goes_on_from_it(
    store: Store, clock: FakeClock
) -> None:
    read(store, clock, 60)
    last = left(store)[-1]
    clock.advance(RULE.whole_s * 2)
    roll_up_all(store, Rule(RULE.whole_s, 0, 0))
    assert left(store)[-1] == last


def test_a_transaction_is_short_whatever_there_is(
    store: Store, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(retention, "MOST_ROWS", 200)
    read(store, clock, 240)
    grow_old(store, clock)
    stays = store.stays_whole(RULE)
    sizes = []
    while True:
        done = store.roll_up(RULE, stays)
        sizes.append(done.readings)
        if not done.more:
            break
    assert max(sizes) <= 200
    assert sum(sizes) == 2160


def test_the_curve_goes_on_over_roll_ups_with_every_peak_and_without_a_hole(
    store: Store, clock: FakeClock
) -> None:
    read(store, clock, 300, 60.0)
    now = clock.advance(20)
    store.write(now, Batch(samples=[Reading("box-pot", now.at, now.mono_s, 150.0)]))
    read(store, clock, 300, 116.0)
    until = clock.moment().at
    grow_old(store, clock)
    before = {points: store.curve("box", START, until, points) for points in (20, 600)}
    assert roll_up_all(store, Rule(RULE.whole_s, 0, 0)) > 2000
    for points, was in before.items():
        curve = store.curve("box", START, until, points)
        assert (was.every_s, curve.every_s) == (0, ROLL_S)
        for role in (Role.POT, Role.CORE, Role.AMBIENT):
            old = [value for value in was.values[role] if value is not None]
            new = [value for value in curve.values[role] if value is not None]
            assert (min(new), max(new)) == (min(old), max(old))
            inner = list(curve.values[role])[2:-2]
            assert None not in inner, (points, role)
        assert max(later - sooner for sooner, later in pairwise(curve.times_s)) <= 2 * ROLL_S * 3
    hot = store.curve("box", START, until, 600)
    at_s = hot.times_s[list(hot.values[Role.POT]).index(150.0)]
    assert abs(at_s - now.at.timestamp()) <= 120  # a bin of this curve


def test_a_long_silence_still_breaks_the_line(store: Store, clock: FakeClock) -> None:
    read(store, clock, 60)
    clock.advance(6 * 3600)
    read(store, clock, 60)
    until = clock.moment().at
    grow_old(store, clock)
    roll_up_all(store, Rule(RULE.whole_s, 0, 0))
    curve = store.curve("box", START, until, 600)
    assert list(curve.values[Role.POT]).count(None) == 1


def test_roll_ups_are_corrected_by_the_calibration_of_their_time(
    store: Store, clock: FakeClock
) -> None:
    read(store, clock, 65, 80.0)
    now = clock.moment()
    store.write(now, Batch(calibrations=[Calibration("box-pot", "w1/28-01", now.at, 1.0, -20.0)]))
    read(store, clock, 60, 95.0)  # shown higher than before, and lower in truth
    until = clock.moment().at
    grow_old(store, clock)
    before = store.curve("box", START, until, 4)
    roll_up_all(store, Rule(RULE.whole_s, -1, -1))
    after = store.curve("box", START, until, 4)
    pots = [[v for v in c.values[Role.POT] if v is not None] for c in (before, after)]
    assert [(min(pot), max(pot)) for pot in pots] == [(72.125, 92.0625)] * 2


def test_an_export_says_what_is_only_there_rolled_up_and_that_of_a_cook_is_as_before(
    store: Store, clock: FakeClock
) -> None:
    place = Place(46.95, 7.44, 540.0, ())
    station = Station("garden", place, (CookerSpec("box"),), PROBES)
    read(store, clock, 60)
    (cook,) = store.write(clock.moment(), Batch(cooks=[Cook("box", clock.moment().at)]))
    read(store, clock, 60)
    stop = Event("box", clock.moment().at, EventKind.STOP)
    store.write(clock.moment(), Batch(events=[stop], cooks=[cook.after(stop)]))
    read(store, clock, 60)
    grow_old(store, clock)
    was = format_recording(export(store, cook.id, station, clock.moment().at))
    assert roll_up_all(store, Rule(RULE.whole_s, 600, 600)) > 0
    assert format_recording(export(store, cook.id, station, clock.moment().at)) == was
    with store._writing() as db:  # noqa: SLF001  it does not happen by itself
        db.execute(
            "INSERT INTO rollup SELECT id, value, 0, value, 0, value, 1"
            " FROM reading LIMIT 1 OFFSET 150"
        )
    text = format_recording(export(store, cook.id, station, clock.moment().at))
    others = parse_header([line for line in text.splitlines() if line.startswith("#")]).others
    assert others["rolled_up"].startswith("2026-06-03T")
