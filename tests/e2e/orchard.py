"""A station for the whole way: a simulated cooker behind files that look like probes, and the real
daemon that reads them.
"""

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

from broker import until
from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.sysfs import W1Tree, scratchpad, slave_text
from noonpot.clock import SystemClock
from noonpot.core.readings import Measured
from simday import HILL, at, event, open_garden, turns

CORE, SHADE = "28-0000000000c0", "28-0000000000a0"
CLOCK = SystemClock()
LAUNCH = Path(__file__).with_name("launch.py")
POLL_S = 0.5
STEP_S = 60.0
PACE_S = 0.08
SUN_S = 60
CONFIG = """
[station]
name = "orchard"
latitude = 10
longitude = {longitude:.2f}
elevation_m = 1600
data = "data"

[poll]
interval_s = {poll_s}
commit_s = 2

[[bus]]
name = "w1"
driver = "ds18b20"
base = "{base}"
min_read_s = 0

[[bus]]
name = "spi"
driver = "max31855"
devices = ["{node}"]

[[cooker]]
name = "box"

[[probe]]
name = "pot"
role = "pot"
bus = "spi"
address = "{node}"
cooker = "box"
max_rate_c_per_s = 100

[[probe]]
name = "loaf"
role = "core"
bus = "w1"
address = "{core}"
cooker = "box"
max_rate_c_per_s = 100

[[probe]]
name = "shade"
role = "ambient"
bus = "w1"
address = "{shade}"

[food.flatbread]
target_c = 80
loading_pot_c = 95
source = "made for this test"

[alarm.preheated]
on_delay_s = 1

[alarm.done]
on_delay_s = 1

[mqtt]
host = "127.0.0.1"
port = {port}

[page]
enabled = false
"""


class Garden:
    """The simulated cooker. Its time goes in steps of a minute; each is written into the files."""

    def __init__(self, folder: Path) -> None:
        self.tree = W1Tree(folder)
        self._bench = SpiBench(folder)
        self.node = self._bench.node("spidev0.0", word(20.0))
        self._clock = FakeClock(at("09:30"))
        options = {"cookers": [{"name": "box", "kind": "reflector", "pot": "light"}], "seed": 11}
        self._bus = open_garden(options, self._clock)
        self._script = turns("box", at("09:30"), at("16:00"), place=HILL)
        self.happen("start", food="bread")
        self.write()

    def happen(self, kind: str, **detail: object) -> None:
        """Something is done to the simulated cooker."""
        self._bus.notice(event("box", kind, self._clock.moment().at, **detail))

    def live(self, condition: Callable[[], bool], what: str) -> None:
        """Let minute after minute go by until the condition holds."""
        never = threading.Event()
        for _ in range(400):
            if condition():
                return
            now = self._clock.advance(STEP_S)
            while self._script and self._script[0].at <= now.at:
                self._bus.notice(self._script.pop(0))
            self.write()
            CLOCK.wait(never, PACE_S)
        raise AssertionError(f"not before the evening: {what}")

    def write(self) -> None:
        """Show what the simulated probes show."""
        self._bench.send(self.node, word(self.shown("box/pot"), 26.0))
        self.tree.set(CORE, self.shown("box/core"))
        self.tree.set(SHADE, self.shown("ambient"))

    def show(self, pot_c: float) -> None:
        """Let the pot have this temperature, whatever the simulation says."""
        self._bench.send(self.node, word(pot_c, 26.0))

    def let_be_read(self, celsius: float) -> None:
        """Give the core a temperature, and return once the daemon has taken it in.

        For two rounds the probe is a pipe, which tells when a reader has it open; what was read in
        a round has been taken in when the next one comes.
        """
        text = slave_text(scratchpad(celsius))
        for _ in range(2):
            draft = self.tree.base / CORE / "draft"
            os.mkfifo(draft)
            pipe = draft.replace(self.tree.base / CORE / "w1_slave")
            until(partial(_poured, pipe, text), "the daemon reads the core")
        self.tree.set(CORE, celsius)

    def shown(self, address: str) -> float:
        answer = self._bus.read(address)
        assert isinstance(answer, Measured)
        return answer.value


def _poured(pipe: Path, text: str) -> bool:
    """Write into a pipe if somebody reads it now."""
    try:
        end = os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
    except OSError:  # nobody has it open
        return False
    os.write(end, text.encode())
    os.close(end)
    return True


class Orchard:
    """The folder of one station, its configuration, and the daemon's process."""

    def __init__(self, folder: Path, garden: Garden, port: int) -> None:
        self._folder = folder
        self.file = folder / "noonpot.toml"
        now = CLOCK.moment().at
        noon_h = now.hour + now.minute / 60
        self.file.write_text(
            CONFIG.format(
                poll_s=POLL_S,
                longitude=(12 - noon_h) * 15,  # the sun stands high here, whenever the test runs
                base=garden.tree.base,
                node=garden.node,
                core=CORE,
                shade=SHADE,
                port=port,
            )
        )
        self.environment: dict[str, str] = {}
        self._process: subprocess.Popen[bytes] | None = None

    def edit(self, old: str, new: str) -> None:
        """Change the configuration wherever it says ``old``."""
        text = self.file.read_text()
        assert old in text
        self.file.write_text(text.replace(old, new))

    def start(self) -> None:
        """Start the daemon."""
        with (self._folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                self._command("run"), env=self._environment(), stdout=log, stderr=log
            )

    def end(self, how: signal.Signals) -> int:
        """End the daemon; returns its exit code."""
        process, self._process = self._process, None
        if process is None:
            return 0
        process.send_signal(how)
        return process.wait(10)

    def say(self, *words: str) -> str:
        """A command of the person; must succeed."""
        done = subprocess.run(
            self._command(*words),
            env=self._environment(),
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
        assert done.returncode == 0, f"{words}: {done.stdout}{done.stderr}{self.log()}"
        return done.stdout

    def log(self) -> str:
        """What the daemon said."""
        file = self._folder / "log"
        return file.read_text() if file.exists() else ""

    def stored(self, alarm: str) -> int:
        """How many alerts of an alarm stand in the data file."""
        return len(self.select("SELECT id FROM alert WHERE alarm = ?", alarm))

    def select(self, query: str, *values: str) -> list[tuple[Any, ...]]:
        """What the data file holds, by no code of the daemon."""
        file = self._folder / "data" / "noonpot.db"
        with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
            return db.execute(query, values).fetchall()

    def ready(self) -> None:
        """Wait until the daemon has made its inbox, and so takes letters."""
        until((self._folder / "data" / "inbox" / "refused").exists, "the daemon is up")

    def wait_for_sun(self) -> None:
        """Wait until the sun of a day is computed, which a busy machine takes its time for."""
        never = threading.Event()
        for _ in range(SUN_S * 10):
            if self.select("SELECT id FROM sun_day"):
                return
            CLOCK.wait(never, 0.1)
        raise AssertionError(f"no sun within {SUN_S} s: {self.log()}")

    def _command(self, *words: str) -> list[str]:
        spi = str(self._folder)
        return [sys.executable, str(LAUNCH), spi, *words, "--config", str(self.file)]

    def _environment(self) -> dict[str, str]:
        path = os.pathsep.join(p for p in sys.path if p)
        return {**os.environ, "PYTHONPATH": path, **self.environment}
