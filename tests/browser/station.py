"""A station with its page: the real daemon and the real process of the page, on simulated cookers
and a clock that may run faster than life.
"""

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Self
from uuid import uuid4

import httpx

from broker import free_port, until
from browser.history import keep
from noonpot.app.machine import DATA_FILE
from noonpot.app.pagekeeper import KEYS
from noonpot.clock import SystemClock
from noonpot.core.moment import iso, utc
from noonpot.settings.files import supplied
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.web.keyring import Keyring
from simday import event, record_day, turns

CLOCK = SystemClock()
LAUNCH = Path(__file__).with_name("launch.py")
MORNING = utc("2026-06-21T16:00:00Z")
"""10:00 at the station: the sun is well up."""
START_S = 60
# Foods that are done or ready soon, so that a test need not wait for a whole day.
FOODS = """
[food.flatbread]
target_c = 80
loading_pot_c = 30
source = "made for this test"

[food.milk]
target_c = 30
wet = true
source = "made for this test"

[alarm.preheated]
on_delay_s = 1

[alarm.done]
on_delay_s = 1
"""


class Station:
    """One folder, one configuration, one daemon that can be ended and started again."""

    def __init__(self, folder: Path, rate: float = 1.0, start: datetime = MORNING) -> None:
        self.folder = folder
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        once = httpx.Limits(max_keepalive_connections=0)  # browsers may need all there are
        self._client = httpx.Client(base_url=self.address, limits=once)
        self._file = folder / "noonpot.toml"
        self._rate, self._start = rate, start
        self._begun_s: float | None = None
        self._process: subprocess.Popen[bytes] | None = None
        text = re.sub('data = ".*"', 'data = "data"', supplied("demo.toml").read_text())
        text = re.sub("interval_s = .*", "interval_s = 2", text)
        text = re.sub("ambient_c = .*", "ambient_c = 36", text)  # all pots are hot enough at once
        self._file.write_text(f"{text}\n[page]\nport = {self.port}\n{FOODS}")

    def remember(self, days_ago: int, cooker: str, food: str, step_s: float = 60.0) -> None:
        """Lay a cook of nine hours of an earlier day into the data file, read every ``step_s``."""
        settings = self.settings
        settings.data.mkdir(exist_ok=True)
        begun = self._start.replace(hour=14, minute=0) - timedelta(days=days_ago)
        fed, over = begun + timedelta(hours=1), begun + timedelta(hours=9)
        script = [
            *turns(cooker, begun, over, place=settings.station.place),
            event(cooker, "load", fed, food=food, mass_kg=0.7, start_c=22),
        ]
        options = {"cookers": [{"name": cooker}], "seed": days_ago, "sky": "thin-cloud"}
        place = settings.station.place
        recording = record_day(options, script, begun, over, step_s=step_s, place=place)
        keep(settings.data / DATA_FILE, settings.station.probes, recording, food)

    @property
    def settings(self) -> Settings:
        """Its configuration."""
        return load(self._file)

    def start(self) -> None:
        """Start the daemon; returns once its page answers and shows the cookers. Its clock has gone
        on while it was down.
        """
        now_s = CLOCK.moment().mono_s
        self._begun_s = self._begun_s or now_s
        at = self._start + timedelta(seconds=self._rate * (now_s - self._begun_s))
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, LAUNCH, self._file, iso(at), str(self._rate)],
                env={**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)},
                stdout=log,
                stderr=log,
            )
        never = threading.Event()
        for _ in range(START_S * 20):  # a first start computes the sun, which may take its time
            if "box/now" in self.topics():
                return
            CLOCK.wait(never, 1 / 20)
        raise AssertionError(f"no page within {START_S} s: {self.log()}")

    def wake(self) -> None:
        """Start the daemon where it was ended."""
        if self._process is None:
            self.start()

    def end(self, how: signal.Signals = signal.SIGTERM) -> None:
        """End the daemon, and with it the page."""
        process, self._process = self._process, None
        if process is not None:
            process.send_signal(how)
            process.wait(10)

    def topics(self) -> Mapping[str, Mapping[str, Any]]:
        """All that the page shows now, empty while it does not answer."""
        try:
            answer = self._client.get("/api/now")
        except httpx.TransportError:
            return {}
        if answer.status_code != httpx.codes.OK:
            return {}
        topics: Mapping[str, Mapping[str, Any]] = answer.json()["topics"]
        return topics

    def cook(self, cooker: str = "box") -> Mapping[str, Any] | None:
        """The running cook of a cooker as the watch sees it."""
        cook: Mapping[str, Any] | None = self.topics().get(f"{cooker}/now", {}).get("cook")
        return cook

    def rest(self) -> None:
        """End every cook, so that a test begins with cold pots whatever came before."""
        until(lambda: "iron/now" in self.topics(), "the page answers")
        token = self._client.get("/api/station").json()["token"]
        for cooker in ("box", "iron"):
            if self.cook(cooker) is not None:
                path, body = f"/api/cookers/{cooker}/stop", {"id": uuid4().hex}
                self._client.post(path, json=body, headers={"X-Noonpot-Token": token})
        until(self._rests, "all cookers rest")

    def _rests(self) -> bool:
        told = [self.topics().get(f"{cooker}/now") for cooker in ("box", "iron")]
        return all(now is not None and now.get("cook") is None for now in told)

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Whoever watches is a stranger meanwhile, for there is a passphrase."""
        keys = self.settings.data / KEYS
        Keyring(keys).set_passphrase("nobody knows it")
        try:
            yield
        finally:
            keys.unlink()

    def log(self) -> str:
        """What daemon and page said."""
        return (self.folder / "log").read_text()

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.end()
        self._client.close()
