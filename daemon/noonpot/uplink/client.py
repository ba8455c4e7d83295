"""influxdb-client, reduced to what is needed: lines out, and why when they do not arrive."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from noonpot.errors import UplinkError

TIMEOUT_S = 10.0
# 413 is too much at once: half of it may do.
REFUSES_POINTS = (400, 413, 422)
CURES = {
    401: "the token is wrong: see influx.token_file",
    403: "the token may not write there: see influx.token_file",
    404: "no such organisation or bucket: see influx.org and influx.bucket",
}


class Point(Protocol):
    """One row on its way; ``at_ms`` is Unix time [ms]."""

    @property
    def measurement(self) -> str:
        """What was measured."""

    @property
    def tags(self) -> Mapping[str, str]:
        """By whom, and where."""

    @property
    def fields(self) -> Mapping[str, float | str]:
        """The values."""

    @property
    def at_ms(self) -> int:
        """When."""


class Access(Protocol):
    """How to reach the server."""

    @property
    def url(self) -> str:
        """Its address."""

    @property
    def org(self) -> str:
        """The organisation there."""

    @property
    def bucket(self) -> str:
        """The bucket there."""

    @property
    def token(self) -> str:
        """The secret that lets us in."""


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a write did not arrive.

    ``points`` is True when a point in it is at fault, not the server or the way there;
    ``retry_after`` is the server's header of this name.
    """

    words: str
    points: bool = False
    retry_after: str | None = None


class Client:
    """Synchronous writes to one bucket, without retries and without a queue."""

    def __init__(self, access: Access) -> None:
        """Raises UplinkError when the library is not installed."""
        try:
            from influxdb_client.client.influxdb_client import InfluxDBClient
            from influxdb_client.client.write_api import SYNCHRONOUS
        except ImportError:
            raise UplinkError(
                "the client for the time-series server is not installed; "
                "run: pip install 'noonpot[influx]'",
                retry=False,
            ) from None
        self._bucket = access.bucket
        self._token = access.token
        # The library is typed too loosely to hold it to its types.
        self._client: Any = InfluxDBClient(
            access.url, access.token, org=access.org, timeout=int(TIMEOUT_S * 1000)
        )
        self._api: Any = self._client.write_api(write_options=SYNCHRONOUS)

    def write(self, lines: Sequence[str]) -> Failure | None:
        """Write lines with times in milliseconds; None when the server has them."""
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        try:
            self._api.write(self._bucket, record=list(lines), write_precision="ms")
        except ApiException as error:
            return _failure(error, self._token)
        except HTTPError as error:
            return Failure(f"cannot be reached ({type(error).__name__}); does it run?")
        return None

    def answers(self) -> bool:
        """Whether the server is there. Below a path, as a cluster has one, nothing may answer to a
        ping; a write of nothing does.
        """
        return bool(self._client.ping()) or self.write([""]) is None

    def close(self) -> None:
        """Give back what is held; it does not block, since nothing is kept in memory."""
        self._api.close()
        self._client.close()


def line(point: Point, station: str) -> str:
    """A point in line protocol."""
    from influxdb_client.client.write import point as library

    built: Any = library.Point
    built = built(point.measurement).tag("station", station)
    for key, tag in point.tags.items():
        built.tag(key, tag)
    for key, value in point.fields.items():
        built.field(key, value)
    return str(built.time(point.at_ms, "ms").to_line_protocol())


def _failure(error: Any, token: str) -> Failure:
    said = error.message
    said = said.decode(errors="replace") if isinstance(said, bytes) else str(said)
    if token:
        said = said.replace(token, "…")  # for a server may repeat what it was asked with
    if error.status in REFUSES_POINTS:
        return Failure(said.strip(), points=True)
    cure = CURES.get(error.status, "it is tried again")
    words = f"answers {error.status} ({said.strip()}); {cure}"
    return Failure(words, retry_after=error.retry_after)
