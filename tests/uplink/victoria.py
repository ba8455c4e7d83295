"""A real time-series server for tests."""

import json
import shutil
import signal
import subprocess
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path
from typing import Self
from urllib.parse import urlencode

from broker import DEADLINE_S, free_port, until

PROGRAM = "victoria-metrics"
Series = tuple[tuple[str, str], ...]


@dataclass
class Victoria:
    """VictoriaMetrics on a loopback port; ``folder`` keeps its data. It is an ``Access`` too."""

    folder: Path
    port: int = field(default_factory=free_port)
    org: str = "any"
    bucket: str = "any"
    token: str = ""
    _process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> Self:
        """Start it, on the same port and data as before; returns once it answers."""
        program = shutil.which(PROGRAM)
        if program is None:
            raise RuntimeError(f"{PROGRAM} is missing: sudo apt install {PROGRAM}")
        self.folder.mkdir(parents=True, exist_ok=True)
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [
                    program,
                    f"-httpListenAddr=127.0.0.1:{self.port}",
                    f"-storageDataPath={self.folder / 'data'}",
                    "-dedup.minScrapeInterval=1ms",
                    "-retentionPeriod=10y",
                    "-memory.allowedBytes=64MB",
                ],
                stdout=log,
                stderr=log,
            )
        until(self._answers, f"{PROGRAM} answers")
        return self

    def stop(self) -> None:
        """End it as the service manager does."""
        self._end(signal.SIGINT)

    def kill(self) -> None:
        """End it as a crash does."""
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(DEADLINE_S)
            self._process = None

    def points(self, measurement: str) -> dict[Series, dict[int, float]]:
        """All it has of a measurement: value by Unix time [ms], by tags.

        Two points of one time would be an error, and are told as one.
        """
        self._get("/internal/force_flush")
        found: dict[Series, dict[int, float]] = {}
        query = {"match[]": f'{{__name__=~"{measurement}_.*"}}', "start": 0, "end": 4e9}
        for text in self._get("/api/v1/export", query).splitlines():
            series = json.loads(text)
            assert len(set(series["timestamps"])) == len(series["timestamps"]), "a double"
            tags = tuple(sorted(series["metric"].items()))
            assert tags not in found
            found[tags] = dict(zip(series["timestamps"], series["values"], strict=True))
        return found

    def _answers(self) -> bool:
        if self._process is None or self._process.poll() is not None:
            raise RuntimeError(f"{PROGRAM} ended: {(self.folder / 'log').read_text()}")
        try:
            return self._get("/health") == "OK"
        except OSError:
            return False

    def _get(self, path: str, query: Mapping[str, object] | None = None) -> str:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=DEADLINE_S)
        with closing(connection):
            connection.request("GET", f"{path}?{urlencode(query or {})}")
            return connection.getresponse().read().decode()

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_: object) -> None:
        self.stop()
