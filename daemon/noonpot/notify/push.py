"""Telling by push services of all kinds, through the library apprise in a process of its own.

The library has no limit for the whole of a delivery, costs 37 MB, and its threads cannot be ended.
A process can: after ``LIMIT_S`` it is killed, and what it holds is gone with it.
"""

import importlib.util
import json
import logging
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from noonpot.core.alert import Alert
from noonpot.errors import NotifierError
from noonpot.notify.pushhelper import FAILED, SENT, UNSURE
from noonpot.ports import Delivery, Health, Outcome

log = logging.getLogger(__name__)

LIMIT_S = 30.0
CODE_LENGTH = 4
HELPER = [sys.executable, "-m", "noonpot.notify.pushhelper"]


@dataclass(frozen=True, slots=True)
class Answer:
    """How one service fared: ``outcome`` in the helper's words, and why in ours."""

    service: str
    outcome: str
    words: str = ""

    @property
    def sentence(self) -> str:
        """For a log or a person; without the address."""
        return f"{self.service}: {self.words}"


@dataclass(frozen=True, slots=True)
class PushOptions:
    """Where to push to: ``addresses`` are those of apprise, each with secrets in it. ``limit_s`` is
    how long one attempt may take [s].
    """

    station: str
    addresses: tuple[str, ...] = field(repr=False)
    limit_s: float = LIMIT_S


class PushNotifier:
    """Brings alerts to one push service or several.

    One service that confirms an alert is enough for it; those that did not are logged. An alert
    that might have arrived is UNSURE. Its text ends with a short code, the same in each copy, so
    that a person knows a double.

    Raises NotifierError when the library is not installed.
    """

    channel = "push"

    def __init__(self, options: PushOptions, health: Health) -> None:
        if importlib.util.find_spec("apprise") is None:
            raise NotifierError(
                "push: the library for push services is not installed; "
                "run: pip install 'noonpot[push]'"
            )
        self._options = options
        self._health = health
        self._helper: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()
        self._closed = False

    def tell(self, alert: Alert) -> Delivery:
        """Push one alert; returns at the latest after ``limit_s``."""
        message = {
            "title": f"Noonpot {self._options.station}",
            "body": f"{alert.text} [{alert.id[:CODE_LENGTH]}]",
            "priority": str(alert.priority),
        }
        answers = self.ask(message)
        failed = [answer for answer in answers if answer.outcome != SENT]
        reason = "; ".join(answer.sentence for answer in failed)
        if len(failed) < len(answers):
            for answer in failed:
                self._health.count("push-services-failed")
                log.warning("push: %s", answer.sentence)
            return Delivery(Outcome.SENT, reason)
        unsure = any(answer.outcome == UNSURE for answer in answers)
        return Delivery(Outcome.UNSURE if unsure else Outcome.RETRY, reason)

    def ask(self, message: Mapping[str, str] | None = None) -> Sequence[Answer]:
        """Let the helper push a message, or without one only look at the addresses. The answer of
        each service; one that is missing when the time is over is unsure.
        """
        order = {"addresses": self._options.addresses, "message": message}
        lines, missing = self._helped(json.dumps(order).encode())
        said = {line["number"]: (line["outcome"], line["words"]) for line in lines}
        return [
            Answer(
                f"service {number + 1} ({address.partition(':')[0]})", *said.get(number, missing)
            )
            for number, address in enumerate(self._options.addresses)
        ]

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """States are not pushed: a person would hear each of them, every minute."""

    def close(self) -> None:
        """End an attempt that is under way, and begin none any more."""
        with self._lock:
            self._closed = True
            if self._helper is not None:
                self._helper.kill()

    def _helped(self, order: bytes) -> tuple[list[dict[str, Any]], tuple[str, str]]:
        """What the helper says of the services, and what to think of those it is silent on."""
        with self._lock:
            if self._closed:
                return [], (FAILED, "closed")
            pipe, nowhere = subprocess.PIPE, subprocess.DEVNULL
            # Whatever the library logs may have addresses in it.
            helper = subprocess.Popen(HELPER, stdin=pipe, stdout=pipe, stderr=nowhere)
            self._helper = helper
        try:
            said, _ = helper.communicate(order, self._options.limit_s)
        except subprocess.TimeoutExpired:
            self._health.count("push-timeouts")
            helper.kill()
            said, _ = helper.communicate()
        missing = (UNSURE, f"no outcome within {self._options.limit_s:.0f} s")
        if helper.returncode >= 0:  # it ended by itself, and was not killed while it sent
            missing = (FAILED, f"the helper process ended with status {helper.returncode}")
        return [json.loads(line) for line in said.splitlines()], missing
