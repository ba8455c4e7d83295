"""Backups by night: when one is due, what becomes of one that fails, and what is told of it."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from broker import until
from fakes import FakeClock
from noonpot.app.machine import DATA_FILE, open_or_mend, open_store
from noonpot.app.running import made
from noonpot.app.supply import Supply
from noonpot.app.surveyor import Surveyor
from noonpot.app.upkeep import AGAIN_S, FOLDER, Upkeep, folder_of, last_due
from noonpot.clock import SystemClock
from noonpot.core.cook import Cook
from noonpot.core.moment import utc
from noonpot.core.readings import Reading
from noonpot.core.stationfacts import Backup
from noonpot.ports import Batch, Health
from noonpot.settings.reading import load
from noonpot.settings.values import BackupWishes, Settings
from noonpot.store import retention
from noonpot.store.backup import copies
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from store.attic import told
from web.homes import CONFIG

DENVER = ZoneInfo("America/Denver")
NOON = utc("2026-06-03T18:00:00Z")  # in Denver
DAY_S = 86_400.0
NEVER = threading.Event()
BRISK = """
[poll]
interval_s = 0.5
commit_s = 1
[page]
enabled = false
[alarm.storage]
on_delay_s = 0
"""


@dataclass
class Station:
    """A station that keeps backups; ``tend`` is what the housekeeping does every ten minutes."""

    settings: Settings
    clock: FakeClock
    store: Store
    health: Health
    upkeep: Upkeep

    def tend(self) -> int:
        self.upkeep.tend(NEVER)
        return len(copies(folder_of(self.settings)))

    def state(self) -> Backup:
        found = self.upkeep.state()
        assert found is not None
        return found

    def live(self, days: float) -> None:
        """Readings every ten minutes for so many days."""
        self.store._db.execute("PRAGMA synchronous = OFF")  # noqa: SLF001  nothing is killed here
        for _ in range(round(days * 144)):
            now = self.clock.advance(600)
            samples = [Reading("box-pot", now.at, now.mono_s, 20.0)]
            self.store.write(now, Batch(samples=samples))


@pytest.fixture
def station(tmp_path: Path) -> Iterator[Station]:
    config = tmp_path / "noonpot.toml"
    config.write_text(CONFIG, encoding="utf-8")
    settings, clock, health = load(config), FakeClock(NOON), Health()
    with open_store(settings, clock) as store:
        store.register(settings.station.probes)
        upkeep = Upkeep(settings, settings.data / DATA_FILE, clock, health, store)
        yield Station(settings, clock, store, health, upkeep)


def test_the_hour_is_one_of_the_clocks_on_the_wall() -> None:
    wishes = BackupWishes(at=time(3))
    assert last_due(NOON, wishes, DENVER) == utc("2026-06-03T09:00:00Z")
    assert last_due(utc("2026-06-03T08:59:00Z"), wishes, DENVER) == utc("2026-06-02T09:00:00Z")


def test_there_is_one_a_day_after_its_hour_or_as_soon_as_it_runs_again(station: Station) -> None:
    assert station.tend() == 1  # there was none yet
    assert station.tend() == 1
    station.clock.advance(15 * 3600 - 60)  # 02:59
    assert station.tend() == 1
    station.clock.advance(120)
    assert station.tend() == 2
    station.clock.advance(3 * DAY_S)  # it was switched off
    assert station.tend() == 3
    assert station.state().at == copies(folder_of(station.settings))[-1].at
    assert station.health.counts == {"backups": 3}


def test_each_was_held_against_the_data_file_and_that_is_told(station: Station) -> None:
    assert station.state().compared is None
    station.tend()
    made, compared = station.state().at, station.state().compared
    assert made is not None
    assert compared is not None
    assert made <= compared <= station.clock.moment().at


def test_from_the_ninth_day_on_an_old_backup_becomes_the_new_one(station: Station) -> None:
    folder = folder_of(station.settings)
    for day in range(12):
        known = {path.stat().st_ino for path in folder.glob("*.db")}
        station.tend()
        made = copies(folder)[-1].path
        # The one that would be thinned is used up, but for the day on which it is one of a week.
        assert (made.stat().st_ino in known) == (day in (7, 8, 9, 10, 11) and len(known) > 7)
        assert told(made) == told(station.settings.data / DATA_FILE)
        station.live(1)


def test_old_readings_are_rolled_up_once_a_day_a_week_of_them_at_most(
    station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(retention, "MOST_ROWS", 72)  # half a day of these
    wishes = replace(station.settings.readings, whole_s=30 * 86_400)
    station.settings = replace(station.settings, readings=wishes)
    file = station.settings.data / DATA_FILE
    station.upkeep = Upkeep(station.settings, file, station.clock, station.health, station.store)
    station.live(50)
    found = station.upkeep.readings()
    assert found is not None
    assert (found.rolled_up, found.oldest) == (None, NOON + timedelta(seconds=600))
    left = []
    for _ in range(4):
        station.tend()
        station.tend()  # not twice a day
        found = station.upkeep.readings()
        assert found is not None
        assert found.oldest is not None
        left.append((station.clock.moment().at - found.oldest).days)
        station.live(1)
    assert left == [40, 32, 30, 30]  # eight days at once, and half a one
    assert found.oldest is not None
    assert found.rolled_up is not None
    assert found.rolled_up <= found.oldest
    assert station.health.counts["roll-ups"] == 4


def test_never_means_that_all_readings_stay(station: Station) -> None:
    wishes = replace(station.settings.readings, whole_s=None)
    settings = replace(station.settings, readings=wishes)
    file = settings.data / DATA_FILE
    upkeep = Upkeep(settings, file, station.clock, station.health, station.store)
    station.live(3)
    station.clock.advance(3000 * DAY_S)
    upkeep.tend(NEVER)
    found = upkeep.readings()
    assert found is not None
    assert found.oldest == NOON + timedelta(seconds=600)


def test_without_backups_old_readings_are_rolled_up_all_the_same(station: Station) -> None:
    wishes = replace(station.settings.readings, whole_s=30 * 86_400)
    none = replace(station.settings.backup, enabled=False)
    settings = replace(station.settings, readings=wishes, backup=none)
    file = settings.data / DATA_FILE
    upkeep = Upkeep(settings, file, station.clock, station.health, station.store)
    station.live(40)
    upkeep.tend(NEVER)
    assert upkeep.state() is None
    assert station.health.counts == {"roll-ups": 1}


def test_none_is_made_while_the_clock_is_a_guess(station: Station) -> None:
    station.clock.trust(False)
    assert station.tend() == 0
    station.clock.trust(True)
    assert station.tend() == 1


def test_one_that_fails_is_tried_again_after_an_hour_and_told_meanwhile(station: Station) -> None:
    wishes = replace(station.settings.backup, folder=station.settings.data / "stick")
    station.settings = replace(station.settings, backup=wishes)
    file = station.settings.data / DATA_FILE
    station.upkeep = Upkeep(station.settings, file, station.clock, station.health)
    assert station.tend() == 0
    assert "plug in what holds it" in station.state().problem
    (station.settings.data / "stick").mkdir()
    assert station.tend() == 0
    station.clock.advance(AGAIN_S)
    assert station.tend() == 1
    assert station.state().problem == ""
    assert station.health.counts == {"backup-failures": 1, "backups": 1}


def test_an_end_of_the_daemon_is_no_failure(station: Station) -> None:
    stop = threading.Event()
    stop.set()
    station.upkeep.tend(stop)
    assert (station.state().at, station.state().problem) == (None, "")
    assert station.tend() == 1


def test_a_damaged_data_file_is_found_by_its_backup(station: Station) -> None:
    station.store.close()
    file = station.settings.data / DATA_FILE
    file.write_bytes(file.read_bytes()[:-4096] + bytes(4096))
    assert station.tend() == 0
    assert station.state().damaged


def test_what_the_power_broke_off_is_swept_away(station: Station) -> None:
    folder = folder_of(station.settings)
    folder.mkdir()
    (folder / ".noonpot-2026-06-01T0900Z.db.part").touch()
    (folder / ".another").touch()
    assert station.tend() == 1
    assert [path.name for path in folder.glob(".*")] == [".another"]


def test_what_backups_take_is_not_taken_for_the_growth_of_the_data(station: Station) -> None:
    surveyor = Surveyor(
        station.clock,
        station.store,
        station.settings.data / DATA_FILE,
        Supply(station.settings.data),
        {},
        station.upkeep,
    )
    station.tend()
    assert station.upkeep.taken_bytes() > 0
    assert surveyor.survey().backup == station.upkeep.state()


@pytest.mark.parametrize(("hours", "running"), [(2, True), (14, False)])
def test_only_a_cook_of_today_is_taken_up_from_a_backup(
    station: Station, hours: int, running: bool
) -> None:
    begun = station.clock.moment().at - timedelta(hours=hours)
    station.store.write(station.clock.moment(), Batch(cooks=[Cook("box", begun)]))
    assert station.tend() == 1
    station.clock.advance(60)
    station.store.close()
    file = station.settings.data / DATA_FILE
    file.write_bytes(b"nothing at all" * 1000)
    store, mended = open_or_mend(station.settings, station.clock)
    with store:
        assert mended is not None
        assert mended.restored == station.state().at
        assert file.with_name(mended.kept).read_bytes().startswith(b"nothing at all")
        assert bool(store.running_cooks()) is running
        (cook,) = store.cooks()
        assert cook.started_at == begun


def test_a_daemon_whose_file_is_damaged_samples_on_and_says_so_loudly(
    tmp_path: Path,
    caplog: pytest.LogCaptureFixture,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("noonpot.app.daemon.BACKUP_S", 0.5)
    config, data, clock, said = tmp_path / "noonpot.toml", tmp_path / "data", SystemClock(), [""]
    config.write_text(CONFIG + BRISK, encoding="utf-8")
    data.mkdir()
    (data / DATA_FILE).write_bytes(b"SQLite format 3\0" + bytes(9000))
    since = clock.moment().at - timedelta(seconds=60)

    def told() -> bool:
        said[0] += capsys.readouterr().out
        found = Reader(data / DATA_FILE, clock).samples_of("box-pot", since, clock.moment().at)
        return bool(found) and "data file damaged, a new one is begun" in said[0]

    with made(config) as daemon:
        thread = threading.Thread(target=daemon.run)
        thread.start()
        try:
            until(told, "it samples, and the alarm is told")
            until(lambda: bool(copies(data / FOLDER)), "the new file is copied away as well")
        finally:
            daemon.stop.set()
            daemon.kick()
            thread.join()
    (kept,) = data.glob("noonpot-damaged-*.db")
    assert kept.stat().st_size == 9016
    assert f"it is kept as {kept.name}, and a new one is begun" in caplog.text
