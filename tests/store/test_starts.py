"""How long the daemon was away, and how often it crashed, by the data file alone."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.stationfacts import Absence
from noonpot.store import starts
from store.shelf import START, opened, write_reading

HOUR_S = 3600.0


def lived(path: Path, clock: FakeClock, seconds: float = 100.0, *, ended: bool = False) -> None:
    """One life of the daemon, with a reading at its end."""
    with opened(path, clock) as store:
        store.begin()
        write_reading(store, clock.advance(seconds), 50.0)
        if ended:
            store.end()


def absence(path: Path, clock: FakeClock) -> Absence | None:
    with opened(path, clock) as store:
        store.begin()
        return store.absence()


def new_boot(clock: FakeClock, *, trusted: bool = True) -> FakeClock:
    """The machine was switched off and on; its monotonic clock begins anew."""
    fresh = FakeClock(clock.moment().at, mono_s=5.0)
    fresh.boot_id = "boot-2"
    fresh.trust(trusted)
    return fresh


def test_the_first_start_follows_upon_no_absence(tmp_path: Path) -> None:
    clock = FakeClock(START)
    assert absence(tmp_path / "a.db", clock) == Absence(0.0, 0.0, 0)


def test_who_only_looks_into_the_file_is_no_start(tmp_path: Path) -> None:
    with opened(tmp_path / "a.db", FakeClock(START)) as store:
        assert store.absence() is None


def test_a_gap_within_a_boot_is_known_even_by_a_clock_that_is_not_set(tmp_path: Path) -> None:
    clock = FakeClock(START)
    clock.trust(False)
    lived(tmp_path / "a.db", clock)
    clock.advance(720)
    clock.step_wall(-3 * HOUR_S)
    assert absence(tmp_path / "a.db", clock) == Absence(720.0, 0.0, 1)


@pytest.mark.parametrize("before", [True, False])
def test_a_gap_across_boots_is_told_by_clocks_that_were_set(tmp_path: Path, before: bool) -> None:
    clock = FakeClock(START)
    clock.trust(before)
    lived(tmp_path / "a.db", clock)
    clock.advance(5400)
    found = absence(tmp_path / "a.db", new_boot(clock))
    assert found is not None
    assert found.gap_s == (5400.0 if before else None)


def test_a_gap_across_boots_is_known_once_the_clock_is_set(tmp_path: Path) -> None:
    clock = FakeClock(START)
    lived(tmp_path / "a.db", clock)
    booted = new_boot(clock, trusted=False)  # with the last time that was saved
    with opened(tmp_path / "a.db", booted) as store:
        store.begin()
        unset = store.absence()
        booted.advance(60)
        booted.step_wall(5400)
        booted.trust(True)
        write_reading(store, booted.moment(), 50.0)
        known = store.absence()
    assert (unset, known) == (Absence(None, 0.0, 1), Absence(5400.0, 60.0, 1))


def test_crashes_of_the_last_hour_are_counted_and_proper_ends_are_not(tmp_path: Path) -> None:
    clock = FakeClock(START)
    path = tmp_path / "a.db"
    for ended in (False, False, True, False, True):
        lived(path, clock, ended=ended)
    found = absence(path, clock)
    assert found is not None
    assert found.restarts == 3
    with opened(path, clock) as store:
        clock.advance(HOUR_S)
        later = store.absence()
    assert later is not None
    assert (later.restarts, later.ago_s) == (0, HOUR_S)


def test_old_starts_make_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(starts, "MOST_KEPT", 10)
    with opened(tmp_path / "a.db", FakeClock(START)) as store:
        for _ in range(15):
            store.begin()
    with closing(sqlite3.connect(tmp_path / "a.db")) as db:
        (count,) = db.execute("SELECT count(*) FROM start").fetchone()
    assert count == 10
