"""Daemons to be measured: their configuration, and each as a process of its own."""

import sys
from collections.abc import Sequence
from pathlib import Path

from bench.processes import CLOCK, Process
from hw.sysfs import W1Tree
from noonpot.core.cook import Event, EventKind
from noonpot.store.inbox import hand_in
from receiver import Receiver

COOKERS = ("box", "dish", "iron")
POTS = {cooker: f"28-000000000{n}a" for n, cooker in enumerate(COOKERS, start=10)}
CORES = {cooker: f"28-000000000{n}b" for n, cooker in enumerate(COOKERS, start=10)}
AIRS = ("28-000000000001", "28-000000000002")
COLD_C = 60.0
ADDRESSES = (*POTS.values(), *CORES.values(), *AIRS)
BARE = Path(__file__).with_name("bare_watch.py")

BASE = """
[station]
name = "{station}"
latitude = 40.0
longitude = -105.2
elevation_m = 1600
data = "data"
[mqtt]
host = "127.0.0.1"
port = {port}
[push]
urls_file = "push-urls"
gather_s = 0
spacing_min = 0
[page]
enabled = false
[alarm.preheated]
on_delay_s = 0
off_delay_s = 0
"""
SIMULATED = (
    'driver = "simulated"\ncookers = [{ name = "box" }, { name = "dish" }, { name = "iron" }]'
)
WIRED = 'driver = "ds18b20"\nbase = "{base}"\nmin_read_s = 0'


def config(station: str, port: int, bus: str, addresses: Sequence[tuple[str, str, str]]) -> str:
    """A configuration; each probe as (address, role, cooker)."""
    parts = [BASE.format(station=station, port=port), f'[[bus]]\nname = "garden"\n{bus}']
    parts += [f'[[cooker]]\nname = "{cooker}"' for cooker in COOKERS]
    for number, (address, role, cooker) in enumerate(addresses):
        where = f'cooker = "{cooker}"\n' if cooker else ""
        rate = "" if role == "irradiance" else "max_rate_c_per_s = 100\n"
        parts.append(
            f'[[probe]]\nname = "probe-{number}"\nrole = "{role}"\nbus = "garden"\n'
            f'address = "{address}"\n{where}{rate}'
        )
    return "\n".join(parts)


def simulated(port: int) -> str:
    """Three simulated cookers, the air and the light."""
    probes = [(f"{cooker}/{role}", role, cooker) for cooker in COOKERS for role in ("pot", "core")]
    probes += [("ambient", "ambient", ""), ("irradiance", "irradiance", "")]
    return config("simulated", port, SIMULATED, probes)


def wired(port: int, tree: W1Tree) -> str:
    """Eight DS18B20 in a tree of files, plugged in."""
    probes = [(POTS[cooker], "pot", cooker) for cooker in COOKERS]
    probes += [(CORES[cooker], "core", cooker) for cooker in COOKERS]
    probes += [(air, "ambient", "") for air in AIRS]
    for address, _, _ in probes:
        tree.set(address, COLD_C)
    return config("wired", port, WIRED.format(base=tree.base), probes)


class Daemon(Process):
    """One ``noonpot run`` in a folder of its own."""

    def __init__(self, folder: Path, text: str, service: Receiver) -> None:
        folder.mkdir()
        file = folder / "noonpot.toml"
        file.write_text(text)
        (folder / "push-urls").write_text(service.address())
        (folder / "push-urls").chmod(0o600)
        self.inbox = folder / "data" / "inbox"
        super().__init__([sys.executable, "-m", "noonpot", "run", "--config", file], folder / "log")

    def happen(self, cooker: str, kind: str, **detail: object) -> None:
        """Hand in an event, as ``noonpot cook`` does."""
        told = {key: str(value) for key, value in detail.items()}
        hand_in(self.inbox, Event(cooker, CLOCK.moment().at, EventKind(kind), told))

    def begin_cooks(self) -> None:
        """Bread in every cooker."""
        for cooker in COOKERS:
            self.happen(cooker, "start", food="bread")
            self.happen(cooker, "aim", azimuth=180, elevation=45)
            self.happen(cooker, "load", mass_kg=0.6, start_c=25)


class Bare(Process):
    """The floor: a program that reads the same files and does next to nothing."""

    def __init__(self, folder: Path, port: int, tree: W1Tree) -> None:
        folder.mkdir()
        files = [tree.base / address / "w1_slave" for address in ADDRESSES]
        super().__init__([sys.executable, BARE, folder, str(port), *files], folder / "log")
