"""Day tables: the real helper process once, and every way in which it can fail."""

import subprocess
import sys
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from noonpot.core.station import Place
from noonpot.core.sun import DayTable, angle_between, solar_midnight
from noonpot.errors import StoreError, SunTableError
from noonpot.suntable import KEPT_IN_MEMORY, SunTables, compute, pack, unpack
from skies import geometric_table

FIJI = Place(latitude=-17.7134, longitude=178.0654, elevation_m=23.0)
DAY = date(2026, 6, 3)

# pandas warns of what a later version will drop; pvlib still uses it.
pvlib_in_this_process = pytest.mark.filterwarnings("ignore::DeprecationWarning")


@dataclass
class DictCache:
    """What the store does, in a dictionary."""

    blobs: dict[str, bytes] = field(default_factory=dict)

    def sun_day(self, key: str) -> bytes | None:
        return self.blobs.get(key)

    def keep_sun_day(self, key: str, body: bytes) -> None:
        self.blobs[key] = body


@pytest.fixture(scope="module")
def computed() -> tuple[DayTable, DictCache]:
    """One table by the real helper, and the cache it went into."""
    cache = DictCache()
    return SunTables(cache).day(FIJI, DAY), cache


def program(folder: Path, script: str) -> str:
    """A program that stands in for the interpreter, and so for whatever goes wrong in it."""
    path = folder / "python"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    return str(path)


def test_one_table_holds_one_whole_day_of_sun(computed: tuple[DayTable, DictCache]) -> None:
    table, _ = computed
    rises_and_sets = np.count_nonzero(np.diff(table.elevation_deg > 0))
    assert rises_and_sets == 2
    assert table.elevation_deg.max() == pytest.approx(90 - 17.7 - 22.3, abs=0.2)  # sun at 22.3° N
    highest_s = table.start_s + table.step_s * float(table.elevation_deg.argmax())
    noon_s = solar_midnight(DAY, FIJI.longitude).timestamp() + 43200
    assert abs(highest_s - noon_s) < 240  # the equation of time is 2 min in early June


def test_a_table_reaches_over_both_ends_of_its_day(computed: tuple[DayTable, DictCache]) -> None:
    table, _ = computed
    midnight = solar_midnight(DAY, FIJI.longitude)
    for minutes in (-20, 0, 1440, 1460):
        assert table.at(midnight + timedelta(minutes=minutes)).ghi == 0


def test_the_sky_of_a_table_is_that_of_a_clear_day(computed: tuple[DayTable, DictCache]) -> None:
    table, _ = computed
    assert 650 < table.ghi.max() < 850
    assert 750 < table.dni.max() < 1000
    up = np.sin(np.radians(table.elevation_deg[table.ghi > 0]))
    whole = (table.dni[table.ghi > 0] * up + table.dhi[table.ghi > 0]).tolist()
    assert whole == pytest.approx(table.ghi[table.ghi > 0].tolist(), abs=0.01)


def test_rows_two_minutes_apart_are_close_enough(computed: tuple[DayTable, DictCache]) -> None:
    fine, _ = computed
    columns = (fine.azimuth_deg, fine.elevation_deg, fine.ghi, fine.dni, fine.dhi)
    coarse = DayTable(fine.start_s, 2 * fine.step_s, *(column[::2] for column in columns))
    day = np.flatnonzero(fine.elevation_deg > 1)
    path = coarse.at_many(fine.start_s + fine.step_s * day.astype(np.float64))
    for row, azimuth, elevation in zip(day, path.azimuth_deg, path.elevation_deg, strict=True):
        assert (
            angle_between(azimuth, elevation, fine.azimuth_deg[row], fine.elevation_deg[row]) < 0.01
        )
    assert np.abs(path.ghi - fine.ghi[day]).max() < 1


def test_a_table_is_computed_once_and_then_kept(computed: tuple[DayTable, DictCache]) -> None:
    table, cache = computed
    kept = SunTables(cache, python="/nowhere/python")
    again = kept.day(FIJI, DAY)
    assert again.ghi.tolist() == table.ghi.tolist()
    assert kept.day(FIJI, DAY) is again  # from memory now


def test_a_neighbour_ten_metres_away_shares_the_table(computed: tuple[DayTable, DictCache]) -> None:
    table, cache = computed
    neighbour = Place(FIJI.latitude + 0.0001, FIJI.longitude - 0.0001, FIJI.elevation_m - 1)
    shared = SunTables(cache, python="/nowhere/python").day(neighbour, DAY)
    assert shared.start_s == table.start_s


def test_another_day_another_table(computed: tuple[DayTable, DictCache]) -> None:
    _, cache = computed
    with pytest.raises(SunTableError, match="2026-06-04"):
        SunTables(cache, python="/nowhere/python").day(FIJI, DAY + timedelta(days=1))


def test_several_days_need_one_start_of_the_helper(tmp_path: Path) -> None:
    morrow = DAY + timedelta(days=1)
    for name, day in (("a", DAY), ("b", morrow)):
        (tmp_path / name).write_bytes(pack(geometric_table(day=day)))
    script = f"echo run >> {tmp_path}/runs; cat {tmp_path}/a {tmp_path}/b"
    tables = SunTables(DictCache(), python=program(tmp_path, script))
    first, second = tables.days(FIJI, [DAY, morrow])
    assert second.start_s - first.start_s == 86400
    assert tables.day(FIJI, morrow) is second
    assert (tmp_path / "runs").read_text() == "run\n"


def test_a_day_too_few_is_a_damaged_answer(tmp_path: Path) -> None:
    (tmp_path / "table").write_bytes(pack(geometric_table()))
    tables = SunTables(DictCache(), python=program(tmp_path, f"cat {tmp_path}/table"))
    with pytest.raises(SunTableError, match=r"2026-06-03, 2026-06-04 .*damaged"):
        tables.days(FIJI, [DAY, DAY + timedelta(days=1)])


def test_memory_keeps_a_few_days_only(tmp_path: Path) -> None:
    (tmp_path / "table").write_bytes(pack(geometric_table()))
    cache = DictCache()
    tables = SunTables(
        cache, python=program(tmp_path, f"echo run >> {tmp_path}/runs; cat {tmp_path}/table")
    )
    days = [DAY + timedelta(days=n) for n in range(KEPT_IN_MEMORY + 1)]
    for day in days:
        tables.day(FIJI, day)
    cache.blobs.clear()
    tables.day(FIJI, days[1])  # still in memory
    assert (tmp_path / "runs").read_text().count("run") == len(days)
    tables.day(FIJI, days[0])  # forgotten, computed anew
    assert (tmp_path / "runs").read_text().count("run") == len(days) + 1


def test_a_damaged_table_in_the_cache_is_computed_anew(tmp_path: Path) -> None:
    good = pack(geometric_table())
    (tmp_path / "table").write_bytes(good)
    cache = DictCache()
    SunTables(cache, python=program(tmp_path, f"cat {tmp_path}/table")).day(FIJI, DAY)
    (key,) = cache.blobs
    cache.blobs[key] = good[: len(good) // 2]
    SunTables(cache, python=program(tmp_path, f"cat {tmp_path}/table")).day(FIJI, DAY)
    assert cache.blobs[key] == good


class BrokenCache:
    """A cache whose card has failed."""

    def sun_day(self, key: str) -> bytes | None:
        raise StoreError(f"cannot read {key}")

    def keep_sun_day(self, key: str, body: bytes) -> None:
        raise StoreError(f"cannot write {len(body)} bytes of {key}")


def test_a_table_that_somebody_else_has_is_not_computed(
    computed: tuple[DayTable, DictCache],
) -> None:
    table, known = computed
    for own in (DictCache(), BrokenCache()):
        found = SunTables(own, BrokenCache(), known, python="/nowhere/python").day(FIJI, DAY)
        assert found.ghi.tolist() == table.ghi.tolist()


def test_a_cache_that_fails_costs_the_time_to_compute_and_no_more(tmp_path: Path) -> None:
    (tmp_path / "table").write_bytes(pack(geometric_table()))
    tables = SunTables(BrokenCache(), python=program(tmp_path, f"cat {tmp_path}/table"))
    assert tables.day(FIJI, DAY).ghi.max() > 900


@pytest.mark.parametrize(
    ("script", "sentence"),
    [
        (
            "echo one >&2; echo \"ModuleNotFoundError: No module named 'pvlib'\" >&2; exit 1",
            "named 'pvlib'",
        ),
        ("exit 3", "ended with 3"),
        ("kill -9 $$", "ended with -9"),  # what a lack of memory looks like
        ("echo hello", "answer is damaged"),
        ("true", "answer is damaged"),
        ("exec tail -f /dev/null", "no answer within 0.3 s"),
    ],
)
def test_a_helper_that_fails_leaves_a_sentence_and_no_table(
    tmp_path: Path, script: str, sentence: str
) -> None:
    cache = DictCache()
    tables = SunTables(cache, python=program(tmp_path, script), timeout_s=0.3)
    with pytest.raises(
        SunTableError, match=f"no sun table for 2026-06-03 at -17.713, 178.065: .*{sentence}"
    ):
        tables.day(FIJI, DAY)
    assert cache.blobs == {}


def test_a_missing_interpreter_is_named() -> None:
    with pytest.raises(SunTableError, match="cannot run /nowhere/python"):
        SunTables(DictCache(), python="/nowhere/python").day(FIJI, DAY)


def test_packing_loses_nothing_that_matters() -> None:
    table = geometric_table()
    again = unpack(pack(table))
    assert (again.start_s, again.step_s) == (table.start_s, table.step_s)
    assert np.abs(again.azimuth_deg - table.azimuth_deg).max() < 5e-5
    assert np.abs(again.ghi - table.ghi).max() < 1e-4


@pytest.mark.parametrize("blob", [b"", b"hello", pack(geometric_table())[:-1]])
def test_what_is_no_table_is_not_unpacked(blob: bytes) -> None:
    with pytest.raises(ValueError, match="not a sun table"):
        unpack(blob)


@pvlib_in_this_process
@pytest.mark.parametrize(
    ("latitude", "longitude", "day", "lowest", "highest"),
    [
        (78.2, 15.6, date(2026, 6, 21), 11.6, 35.2),  # the sun stays up
        (78.2, 15.6, date(2026, 12, 21), -35.2, -11.6),  # and away
        (90.0, 0.0, date(2026, 6, 21), 23.4, 23.4),
        (-90.0, 180.0, date(2026, 6, 21), -23.4, -23.4),
        (0.0, -180.0, date(2026, 3, 20), -90.0, 90.0),
    ],
)
def test_the_ends_of_the_earth_have_tables_too(
    latitude: float, longitude: float, day: date, lowest: float, highest: float
) -> None:
    table = compute(Place(latitude, longitude, 0.0), day)
    assert table.elevation_deg.min() == pytest.approx(lowest, abs=0.3)
    assert table.elevation_deg.max() == pytest.approx(highest, abs=0.3)
    assert all(np.isfinite(c).all() for c in (table.azimuth_deg, table.ghi, table.dni, table.dhi))
    assert (table.ghi.max() > 0) == (highest > 0)


def test_the_daemon_does_not_carry_the_weight_of_the_sun() -> None:
    look = (
        "import noonpot.suntable, sys\n"
        "print(sorted({'pvlib', 'pandas', 'scipy', 'h5py'} & set(sys.modules)))\n"
        "print(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])\n"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, check=True, text=True)
    heavy, peak_kb = done.stdout.splitlines()
    assert heavy == "[]"
    assert int(peak_kb) < 60_000
