"""A station to be left running for long, and what its process takes while it runs."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from pathlib import Path
from statistics import fmean

COOKERS = ("box", "dish", "iron")
BUS = ", ".join(f'{{ name = "{cooker}" }}' for cooker in COOKERS)
CONFIG = """
[station]
name = "soak"
latitude = 40.0
longitude = {longitude:.1f}
elevation_m = 1600
timezone = "America/Denver"
data = "data"
[poll]
hang_s = {hang_s}
[mqtt]
host = "127.0.0.1"
port = {mqtt}
[page]
enabled = {page}
port = {port}
[[bus]]
name = "garden"
driver = "simulated"
cookers = [{cookers}]
"""
HOUR_S = 3600.0


def config(*, mqtt: int, page: int | None, longitude: float, hang_s: int = 10) -> str:
    """Eight simulated probes at the usual pace, three cookers, a broker, and a page on a port."""
    text = CONFIG.format(
        mqtt=mqtt,
        page=str(page is not None).lower(),
        port=page or 8080,
        longitude=longitude,
        cookers=BUS,
        hang_s=hang_s,
    )
    text += "".join(f'[[cooker]]\nname = "{cooker}"\n' for cooker in COOKERS)
    for cooker in COOKERS:
        for role in ("pot", "core"):
            text += probe(f"{cooker}-{role}", role, f"{cooker}/{role}", cooker)
    return text + probe("shade", "ambient", "ambient") + probe("sky", "irradiance", "irradiance")


def probe(name: str, role: str, address: str, cooker: str = "") -> str:
    """A section of the configuration."""
    where = f'cooker = "{cooker}"\n' if cooker else ""
    return (
        f'[[probe]]\nname = "{name}"\nrole = "{role}"\nbus = "garden"\naddress = "{address}"\n'
        f"{where}"
    )


@dataclass(frozen=True, slots=True)
class Taken:
    """What a process took, and when."""

    at_s: float
    rss_mb: float
    files: int
    threads: int
    wal_mb: float
    written_mb: float


def taken(process: int, wal: Path, at_s: float) -> Taken:
    """What a process takes now, by the kernel's own count."""
    proc = Path("/proc", str(process))
    status = _lines(proc / "status")
    return Taken(
        at_s=at_s,
        rss_mb=int(status["VmRSS"].split()[0]) / 1024,
        files=len(list((proc / "fd").iterdir())),
        threads=int(status["Threads"]),
        wal_mb=wal.stat().st_size / 1e6 if wal.exists() else 0.0,
        written_mb=int(_lines(proc / "io")["write_bytes"]) / 1e6,
    )


def _lines(file: Path) -> Mapping[str, str]:
    pairs = (line.split(":", 1) for line in file.read_text().splitlines())
    return {key: value.strip() for key, value in pairs}


def slope_mb_per_h(samples: Sequence[Taken]) -> tuple[float, float]:
    """How fast the memory grows, by least squares, and twice the standard error of that [MB/h].

    The samples of one process hang together, so the true noise is somewhat larger.

    >>> flat = [Taken(60.0 * n, 50.0 + 0.1 * (n % 2), 9, 9, 0.0, 0.0) for n in range(61)]
    >>> [abs(round(value, 2)) for value in slope_mb_per_h(flat)]
    [0.0, 0.04]
    """
    hours = [sample.at_s / HOUR_S for sample in samples]
    sizes = [sample.rss_mb for sample in samples]
    middle, mean = fmean(hours), fmean(sizes)
    spread = sum((hour - middle) ** 2 for hour in hours)
    pairs = list(zip(hours, sizes, strict=True))
    slope = sum((hour - middle) * (size - mean) for hour, size in pairs) / spread
    left = sum((size - mean - slope * (hour - middle)) ** 2 for hour, size in pairs)
    return slope, 2 * sqrt(left / (len(samples) - 2) / spread)


def growth_mb(samples: Sequence[Taken]) -> float:
    """The mean of the last tenth over that of the first."""
    tenth = max(1, len(samples) // 10)
    first, last = samples[:tenth], samples[-tenth:]
    return fmean(s.rss_mb for s in last) - fmean(s.rss_mb for s in first)


def lines_of(log: str) -> Mapping[str, int]:
    """How many lines of each kind a log has; figures do not make another kind."""
    kinds: dict[str, int] = {}
    for line in log.splitlines():
        kind = re.sub(r"\d+", "#", line)[:80]
        kinds[kind] = kinds.get(kind, 0) + 1
    return kinds
