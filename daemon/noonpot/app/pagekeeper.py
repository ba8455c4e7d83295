"""Keeps the page running: starts its process, feeds it, and starts it anew when it ends.

The page is a process of its own, so that whoever floods or breaks it never touches the watch. It is
fed through a pipe, by a thread of its own: of each topic the newest state waits, of alerts a
bounded number, so a page that takes nothing holds nobody up.
"""

import json
import logging
import os
import secrets
import socket
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from ipaddress import ip_address
from pathlib import Path
from typing import IO

from noonpot.core.alert import Alert
from noonpot.core.payloads import BEAT, alert_payload
from noonpot.ports import Clock, Delivery, Outcome
from noonpot.settings.values import Settings

log = logging.getLogger(__name__)

COMMAND = (sys.executable, "-m", "noonpot.app.pageprocess")
PACE_S = 0.5  # nobody sees more than two states a second
LOOK_S = 1.0
FIRST_WAIT_S = 5.0
LAST_WAIT_S = 60.0
GRACE_S = 4.0
HANG_S = 60.0  # so long without taking anything: it hangs
NICE = 5
MOST_ALERTS = 200
KEYS = Path("page", "keys.json")  # in the data folder
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"  # none that is easily taken for another

Payload = Mapping[str, object]


class PageKeeper:
    """A notifier that shows everything to the page. ``hello`` is what the process is told first."""

    channel = "page"

    def __init__(
        self,
        station: str,
        hello: Callable[[], Payload],
        clock: Clock,
        command: Sequence[str] = COMMAND,
    ) -> None:
        self._station = station
        self._hello = hello
        self._clock = clock
        self._command = command
        self._turn = threading.Lock()
        self._shown: dict[str, Payload] = {}
        self._fresh: dict[str, Payload] = {}
        self._alerts: deque[Payload] = deque(maxlen=MOST_ALERTS)
        self._news = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="page", daemon=True)
        self._process: subprocess.Popen[bytes] | None = None
        self._fed_s = clock.moment().mono_s
        self._problem = ""

    @property
    def problem(self) -> str:
        """Why the page is not served, "" while it is."""
        return self._problem

    def start(self) -> None:
        """Begin to serve."""
        self._thread.start()

    def tell(self, alert: Alert) -> Delivery:
        """Show an alert to whoever looks now."""
        with self._turn:
            self._alerts.append(alert_payload(self._station, alert))
        self._news.set()
        return Delivery(Outcome.SENT)

    def show(self, topic: str, payload: Payload) -> None:
        """Show a state, in place of the one before."""
        with self._turn:
            self._shown[topic] = self._fresh[topic] = payload
        self._news.set()

    def beat(self) -> None:
        """The rounds go on, though there may be nothing to show. A process that has taken nothing
        for long is ended; another one follows.
        """
        with self._turn:
            self._fresh[BEAT] = {}
        self._news.set()
        process, now = self._process, self._clock.moment()
        if process is not None and now.mono_s - self._fed_s > HANG_S:
            process.kill()

    def close(self) -> None:
        """End the page."""
        self._stop.set()
        self._news.set()
        if not self._thread.is_alive():
            return
        self._thread.join(GRACE_S)
        process = self._process
        if self._thread.is_alive() and process is not None:  # it takes nothing any more
            process.kill()
            self._thread.join(GRACE_S)

    def _keep(self) -> None:
        wait_s = FIRST_WAIT_S
        while not self._stop.is_set():
            began_s = self._clock.moment().mono_s
            why = self._live()
            if self._stop.is_set():
                return
            if self._clock.moment().mono_s - began_s >= LAST_WAIT_S:
                wait_s = FIRST_WAIT_S
            if why != self._problem:
                log.warning("%s; it is started again in %.0f s, and so on", why, wait_s)
            self._problem = why
            self._clock.wait(self._stop, wait_s)
            wait_s = min(2 * wait_s, LAST_WAIT_S)

    def _live(self) -> str:
        """One life of the process; returns why it ended."""
        try:
            process = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                start_new_session=True,  # Ctrl-C is for us, and ends it in good order
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )
        except OSError as error:
            return f"the page cannot be started: {error.strerror}"
        with suppress(OSError):  # the watch goes first
            os.setpriority(os.PRIO_PROCESS, process.pid, NICE)
        self._process = process
        pipe = process.stdin
        if pipe is None:
            raise AssertionError
        with self._turn:
            self._fresh = dict(self._shown)
        try:
            self._feed(process, pipe)
        except OSError:
            pass  # it has ended, and took the pipe along
        finally:
            _end(process, pipe)
            self._process = None
        return f"the page ended with code {process.returncode}"

    def _feed(self, process: subprocess.Popen[bytes], pipe: IO[bytes]) -> None:
        self._fed_s = self._clock.moment().mono_s
        pipe.write(_line({**self._hello(), "told": bool(self._problem)}))
        pipe.flush()
        began_s = self._clock.moment().mono_s
        while not self._stop.is_set() and process.poll() is None:
            self._news.clear()
            for line in self._lines():
                pipe.write(line)
            pipe.flush()
            self._fed_s = self._clock.moment().mono_s
            self._clock.wait(self._stop, PACE_S)
            self._clock.wait(self._news, LOOK_S)
            if self._problem and self._clock.moment().mono_s - began_s >= FIRST_WAIT_S:
                log.info("the page is served again")
                self._problem = ""

    def _lines(self) -> Iterator[bytes]:
        with self._turn:
            states, self._fresh = self._fresh, {}
            alerts = list(self._alerts)
            self._alerts.clear()
        for topic, payload in states.items():
            yield _line({"topic": topic, "payload": payload})
        for alert in alerts:
            yield _line({"topic": "alert", "payload": alert})


def serving(config: Path, settings: Settings) -> Callable[[], Payload]:
    """The hello for the page of a station, and a word in the log of where it is. A page that the
    home network can reach needs a passphrase; a code that stands there lets one choose the first.
    """
    page, code = settings.page, None
    if ip_address(page.bind).is_loopback:
        log.info("the page is at http://localhost:%d", page.port)
    else:
        name = socket.gethostname()
        log.info(
            "the page is at http://%s:%d, and by the address of this computer", name, page.port
        )
        if not (settings.data / KEYS).exists():
            code = _new_code()
            log.warning("the page has no passphrase yet; the code to choose one is %s", code)
    hello = {
        "config": str(config.absolute()),
        "data": str(settings.data),
        "clock": None,
        "bind": page.bind,
        "port": page.port,
        "code": code,
    }
    return lambda: hello


def _new_code() -> str:
    """What lets a person choose the first passphrase: 40 bits, for some tries a minute."""
    letters = [secrets.choice(LETTERS) for _ in range(8)]
    return f"{''.join(letters[:4])}-{''.join(letters[4:])}"


def _line(told: Payload) -> bytes:
    return json.dumps(told, separators=(",", ":")).encode("ascii") + b"\n"


def _end(process: subprocess.Popen[bytes], pipe: IO[bytes]) -> None:
    """Let the process end, or make it."""
    with suppress(OSError):
        pipe.close()
    for force in (process.terminate, process.kill):
        with suppress(subprocess.TimeoutExpired):
            process.wait(GRACE_S - 1)
            return
        force()
    process.wait()
