"""Many stations of one broker: who listens to them, until all is heard and for as long as one
likes to look.
"""

import threading
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Literal, Self

from noonpot.core.stationline import Line
from noonpot.core.stationwords import state_key
from noonpot.errors import ConfigError, NotifierError
from noonpot.fleet.board import Board
from noonpot.fleet.listener import BrokerAccess, Listener
from noonpot.notify import brokerwords
from noonpot.notify.options import MqttOptions
from noonpot.ports import Clock, Signal
from noonpot.settings.files import existing, secret
from noonpot.settings.values import MqttAccess

PORT, TLS_PORT = 1883, 8883
OPEN_S = 10.0
QUIET_S = 0.8  # so long after the last message of its store, the broker has told all of it
LONGEST_S = 60.0
LOOK_S = 1.0
MOST_AT_ONCE = 100  # lines of one look: a broker that is flooded floods no terminal
SHARE = 10  # looking for news may take a tenth of the time
STEP_S = 0.05


class FleetWatch:
    """Listens to all stations of a broker."""

    def __init__(self, access: BrokerAccess, clock: Clock) -> None:
        self.board = Board(clock)
        self._clock = clock
        self._listener = Listener(access, brokerwords, self.board.hear)

    @property
    def problem(self) -> str:
        """Why nothing can be heard now, "" while it can."""
        return self._listener.problem

    def lines(self) -> list[Line]:
        """All lines, the worst first."""
        return self.board.lines(connected=not self.problem)

    def settle(self, quiet_s: float = QUIET_S) -> None:
        """Wait until the broker has told what it has in store: then it is quiet for a while.

        Raises NotifierError when it cannot be heard.
        """
        begun_s = self._clock.moment().mono_s
        heard, heard_s, never = 0, begun_s, threading.Event()
        while True:
            now_s = self._clock.moment().mono_s
            opened = self._listener.opened.is_set()
            if not opened and (self._listener.refused.is_set() or now_s - begun_s > OPEN_S):
                raise NotifierError(f"stations: {self.problem}")
            count = self.board.counts.get("heard", 0)
            if count != heard or not opened:
                heard, heard_s = count, now_s
            if now_s - heard_s > quiet_s or now_s - begun_s > LONGEST_S:
                return
            self._clock.wait(never, STEP_S)

    def changes(
        self, stop: Signal, *, look_s: float = LOOK_S, most: int = MOST_AT_ONCE
    ) -> Iterator[Sequence[Line]]:
        """The lines in which more has changed than a number, again and again until told to stop;
        at first all. Of later news, what is more than fits into one look comes in the next, the
        worst first.
        """
        told: dict[str, tuple[object, ...]] = {}
        while not stop.is_set():
            begun_s = self._clock.moment().mono_s
            found = self.lines()
            keys = {line.key: state_key(line) for line in found}
            news = [line for line in found if told.get(line.key) != keys[line.key]]
            news = news[:most] if told else news
            yield news
            told = {key: state for key, state in told.items() if key in keys}
            told |= {line.key: keys[line.key] for line in news}
            took_s = self._clock.moment().mono_s - begun_s
            self._clock.wait(stop, max(look_s, SHARE * took_s))

    def close(self) -> None:
        """Hang up."""
        self._listener.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def configured(file: str, mqtt: MqttAccess | None) -> BrokerAccess:
    """The broker of a configuration. Raises ConfigError when it names none."""
    if mqtt is None:
        raise ConfigError(file, ["it names no broker; add [mqtt], or give --broker"])
    return _access(
        mqtt.host,
        mqtt.port,
        (mqtt.username, mqtt.password),
        mqtt.tls_ca,
        "3.1.1" if mqtt.protocol == "3.1.1" else "5",
    )


def named(
    broker: str, user: str | None, password_file: Path | None, ca: Path | None
) -> BrokerAccess:
    """The broker that options name as ``host`` or ``host:port``.

    Raises ConfigError for options that cannot be used, all at once.
    """
    mistakes: list[str] = []
    host, colon, digits = broker.rpartition(":") if ":" in broker else (broker, "", "")
    port = PORT if ca is None else TLS_PORT
    if colon:
        with suppress(ValueError):
            port = int(digits)
        if not digits.isdecimal() or not 0 < port < 65_536 or not host:
            mistakes.append(
                f"--broker is {broker!r}, but must be host:port, such as localhost:1883"
            )
    password = None
    if password_file is not None:
        password = secret("--password-file", str(password_file), Path.cwd(), mistakes)
    if ca is not None:
        existing("--ca", str(ca), Path.cwd(), mistakes)
    if mistakes:
        raise ConfigError("noonpot stations", mistakes)
    return _access(host.strip("[]"), port, (user, password), ca, "5")


def _access(
    host: str,
    port: int,
    login: tuple[str | None, str | None],
    ca: Path | None,
    protocol: Literal["5", "3.1.1"],
) -> BrokerAccess:
    """Raises NotifierError when the parts cannot make a connection."""
    user, password = login
    options = MqttOptions(host, port, "stations", tls_ca=ca)
    return BrokerAccess(host, port, protocol, user, password, options.tls())
