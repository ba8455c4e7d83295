"""What the running daemon costs, beside its budget: python tests/bench/daemon_cost.py

The real ``noonpot run`` reads 8 probes every 2 s with a cook running in each of three cookers, and
tells a real mosquitto and a push service on loopback. Two of them run side by side: one reads
simulated cookers, so it also pays for the physics; one reads text files like those of the kernel's
1-Wire bus, with no simulator in it. Memory and processor time are the kernel's own count in /proc.

The floor is a third process, ``bare_watch.py``, and for an alert a bare round trip through the same
broker.
"""

import random
import tempfile
import threading
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from bench.budgets import AFTER_READ, ALERT, FIRST_READING, MEMORY, PROCESSOR, Bar, free
from bench.figures import Figure, Series, once, section
from bench.gardens import COLD_C, POTS, Bare, Daemon, simulated, wired
from bench.processes import CLOCK, Process, patiently
from bench.roundtrip import RoundTrip
from broker import Broker, Phone, until
from hw.sysfs import W1Tree
from receiver import Receiver

WARM_UP_S, WATCHED_S, STARTS, ALERTS = 20.0, 60.0, 5, 20
HOT_C = 120.0
NEVER = threading.Event()
NO_SIMULATOR, SIMULATOR = "no simulator", "with simulator"


def starts(folder: Path, port: int, service: Receiver) -> list[Figure]:
    """Fresh starts: when a probe's file is read first, and when its value is at the broker.

    The kernel notes the first read after a write, unless the file system is mounted noatime.
    """
    read_s, bare_s, told_s, busy_s, bare_busy_s = [], [], [], [], []
    for number in range(STARTS):
        tree = W1Tree(folder / f"start-{number}")
        text = wired(port, tree).replace('"wired"', f'"start-{number}"')
        with (
            Phone(port, f"noonpot/start-{number}/box/now", name=f"phone-{number}") as phone,
            Daemon(folder / f"run-{number}", text, service) as run,
        ):
            phone.wait_for("box/now", pot_c=COLD_C)
            told_s.append(run.age_s())
            busy_s.append(run.processor_s())
            read_s.append(seen_at(tree, "box") - run.started.at.timestamp())
        tree.set(POTS["box"], COLD_C)
        written = seen_at(tree, "box")
        with Bare(folder / f"bare-{number}", port, tree) as bare:
            until(partial(seen_since, tree, written), "the bare loop reads")
            bare_busy_s.append(bare.processor_s())
            bare_s.append(seen_at(tree, "box") - bare.started.at.timestamp())
    return [
        Figure(FIRST_READING, Series(read_s, busy_s), Series(bare_s, bare_busy_s)),
        Figure(free("start to first reading at the broker", " s", 2), Series(told_s)),
    ]


def seen_at(tree: W1Tree, cooker: str) -> float:
    """When the file of a pot was last read, as Unix time [s]."""
    return (tree.base / POTS[cooker] / "w1_slave").stat().st_atime


def seen_since(tree: W1Tree, before: float) -> bool:
    """Whether the file of the box was read since."""
    return seen_at(tree, "box") > before


def costs(runs: Sequence[tuple[str, Process]], bare: Process) -> list[Figure]:
    """Memory and processor share of daemons that run side by side."""
    NEVER.wait(WARM_UP_S)
    everybody = [*(run for _, run in runs), bare]
    begun = [(CLOCK.moment().mono_s, run.processor_s()) for run in everybody]
    NEVER.wait(WATCHED_S)
    shares = [
        100 * (run.processor_s() - spent_s) / (CLOCK.moment().mono_s - since_s)
        for run, (since_s, spent_s) in zip(everybody, begun, strict=True)
    ]
    figures = []
    for (name, run), share in zip(runs, shares[:-1], strict=True):
        own = f"{run.memory_mb('smaps_rollup', 'Pss'):.0f} MB Pss"
        figures += [
            Figure(named(MEMORY, name), once(run.memory_mb()), once(bare.memory_mb()), own),
            Figure(named(PROCESSOR, name), once(share), once(shares[-1])),
        ]
    return figures


def named(bar: Bar, name: str) -> Bar:
    """The same bar for one of several."""
    return Bar(f"{bar.name}, {name}", bar.least, bar.most, bar.unit, bar.digits)


def latency(run: Daemon, tree: W1Tree, phone: Phone, port: int, service: Receiver) -> list[Figure]:
    """From a pot that turns hot to the alert at a listener and at the push service: two cookers in
    turn, at any time between two polls.
    """
    chance, whole_s, after_s, pushed_s = random.Random(7), [], [], []
    waits_s, trips_s = [], []
    for cooker in ("box", "dish"):
        run.happen(cooker, "stop")
        run.happen(cooker, "start", food="bread")
    phone.wait(lambda: all(is_empty(phone, c) for c in ("box", "dish")), "both wait for a load")
    with RoundTrip(port) as trip:
        for number in range(ALERTS):
            hot, cold = ("box", "dish") if number % 2 else ("dish", "box")
            trips_s.append(trip.took_s())
            NEVER.wait(chance.uniform(0.0, 2.0))
            tree.set(POTS[cold], COLD_C)
            tree.set(POTS[hot], HOT_C)
            begun = CLOCK.moment()
            phone.wait(partial(has_alerts, phone, number + 1), "a pot is hot")
            ended = CLOCK.moment()
            read_at = seen_at(tree, hot)
            whole_s.append(ended.mono_s - begun.mono_s)
            after_s.append(ended.at.timestamp() - read_at)
            waits_s.append(max(0.0, read_at - begun.at.timestamp()) + trips_s[-1])
            service.wait(partial(has_pushes, service, number + 1), "the push comes")
            pushed_s.append(CLOCK.moment().mono_s - begun.mono_s)
    return [
        Figure(ALERT, Series(whole_s), Series(waits_s)),
        Figure(AFTER_READ, Series(after_s), Series(trips_s)),
        Figure(free("change of a probe to alert at a push service", " s", 2), Series(pushed_s)),
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


def measure(folder: Path, port: int, service: Receiver) -> list[Figure]:
    """All figures, in the order in which they are had."""
    figures = starts(folder, port, service)
    tree = W1Tree(folder / "tree")
    text = wired(port, tree)
    with (
        Phone(port, "noonpot/+/iron/now", "noonpot/wired/#") as phone,
        Daemon(folder / "simulated", simulated(port), service) as garden,
    ):
        patiently(garden.inbox.exists, "the simulated garden has its sun")
        with Daemon(folder / "wired", text, service) as plain:
            patiently(plain.inbox.exists, "the wired garden runs")
            for run, name in ((garden, "simulated"), (plain, "wired")):
                phone.wait_for(f"{name}/iron/now", cook=None)
                run.begin_cooks()
            with Bare(folder / "bare", port, tree) as bare:
                figures += costs([(NO_SIMULATOR, plain), (SIMULATOR, garden)], bare)
            figures += latency(plain, tree, phone, port, service)
    return figures


def main() -> None:
    """Measure and print the table."""
    with (
        tempfile.TemporaryDirectory() as made,
        Broker(Path(made) / "broker") as broker,
        Receiver() as service,
    ):
        figures = measure(Path(made), broker.port, service)
    print(
        section(
            "The daemon",
            figures,
            "Floor of start, memory and processor: a process that loads the same libraries, reads "
            "the same eight files every 2 s, writes them with one commit every 10 s and publishes "
            "three messages a minute (`tests/bench/bare_watch.py`).",
            "Floor of an alert: one QoS 1 message of 400 bytes from one paho client to another "
            "through the same broker; before it, the wait for the next poll, which nothing "
            "shortens.",
            "Processor time of a start is counted until the first value is at the broker, or the "
            "bare loop has read.",
            "Memory is VmRSS, in MB of 2^20 bytes; Pss shares out what several processes have in "
            "common. The processor is counted in steps of 10 ms: over "
            f"{WATCHED_S:.0f} s one step is 0.02 %.",
        )
    )


if __name__ == "__main__":
    main()
