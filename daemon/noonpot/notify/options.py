"""How the broker is reached, checked when it is made."""

import ssl
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from noonpot.core.payloads import topic
from noonpot.errors import NotifierError


@dataclass(frozen=True, slots=True)
class MqttOptions:
    """How to reach the broker. ``tls_ca`` is the file of the authority that signed the broker's
    certificate; with it the connection is encrypted. ``ack_limit_s`` is how long the broker may
    take to acknowledge an alert [s]. ``alerts_of`` makes a visitor: it tells alerts in the name of
    that station, and nothing in its own.

    Raises NotifierError when the parts cannot make a connection.
    """

    host: str
    port: int
    station: str
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls_ca: Path | None = None
    protocol: Literal["5", "3.1.1"] = "5"
    keepalive_s: int = 15
    ack_limit_s: float = 5.0
    alerts_of: str | None = None

    def __post_init__(self) -> None:
        if not self.host or not 0 < self.port < 65536:
            raise NotifierError(f"mqtt: {self.host!r} port {self.port} is no broker; check both")
        try:
            topic(self.station)
        except ValueError as exc:
            raise NotifierError(f"mqtt: station {exc}") from exc

    @property
    def alert_station(self) -> str:
        """The station whose alerts are told."""
        return self.alerts_of or self.station

    @property
    def visiting(self) -> bool:
        """Whether this is only a visitor: it has no state to show, and nobody misses it."""
        return self.alerts_of is not None

    @property
    def client_id(self) -> str:
        """The name by which the broker knows this station; of two with one name it cuts off one."""
        return f"noonpot-{self.station}"

    def tls(self) -> ssl.SSLContext | None:
        """What an encrypted connection needs. Raises NotifierError when the file does not serve."""
        if self.tls_ca is None:
            return None
        try:
            return ssl.create_default_context(cafile=self.tls_ca)
        except OSError as exc:
            raise NotifierError(
                f"mqtt: tls_ca = {str(self.tls_ca)!r} holds no certificate that can be read: {exc}"
            ) from exc
