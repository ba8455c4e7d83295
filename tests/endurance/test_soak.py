"""The whole daemon for a day in a fast time and for half an hour in the true one: nothing grows."""

import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from statistics import fmean
from typing import Self

import httpx
import psutil
import pytest

from broker import Broker, free_port, listens
from endurance.extent import FULL, Tell
from endurance.soaking import (
    COOKERS,
    HOUR_S,
    Taken,
    config,
    growth_mb,
    lines_of,
    slope_mb_per_h,
    taken,
)
from noonpot.clock import SystemClock
from noonpot.core.cook import Event, EventKind
from noonpot.store.inbox import hand_in
from store.shelf import ENVIRONMENT

RATE, DAY_S, DAY_WARM_S, DAY_EVERY_S = 60.0, 86_400.0, 4 * 3600.0, 300.0
REAL_S, REAL_WARM_S, REAL_EVERY_S = 1800.0, 660.0, 5.0  # by then all jobs have run
ASK_S = 10.0
DAY_HOURS = 24.0
MOST_THREADS = 14  # with all five of the housekeeping, which begin when they are first needed
CLOCK = SystemClock()
NEVER = threading.Event()
ENV = {**ENVIRONMENT, "OPENBLAS_NUM_THREADS": "1"}

pytestmark = [
    pytest.mark.skipif(not FULL, reason="takes half an hour: NOONPOT_ENDURANCE=full"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


@contextmanager
def started(
    command: Sequence[str], log: Path, ready: Callable[[], bool]
) -> Iterator[subprocess.Popen[bytes]]:
    """A daemon; it is ended as the service manager does, and must take that."""
    with (
        log.open("wb") as out,
        subprocess.Popen(command, stdout=out, stderr=out, env=ENV) as daemon,
    ):
        try:
            for _ in range(1200):
                if ready():
                    break
                assert daemon.poll() is None, log.read_text()
                NEVER.wait(0.1)
            yield daemon
        finally:
            daemon.send_signal(signal.SIGTERM)
            assert daemon.wait(30) == 0


def watched(
    processes: Sequence[int], wal: Path, seconds: float, every_s: float
) -> Sequence[list[Taken]]:
    """What each of them takes, again and again, so long."""
    begun_s = CLOCK.moment().mono_s
    found: list[list[Taken]] = [[] for _ in processes]
    while (gone_s := CLOCK.moment().mono_s - begun_s) < seconds:
        for samples, process in zip(found, processes, strict=True):
            samples.append(taken(process, wal, gone_s))
        NEVER.wait(every_s)
    return found


def told(figure: Tell, name: str, samples: Sequence[Taken]) -> None:
    """Note all that must not grow."""
    slope, noise = slope_mb_per_h(samples)
    files, threads = ([getattr(s, key) for s in samples] for key in ("files", "threads"))
    hours = (samples[-1].at_s - samples[0].at_s) / HOUR_S
    written_gb = (samples[-1].written_mb - samples[0].written_mb) / 1000
    figure(
        19,
        f"{name}: memory",
        f"{growth_mb(samples):+.2f} MB, {fmean(s.rss_mb for s in samples):.0f} MB in the mean",
        "< +5 MB",
    )
    figure(19, f"{name}: slope of memory", f"{slope:+.3f} ± {noise:.3f} MB/h", "< 0.1 MB/h")
    figure(19, f"{name}: open files", f"{min(files)} to {max(files)}", "± 2")
    figure(19, f"{name}: threads", f"{min(threads)} to {max(threads)}", "± 0")
    figure(
        19,
        f"{name}: log beside the data file",
        f"{max(s.wal_mb for s in samples):.1f} MB",
        "<= 8 MB",
    )
    figure(19, f"{name}: written", f"{written_gb / hours * DAY_HOURS:.3f} GB a day", "<= 0.2 GB")


def kept(samples: Sequence[Taken]) -> None:
    """Hold them against their bars.

    The slope is told and not held: the least that the allocator takes from the system at once is
    more than the bar allows in half an hour, and from run to run that of a day differs by more than
    its own noise. A reader or a backup has files open for a moment, so begin and end are compared.
    """
    tenth = len(samples) // 10
    opened = [max(s.files for s in part) for part in (samples[:tenth], samples[-tenth:])]
    assert growth_mb(samples) < 5
    assert opened[1] - opened[0] <= 2
    assert max(s.threads for s in samples) <= MOST_THREADS
    assert max(s.wal_mb for s in samples) <= 8


def test_a_day_in_a_fast_time_takes_no_more_at_its_end(tmp_path: Path, figure: Tell) -> None:
    log, file = tmp_path / "log", tmp_path / "noonpot.toml"
    wal = tmp_path / "data" / "noonpot.db-wal"
    with Broker(tmp_path / "broker") as broker:
        file.write_text(config(mqtt=broker.port, page=None, longitude=-105.2, hang_s=60))
        command = [sys.executable, str(Path(__file__).with_name("soaker.py")), str(file), f"{RATE}"]
        with started(command, log, lambda: "ready" in log.read_text()) as daemon:
            (found,) = watched((daemon.pid,), wal, DAY_S / RATE, DAY_EVERY_S / RATE)
    simulated = [replace(s, at_s=s.at_s * RATE) for s in found]
    samples = [s for s in simulated if s.at_s >= DAY_WARM_S]
    report(tmp_path, log, "a day in a fast time", figure, samples, found)


def report(
    folder: Path,
    log: Path,
    name: str,
    figure: Tell,
    samples: Sequence[Taken],
    found: Sequence[Taken],
) -> None:
    """Print all, note the figures, and hold them against their bars."""
    for sample in found[:: max(1, len(found) // 40)]:
        print(sample)
    for kind, count in sorted(lines_of(log.read_text()).items(), key=lambda pair: -pair[1])[:30]:
        print(f"{count:6} {kind}")
    print(folder)
    told(figure, name, samples)
    kept(samples)


class Viewer:
    """Somebody who has the page open: follows what is shown, and looks at a curve now and then."""

    def __init__(self, port: int) -> None:
        self.heard = 0
        self._client = httpx.Client(
            base_url=f"http://127.0.0.1:{port}", timeout=30, trust_env=False
        )
        self._stop = threading.Event()
        self._threads = [threading.Thread(target=work) for work in (self._follow, self._look)]

    def __enter__(self) -> Self:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join()
        self._client.close()

    def _follow(self) -> None:
        while not self._stop.is_set():
            with suppress(httpx.HTTPError), self._client.stream("GET", "/api/live") as stream:
                for line in stream.iter_lines():
                    self.heard += line.startswith("event: ")
                    if self._stop.is_set():
                        return

    def _look(self) -> None:
        while not self._stop.wait(ASK_S):
            for path in ("/api/now", "/api/health"):
                with suppress(httpx.HTTPError):
                    self._client.get(path)


def test_half_an_hour_in_the_true_time_takes_no_more_at_its_end(
    tmp_path: Path, figure: Tell
) -> None:
    log, file, port = tmp_path / "log", tmp_path / "noonpot.toml", free_port()
    wal = tmp_path / "data" / "noonpot.db-wal"
    with Broker(tmp_path / "broker") as broker:
        at = CLOCK.moment().at
        noon_here = (10.5 - at.hour - at.minute / 60) * 15 % 360  # its sun stands high all the time
        longitude = noon_here - 360 if noon_here > 180 else noon_here
        file.write_text(config(mqtt=broker.port, page=port, longitude=longitude))
        command = [sys.executable, "-m", "noonpot", "run", "--config", str(file)]
        with started(command, log, lambda: listens(port)) as daemon, Viewer(port) as viewer:
            begin_cooks(tmp_path / "data" / "inbox")
            (page,) = [
                child.pid
                for child in psutil.Process(daemon.pid).children()
                if "noonpot.app.pageprocess" in child.cmdline()
            ]
            found, pages = watched((daemon.pid, page), wal, REAL_S, REAL_EVERY_S)
            heard = viewer.heard
    samples = [s for s in found if s.at_s >= REAL_WARM_S]
    name = f"{REAL_S / 60:.0f} min in the true time"
    lines = len(log.read_text().splitlines())
    figure(19, f"{name}: lines of the log, from the start on", f"{lines}", "<= 200 a day")
    figure(19, f"{name}: news to the viewer of the page", f"{heard}", "-")
    told(figure, f"{name}, the page", [s for s in pages if s.at_s >= REAL_WARM_S])
    report(tmp_path, log, name, figure, samples, found)
    assert heard > REAL_S / 2


def begin_cooks(inbox: Path) -> None:
    """Stew in every cooker."""
    for cooker in COOKERS:
        for kind, detail in (
            (EventKind.START, {"food": "stew"}),
            (EventKind.AIM, {"azimuth": "180", "elevation": "45"}),
            (EventKind.LOAD, {"mass_kg": "1.2", "start_c": "25"}),
        ):
            hand_in(inbox, Event(cooker, CLOCK.moment().at, kind, detail))
