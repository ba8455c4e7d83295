"""Measured skies for the bench: one-minute irradiance out of pvlib's source distribution.

Sources: BSRN station Payerne, 1-15 June 2016; SURFRAD station Alamosa, 2016-01-01; University of
Arizona at Tucson, 2018-10-18. The archive is fetched from the package registry by pip, with its
hash pinned, and never committed.
"""

import gzip
import io
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from noonpot.core.station import Place
from noonpot.core.sun import DayTable

Floats = NDArray[np.float64]

PIN = (
    "pvlib==0.16.1 --hash=sha256:58c435f93be516bcedf53dc3a49b2079e9e00af373f5c052cb7cf8d2b973ce62\n"
)
PAYERNE = Place(46.815, 6.944, 491.0)
TUCSON = Place(32.2297, -110.9553, 786.0)
ALAMOSA = Place(37.70, -105.92, 2317.0)  # the file prints its longitude west-positive


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredDay:
    """One UTC-based day [1440 + minutes]: arrays of shape (n,), one row a minute."""

    name: str
    place: Place
    start_s: float
    ghi: Floats
    dni: Floats
    dhi: Floats
    ambient_c: Floats
    wind_ms: Floats
    table: DayTable

    @property
    def clear(self) -> bool:
        """Whether the middle of the day was mostly clear: mean index above 0.9."""
        high = self.table.elevation_deg > 25
        return float(np.mean(self.ghi[high]) / np.mean(self.table.ghi[high])) > 0.9


def archive(folder: Path) -> Path:
    """The source archive, from ``folder`` or fetched into it."""
    known = folder / "pvlib-0.16.1.tar.gz"
    if not known.exists():
        folder.mkdir(parents=True, exist_ok=True)
        pin = folder / "pin.txt"
        pin.write_text(PIN, encoding="utf-8")
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--no-binary", "pvlib", "--require-hashes", "-r", str(pin), "-d", str(folder)]
        subprocess.run(command, check=True)
    return known


def _member(archive_path: Path, name: str) -> bytes:
    with tarfile.open(archive_path) as tar:
        handle = tar.extractfile(f"pvlib-0.16.1/tests/data/{name}")
        assert handle is not None, f"{name} is not in the archive"
        return handle.read()


def clear_sky_table(place: Place, start: datetime, minutes: int) -> DayTable:
    """Sun and clear sky by pvlib (SPA, Ineichen with the Linke turbidity of the month)."""
    import pandas as pd
    import pvlib

    times = pd.date_range(start, periods=minutes, freq="1min")
    location = pvlib.location.Location(
        place.latitude, place.longitude, altitude=place.elevation_m, tz="UTC"
    )
    sun = location.get_solarposition(times)
    sky = location.get_clearsky(times, solar_position=sun)
    return DayTable(
        start_s=start.timestamp(),
        step_s=60.0,
        azimuth_deg=sun["azimuth"].to_numpy(float),
        elevation_deg=sun["apparent_elevation"].to_numpy(float),
        ghi=sky["ghi"].to_numpy(float),
        dni=sky["dni"].to_numpy(float),
        dhi=sky["dhi"].to_numpy(float),
    )


def _filled(values: Floats) -> Floats:
    """Gaps closed by straight lines."""
    good = np.isfinite(values)
    return np.interp(np.arange(len(values)), np.flatnonzero(good), values[good])


def _day(  # noqa: PLR0913, PLR0917 - a day has as many columns
    name: str,
    place: Place,
    start: datetime,
    ghi: Floats,
    dni: Floats,
    dhi: Floats,
    ambient: Floats,
    wind: Floats,
) -> MeasuredDay:
    table = clear_sky_table(place, start, len(ghi))
    sine = np.sin(np.radians(np.maximum(table.elevation_deg, 2.0)))
    closed = np.where(table.elevation_deg > 2, np.clip((ghi - dhi) / sine, 0.0, 1100.0), 0.0)
    dni = np.where(np.isfinite(dni), dni, closed)  # the direct part is missing on two clear days
    light, beam, rest = (np.maximum(_filled(x), 0.0) for x in (ghi, dni, dhi))
    return MeasuredDay(
        name, place, start.timestamp(), light, beam, rest, _filled(ambient), _filled(wind), table
    )


def _payerne(raw: bytes) -> Iterator[MeasuredDay]:
    import pvlib

    with tempfile.NamedTemporaryFile(suffix=".dat", mode="wb") as handle:
        handle.write(gzip.decompress(raw))
        handle.flush()
        data = pvlib.iotools.read_bsrn(handle.name)
        frame = data[0] if isinstance(data, tuple) else data
    for day in range(1, 16):
        start = datetime(2016, 6, day, tzinfo=UTC)
        part = frame[frame.index.normalize() == start]
        ghi, dni, dhi, air = (part[c].to_numpy(float) for c in ("ghi", "dni", "dhi", "temp_air"))
        yield _day(
            f"payerne-{day:02d}", PAYERNE, start, ghi, dni, dhi, air, np.full(len(part), 1.5)
        )


def _alamosa(raw: bytes) -> MeasuredDay:
    rows = np.array([[float(x) for x in line.split()] for line in raw.decode().splitlines()[2:]])
    rows[rows < -9000] = np.nan
    start = datetime(2016, 1, 1, tzinfo=UTC) + timedelta(hours=7)
    # columns of a SURFRAD day file: 8 global, 12 direct normal, 14 diffuse, 38 air, 42 wind speed
    ghi, dni, dhi, air, wind = (np.roll(rows[:, c], -7 * 60) for c in (8, 12, 14, 38, 42))
    return _day("alamosa", ALAMOSA, start, ghi, dni, dhi, air, wind)


def _tucson(raw: bytes) -> MeasuredDay:
    import pandas as pd

    frame = pd.read_csv(io.BytesIO(raw))
    columns = ["Global Horiz (platform) [W/m^2]", "Direct Normal [W/m^2]"]
    columns += ["Diffuse Horiz [W/m^2]", "Air Temperature [deg C]", "Avg Wind Speed @ 3m [m/s]"]
    values = [frame[c].to_numpy(float).copy() for c in columns]
    for value in values:
        value[value < -100] = np.nan
    start = datetime(2018, 10, 18, 7, tzinfo=UTC)  # the file counts Mountain Standard Time
    ghi, dni, dhi, air, wind = values
    return _day("tucson", TUCSON, start, ghi, dni, dhi, air, wind)


@cache
def measured_days(folder: Path) -> tuple[MeasuredDay, ...]:
    """All days of the bench, oldest file first."""
    source = archive(folder)
    days = list(_payerne(_member(source, "bsrn-pay0616.dat.gz")))
    days.append(_tucson(_member(source, "midc_raw_20181018.txt")))
    days.append(_alamosa(_member(source, "surfrad-slv16001.dat")))
    return tuple(days)
