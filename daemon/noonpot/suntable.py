"""Day tables of sun and clear sky, computed by pvlib in a short-lived process of its own.

pvlib brings 130 MB into whatever imports it. So the daemon runs this module as a program once a
day (``python -m noonpot.suntable``), reads the table from its standard output, and keeps it.
"""

import json
import os
import struct
import subprocess
import sys
import threading
import zlib
from collections.abc import Sequence
from contextlib import suppress
from datetime import date, timedelta
from typing import Protocol

import numpy as np

from noonpot.core.station import Place
from noonpot.core.sun import DayTable, solar_midnight
from noonpot.errors import StoreError, SunTableError

MODEL = "spa-ineichen-1"
"""Names what a table was computed with; a change makes the kept tables be computed anew."""

STEP_S = 120
OVERLAP_S = 1800
"""How much a table reaches over both ends of its solar day [s]."""

KEPT_IN_MEMORY = 4
HEAD = struct.Struct("<dd")
COLUMNS = ("azimuth_deg", "elevation_deg", "ghi", "dni", "dhi")


class KnownDays(Protocol):
    """Where tables may be found that somebody computed earlier."""

    def sun_day(self, key: str) -> bytes | None:
        """What was put under this key, None when nothing was. Raises StoreError."""


class SunCache(KnownDays, Protocol):
    """Where computed tables are kept from one start to the next."""

    def keep_sun_day(self, key: str, body: bytes) -> None:
        """Keep it. Raises StoreError."""


class SunTables:
    """Day tables from memory, from the cache, from what ``others`` know, or else from the helper
    process. A cache that fails costs the time to compute, nothing else.

    May be called from any thread; so are ``cache`` and ``others`` then, but by one at a time.
    """

    def __init__(
        self,
        cache: SunCache,
        *others: KnownDays,
        python: str = sys.executable,
        timeout_s: float = 60.0,
    ) -> None:
        self._cache = cache
        self._known_days = (cache, *others)
        self._python = python
        self._timeout_s = timeout_s
        self._memory: dict[str, DayTable] = {}
        self._lock = threading.Lock()

    def day(self, place: Place, day: date) -> DayTable:
        """The table of one solar day (``core.sun.solar_date``) at the place.

        Blocks for about a second on a desktop, some seconds on a small Pi, when it must be
        computed. Raises SunTableError when that fails.
        """
        return self.days(place, [day])[0]

    def days(self, place: Place, days: Sequence[date]) -> list[DayTable]:
        """The tables of several solar days; starting the helper takes far longer than a day more.

        Raises SunTableError when any of them cannot be had.
        """
        spot = _rounded(place)
        with self._lock:
            tables = {day: self._known(spot, day) for day in days}
            missing = [day for day, table in tables.items() if table is None]
            tables |= self._computed(spot, missing) if missing else {}
            found = [table for day in days if (table := tables[day]) is not None]
            for day, table in zip(days, found, strict=True):
                self._remember(_key(spot, day), table)
        return found

    def _known(self, spot: Place, day: date) -> DayTable | None:
        key = _key(spot, day)
        return self._memory.get(key) or self._kept(key)

    def _remember(self, key: str, table: DayTable) -> None:
        self._memory[key] = table
        if len(self._memory) > KEPT_IN_MEMORY:
            del self._memory[next(iter(self._memory))]

    def _kept(self, key: str) -> DayTable | None:
        for days in self._known_days:
            with suppress(ValueError, StoreError):  # damaged, or cannot be read
                blob = days.sun_day(key)
                if blob is not None:
                    return unpack(blob)
        return None

    def _computed(self, spot: Place, days: Sequence[date]) -> dict[date, DayTable]:
        answer = self._run(spot, days)
        try:
            blobs = dict(zip(days, streams(answer), strict=True))
            tables = {day: unpack(blob) for day, blob in blobs.items()}
        except ValueError as exc:
            raise SunTableError(
                f"{_wanted(spot, days)}: the helper's answer is damaged: {exc}"
            ) from exc
        with suppress(StoreError):
            for day, blob in blobs.items():
                self._cache.keep_sun_day(_key(spot, day), blob)
        return tables

    def _run(self, spot: Place, days: Sequence[date]) -> bytes:
        order = {
            "latitude": spot.latitude,
            "longitude": spot.longitude,
            "elevation_m": spot.elevation_m,
            "days": [day.isoformat() for day in days],
        }
        try:
            done = subprocess.run(
                [self._python, "-m", "noonpot.suntable", json.dumps(order)],
                capture_output=True,
                check=False,
                timeout=self._timeout_s,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )
        except subprocess.TimeoutExpired as exc:
            raise SunTableError(
                f"{_wanted(spot, days)}: no answer within {self._timeout_s:g} s; "
                "is the machine overloaded or out of memory?"
            ) from exc
        except OSError as exc:
            raise SunTableError(f"{_wanted(spot, days)}: cannot run {self._python}: {exc}") from exc
        if done.returncode != 0:
            lines = done.stderr.decode(errors="replace").strip().splitlines()
            reason = lines[-1] if lines else f"it said nothing and ended with {done.returncode}"
            raise SunTableError(f"{_wanted(spot, days)}: {reason}")
        return done.stdout


def pack(table: DayTable) -> bytes:
    """The table as compressed bytes; angles keep 0.00003°, irradiances 0.0001 W/m²."""
    rows = np.array([getattr(table, name) for name in COLUMNS], dtype="<f4")
    return zlib.compress(HEAD.pack(table.start_s, table.step_s) + rows.tobytes())


def unpack(blob: bytes) -> DayTable:
    """The table from its bytes. Raises ValueError when they are damaged."""
    try:
        raw = zlib.decompress(blob)
        start_s, step_s = HEAD.unpack_from(raw)
    except (zlib.error, struct.error) as exc:
        raise ValueError(f"not a sun table: {exc}") from exc
    rows = np.frombuffer(raw, dtype="<f4", offset=HEAD.size).reshape(len(COLUMNS), -1)
    return DayTable(start_s, step_s, *rows.astype(np.float64))


def streams(answer: bytes) -> list[bytes]:
    """Packed tables written one after the other, each by itself; compressed bytes know their end.

    Raises ValueError when they are damaged.
    """
    parts: list[bytes] = []
    while answer:
        reader = zlib.decompressobj()
        try:
            reader.decompress(answer)
        except zlib.error as exc:
            raise ValueError(f"not a sun table: {exc}") from exc
        parts.append(answer[: len(answer) - len(reader.unused_data)])
        answer = reader.unused_data
    return parts


def compute(place: Place, day: date) -> DayTable:
    """Compute the table of one solar day. Imports pvlib: for the helper process only."""
    import pandas as pd
    from pvlib.location import Location

    start = solar_midnight(day, place.longitude) - timedelta(seconds=OVERLAP_S)
    start = start.replace(microsecond=0)
    times = pd.date_range(start, periods=1 + (86400 + 2 * OVERLAP_S) // STEP_S, freq=f"{STEP_S}s")
    spot = Location(place.latitude, place.longitude, "UTC", place.elevation_m)
    sun = spot.get_solarposition(times)  # SPA, refraction for the pressure at this elevation
    sky = spot.get_clearsky(times, model="ineichen", solar_position=sun)  # Linke turbidity by month
    columns = (sun["azimuth"], sun["apparent_elevation"], sky["ghi"], sky["dni"], sky["dhi"])
    return DayTable(
        start.timestamp(), float(STEP_S), *(column.to_numpy(dtype=np.float64) for column in columns)
    )


def main(order: str) -> None:
    """Compute what the JSON order asks for and write the packed tables to standard output."""
    os.nice(10)  # measuring goes first
    wanted = json.loads(order)
    for day in wanted.pop("days"):
        sys.stdout.buffer.write(pack(compute(Place(**wanted), date.fromisoformat(day))))


def _rounded(place: Place) -> Place:
    """The spot that is computed: to 100 m on the ground and 10 m in height the sun is the same."""
    return Place(round(place.latitude, 3), round(place.longitude, 3), round(place.elevation_m, -1))


def _key(spot: Place, day: date) -> str:
    return f"{MODEL}/{spot.latitude}/{spot.longitude}/{spot.elevation_m}/{day.isoformat()}"


def _wanted(spot: Place, days: Sequence[date]) -> str:
    named = ", ".join(day.isoformat() for day in days)
    return f"no sun table for {named} at {spot.latitude}, {spot.longitude}"


if __name__ == "__main__":
    main(sys.argv[1])
