"""A station that records and serves a time-series server, in lives one after the other: a mother
process bears one for each line of its input, so that a life begins without imports.

A line holds the data file, the port of the server, the seconds between two writes to the file, how
many rounds of readings are in one, and for how many seconds there is something to record. The
station goes on where the file ends. Every now and then it says how late it is [s], its memory [kB]
and how much still waits; at last ``done``; the mother says ``born`` and ``gone``.
"""

import os
import random
import sys
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import influxdb_client  # noqa: F401  so that it is there when a station is born

from fakes import FakeClock
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.readings import Reading
from noonpot.ports import Batch, Given
from noonpot.store.passes import RIPE_S
from noonpot.store.sqlite import Store
from noonpot.store.streams import STREAMS
from noonpot.uplink.influx import PAUSE_S, SINK, Uplink
from store.shelf import PROBES, START

MONO_S = 1000.0
COOKERS = ("box", "dish")
COOK_S, FORECAST_S, EVENT_S = 4 * 3600.0, 600.0, 900.0
SPEAK_S = 1200.0
KINDS = (EventKind.LID, EventKind.NOTE, EventKind.SPOT, EventKind.LOAD)


@dataclass(frozen=True)
class Access:
    """Where the server is."""

    url: str
    org: str = "any"
    bucket: str = "any"
    token: str = ""


@dataclass
class Station:
    """One life."""

    path: Path
    port: int
    write_s: float
    rounds: int
    record_s: float

    def live(self) -> None:
        """Record and push until all is recorded and twice on the server."""
        late_s = self._recorded_s()
        clock = FakeClock(START + timedelta(seconds=late_s), MONO_S + late_s)
        self._dice = random.Random(late_s)
        with Store(self.path, clock) as store:
            store.register(PROBES)
            link = Uplink(store, Access(f"http://127.0.0.1:{self.port}"), "garden", clock)
            wait_s = 0.0
            while True:
                late_s = (clock.moment().at - START).total_seconds()
                recording = late_s < self.record_s
                step_s = self.write_s if recording else PAUSE_S
                now = clock.advance(step_s)
                if recording:
                    self._record(store, now)
                wait_s -= step_s
                while wait_s <= 0:
                    progress = link.push()
                    wait_s = progress.next_try_s
                    if wait_s == 0:
                        say(late_s, rss_kb(), progress.behind)
                    elif not recording and not progress.behind and self._settled(store, clock):
                        say("done")
                        return
                if late_s % SPEAK_S < step_s:
                    say(late_s, rss_kb(), progress.behind)

    def _record(self, store: Store, now: Moment) -> None:
        """What came in the last seconds."""
        late_s = (now.at - START).total_seconds()
        cooks = [
            store.write(now, Batch(cooks=[Cook(name, now.at, "beans", 90.0)]))[0]
            for name in COOKERS
            if due(late_s, COOK_S, self.write_s)
        ]
        samples = [
            Reading(probe.name, now.at - ago, now.mono_s - ago.total_seconds(), self._value())
            for ago in (timedelta(seconds=2 * n) for n in range(self.rounds))
            for probe in PROBES
        ]
        events = [
            Event(name, now.at, self._dice.choice(KINDS), {"text": f"{late_s:.0f}", "core_c": "61"})
            for name in COOKERS
            if due(late_s, EVENT_S, self.write_s)
        ]
        running = store.running_cooks()
        begun = {cook.id for cook in cooks}
        stopped = [
            cook.after(Event(cook.cooker, now.at, EventKind.STOP))
            for cook in running
            if begun and cook.id not in begun
        ]
        forecasts = [
            Given(cook.id, Forecast(now.at, 90.0, self._dice.random(), None, done_at, None))
            for cook in (cooks or running)
            if due(late_s, FORECAST_S, self.write_s)
            for done_at in [now.at + timedelta(seconds=self._dice.randint(1, 9999))]
        ]
        store.write(now, Batch(samples, events, stopped, forecasts=forecasts))

    def _value(self) -> float:
        return self._dice.randint(0, 4800) / 16

    def _recorded_s(self) -> float:
        """Up to when the file goes."""
        if not self.path.exists():
            return 0.0
        with Store(self.path, FakeClock(START, MONO_S)) as store:
            newest = "SELECT max(id) >> 10 FROM reading"
            (tick,) = store._db.execute(newest).fetchone()  # noqa: SLF001
            (wall_s,) = store._db.execute("SELECT wall_s FROM clock_span").fetchone()  # noqa: SLF001
        return 0.0 if tick is None else tick + wall_s - START.timestamp()

    def _settled(self, store: Store, clock: FakeClock) -> bool:
        """Whether the second pass is at the end, too. So much time goes by that all is due."""
        clock.advance(RIPE_S)
        rows = "SELECT stream, position FROM cursor WHERE sink = ?"
        reached = dict(store._db.execute(rows, (SINK,)).fetchall())  # noqa: SLF001
        newest = {
            "reading": "SELECT max(id) FROM reading",
            "event": "SELECT max(id) FROM event",
            "forecast": "SELECT max(tick << 20 | cook) FROM forecast",
        }
        assert newest.keys() == STREAMS.keys()
        return reached == {
            stream: store._db.execute(query).fetchone()[0]  # noqa: SLF001
            for stream, query in newest.items()
        }


def due(late_s: float, every_s: float, step_s: float) -> bool:
    """Whether something that comes every so many seconds came in the last step."""
    return late_s % every_s < step_s


def rss_kb() -> int:
    """The memory this process holds [kB]."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") // 1024


def say(*words: object) -> None:
    """One line, whole or not at all: it is shorter than a pipe writes at once."""
    os.write(sys.stdout.fileno(), f"{' '.join(map(str, words))}\n".encode())


def main() -> None:
    """Bear one station for each line."""
    for line in sys.stdin:
        path, port, write_s, rounds, record_s = line.split()
        station = Station(Path(path), int(port), float(write_s), int(rounds), float(record_s))
        child = os.fork()
        if child == 0:
            station.live()
            os._exit(0)
        say("born", child)
        os.waitpid(child, 0)
        say("gone")


if __name__ == "__main__":
    main()
