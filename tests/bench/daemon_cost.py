"""What the running daemon costs, beside its budget: python tests/bench/daemon_cost.py

The real ``noonpot run`` reads 8 probes every 2 s with a cook running in each of three cookers, and
tells a real mosquitto and a push service on loopback. Two of them run side by side: one reads
simulated cookers, so it also pays for the physics; one reads text files like those of the kernel's
1-Wire bus, with no simulator in it. Memory and processor time are the kernel's own count in /proc.
"""

import os
import platform
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from broker import Broker, Phone, until
from hw.sysfs import W1Tree
from noonpot.clock import SystemClock
from noonpot.core.cook import Event, EventKind
from noonpot.store.inbox import hand_in
from receiver import Receiver

WARM_UP_S, WATCHED_S, STARTS, ALERTS = 20.0, 60.0, 5, 20
COOKERS = ("box", "dish", "iron")
POTS = {cooker: f"28-000000000{n}a" for n, cooker in enumerate(COOKERS, start=10)}
CORES = {cooker: f"28-000000000{n}b" for n, cooker in enumerate(COOKERS, start=10)}
AIRS = ("28-000000000001", "28-000000000002")
COLD_C, HOT_C = 60.0, 120.0
TICKS_S = 1 / os.sysconf("SC_CLK_TCK")
CLOCK = SystemClock()
NEVER = threading.Event()

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


class Run:
    """One ``noonpot run`` in a folder of its own."""

    def __init__(self, folder: Path, text: str, service: Receiver) -> None:
        folder.mkdir()
        (folder / "noonpot.toml").write_text(text)
        (folder / "push-urls").write_text(service.address())
        (folder / "push-urls").chmod(0o600)
        self.inbox = folder / "data" / "inbox"
        self.started = CLOCK.moment()
        with (folder / "log").open("wb") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "noonpot", "run", "--config", folder / "noonpot.toml"],
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._proc = Path("/proc", str(self._process.pid))

    def age_s(self) -> float:
        """How long ago it was started."""
        return CLOCK.moment().mono_s - self.started.mono_s

    def happen(self, cooker: str, kind: str, **detail: object) -> None:
        """Hand in an event, as ``noonpot cook`` does."""
        told = {key: str(value) for key, value in detail.items()}
        hand_in(self.inbox, Event(cooker, CLOCK.moment().at, EventKind(kind), told))

    def processor_s(self) -> float:
        """Processor time of all its threads so far, in and out of the kernel."""
        fields = (self._proc / "stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) * TICKS_S

    def memory_mb(self, file: str, key: str) -> float:
        """A line of status or smaps_rollup."""
        lines = (self._proc / file).read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith(f"{key}:")) / 1024

    def end(self) -> None:
        """End it and a helper it may have, as the service manager does."""
        os.killpg(self._process.pid, signal.SIGTERM)
        self._process.wait(10)


@contextmanager
def running(folder: Path, text: str, service: Receiver) -> Iterator[Run]:
    """A daemon that is ended whatever happens."""
    run = Run(folder, text, service)
    try:
        yield run
    finally:
        run.end()


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    figure: str
    budget: str
    measured: str


def starts(folder: Path, port: int, service: Receiver) -> list[Line]:
    """Fresh starts: when a probe's file is read first, and when its value is at the broker.

    The kernel notes the first read after a write, unless the file system is mounted noatime.
    """
    read_s, told_s = [], []
    for number in range(STARTS):
        tree = W1Tree(folder / f"start-{number}")
        text = wired(port, tree).replace('"wired"', f'"start-{number}"')
        probe = tree.base / POTS["box"] / "w1_slave"
        with (
            Phone(port, f"noonpot/start-{number}/box/now", name=f"phone-{number}") as phone,
            running(folder / f"run-{number}", text, service) as run,
        ):
            phone.wait_for("box/now", pot_c=COLD_C)
            told_s.append(run.age_s())
            read_s.append(probe.stat().st_atime - run.started.at.timestamp())
    return [
        Line("start to first reading", "1.5 s", spread(read_s)),
        Line("start to first reading at the broker", "-", spread(told_s)),
    ]


def spread(seconds: Sequence[float]) -> str:
    """The median and the worst."""
    return f"{statistics.median(seconds):.2f} s, worst {max(seconds):.2f} s of {len(seconds)}"


def costs(runs: Sequence[tuple[str, Run]]) -> list[Line]:
    """Memory and processor share of daemons that run side by side."""
    NEVER.wait(WARM_UP_S)
    begun = [(CLOCK.moment().mono_s, run.processor_s()) for _, run in runs]
    NEVER.wait(WATCHED_S)
    lines = []
    for (name, run), (since_s, spent_s) in zip(runs, begun, strict=True):
        share = (run.processor_s() - spent_s) / (CLOCK.moment().mono_s - since_s)
        resident, own = run.memory_mb("status", "VmRSS"), run.memory_mb("smaps_rollup", "Pss")
        lines += [
            Line(f"resident memory, {name}", "80 MB", f"{resident:.0f} MB ({own:.0f} MB Pss)"),
            Line(f"share of one core, {name}", "2 %", f"{100 * share:.2f} %"),
        ]
    return lines


def latency(run: Run, tree: W1Tree, phone: Phone, service: Receiver) -> list[Line]:
    """From a pot that turns hot to the alert at a listener and at the push service: two cookers in
    turn, at any time between two polls.
    """
    chance, whole_s, after_s, pushed_s = random.Random(7), [], [], []
    for cooker in ("box", "dish"):
        run.happen(cooker, "stop")
        run.happen(cooker, "start", food="bread")
    phone.wait(lambda: all(is_empty(phone, c) for c in ("box", "dish")), "both wait for a load")
    for number in range(ALERTS):
        hot, cold = ("box", "dish") if number % 2 else ("dish", "box")
        heard = partial(has_alerts, phone, number + 1)
        NEVER.wait(chance.uniform(0.0, 2.0))
        tree.set(POTS[cold], COLD_C)
        tree.set(POTS[hot], HOT_C)
        begun = CLOCK.moment()
        phone.wait(heard, "a pot is hot")
        ended = CLOCK.moment()
        whole_s.append(ended.mono_s - begun.mono_s)
        read_at = (tree.base / POTS[hot] / "w1_slave").stat().st_atime
        after_s.append(ended.at.timestamp() - read_at)
        service.wait(partial(has_pushes, service, number + 1), "the push comes")
        pushed_s.append(CLOCK.moment().mono_s - begun.mono_s)
    return [
        Line("change of a probe to alert at a listener", "2.3 s", spread(whole_s)),
        Line("of this, after the probe was read", "0.3 s", spread(after_s)),
        Line("change of a probe to alert at a push service", "-", spread(pushed_s)),
    ]


def is_empty(phone: Phone, cooker: str) -> bool:
    """Whether a cook runs in the cooker, and nothing is in the pot yet."""
    cook = phone.messages(f"wired/{cooker}/now")[-1].json["cook"]
    return cook is not None and cook["loaded_at"] is None


def has_alerts(phone: Phone, count: int) -> bool:
    """Whether so many alerts that a pot is hot were heard."""
    return [m.json["alarm"] for m in phone.messages("/alert")].count("preheated") >= count


def has_pushes(service: Receiver, count: int) -> bool:
    """Whether so many alerts that a pot is hot were pushed."""
    return sum(message.count("hot enough") for message in service.messages) >= count


def begin_cooks(run: Run) -> None:
    """Bread in every cooker."""
    for cooker in COOKERS:
        run.happen(cooker, "start", food="bread")
        run.happen(cooker, "aim", azimuth=180, elevation=45)
        run.happen(cooker, "load", mass_kg=0.6, start_c=25)


def measure(folder: Path, port: int, service: Receiver) -> list[Line]:
    """All figures, in the order in which they are had."""
    lines = starts(folder, port, service)
    tree = W1Tree(folder / "tree")
    with (
        Phone(port, "noonpot/+/iron/now", "noonpot/wired/#") as phone,
        running(folder / "simulated", simulated(port), service) as garden,
        ExitStack() as stack,
    ):
        until(garden.inbox.exists, "the simulated garden has its sun")
        plain = stack.enter_context(running(folder / "wired", wired(port, tree), service))
        for run, name in ((garden, "simulated"), (plain, "wired")):
            phone.wait_for(f"{name}/iron/now", cook=None)
            begin_cooks(run)
        lines += costs([("no simulator", plain), ("with simulator", garden)])
        lines += latency(plain, tree, phone, service)
    return lines


def machine() -> str:
    """Processor, cores, Python and system."""
    facts = dict(
        line.split(":", 1) for line in Path("/proc/cpuinfo").read_text().splitlines() if ":" in line
    )
    named = {key.strip(): value.strip() for key, value in facts.items()}
    model = named.get("Model") or named.get("model name") or platform.machine()
    system = platform.freedesktop_os_release()["PRETTY_NAME"]
    return f"{model}, {os.cpu_count()} cores, Python {platform.python_version()}, {system}"


def main() -> None:
    """Measure and print the table."""
    with (
        tempfile.TemporaryDirectory() as made,
        Broker(Path(made) / "broker") as broker,
        Receiver() as service,
    ):
        lines = measure(Path(made), broker.port, service)
    print(machine(), end="\n\n")
    print("| Figure | Budget | Measured |", "|---|---|---|", sep="\n")
    for line in lines:
        print(f"| {line.figure} | {line.budget} | {line.measured} |")


if __name__ == "__main__":
    main()
