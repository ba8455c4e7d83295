"""Questions to a time-series server in PromQL, by the address that VictoriaMetrics and Prometheus
share: ``/api/v1/query_range``. Reads only.
"""

import json
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.client import HTTPException, HTTPMessage
from math import isfinite
from typing import IO, Any
from urllib.parse import urlencode, urlsplit

from noonpot.errors import UplinkError

TIMEOUT_S = 30.0
MOST_BYTES = 16 * 2**20
CURES = {
    401: "the token is wrong",
    403: "the token may not read there",
    404: "it knows no PromQL; an InfluxDB server does not",
    422: "it refuses the question",
    429: "it is asked too much; wait a little",
}

Labels = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Series:
    """The answers for one set of labels, by time."""

    labels: Labels
    points: Mapping[datetime, float]


class _NoDetour(urllib.request.HTTPRedirectHandler):
    """The token is for this server alone, so no answer leads on to another one."""

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: HTTPMessage,
        newurl: str,
    ) -> None:
        """Follow nothing."""


@dataclass(frozen=True, slots=True)
class SeriesServer:
    """Where to ask, such as ``http://localhost:8428``; ``token`` lets us in, "" for none.

    Raises UplinkError when the address is none.
    """

    url: str
    token: str = field(default="", repr=False)

    def __post_init__(self) -> None:
        try:
            parts = urlsplit(self.url)
            secret = "@" in parts.netloc or parts.query or parts.fragment
            plain = bool(parts.hostname) and not secret
        except ValueError:
            plain = False
        if not plain or parts.scheme not in ("http", "https"):
            raise UplinkError(  # the address is not shown: it may hold a secret
                "what was given is no address of a time-series server; write it as "
                "http://localhost:8428, without a password or anything behind a '?' in it",
                retry=False,
            )

    def ask(self, question: str, begin: datetime, end: datetime, step_s: int) -> Sequence[Series]:
        """The answers from begin to end, one a step. Raises UplinkError when there is none."""
        query = {
            "query": question,
            "start": begin.timestamp(),
            "end": end.timestamp(),
            "step": f"{step_s}s",
        }
        body = self._fetched(f"{self.url.rstrip('/')}/api/v1/query_range?{urlencode(query)}")
        try:
            told = json.loads(body)
            if told["status"] != "success" or told["data"]["resultType"] != "matrix":
                raise ValueError
            return [_series(one) for one in told["data"]["result"]]
        except (AttributeError, KeyError, TypeError, ValueError, OverflowError, OSError):
            raise UplinkError(
                f"time-series server {self.url} answers in a way that is not understood; is it one "
                "that knows PromQL?",
                retry=False,
            ) from None

    def _fetched(self, address: str) -> bytes:
        request = urllib.request.Request(address)  # noqa: S310  the scheme was looked at
        if self.token:
            request.add_header("Authorization", f"Bearer {self.token}")
        try:
            with urllib.request.build_opener(_NoDetour).open(request, timeout=TIMEOUT_S) as answer:
                body: bytes = answer.read(MOST_BYTES + 1)
        except urllib.error.HTTPError as error:
            cure = CURES.get(error.code, "look at its log")
            error.close()
            raise UplinkError(
                f"time-series server {self.url} answers {error.code}: {cure}",
                retry=error.code >= 429,
            ) from None
        except (OSError, HTTPException) as error:
            why = getattr(error, "reason", None) or error
            raise UplinkError(
                f"time-series server {self.url} cannot be reached ({why}); check the address, and "
                "whether it runs",
                retry=True,
            ) from None
        if len(body) > MOST_BYTES:
            raise UplinkError(
                f"time-series server {self.url} answers more than {MOST_BYTES >> 20} MB; ask for "
                "fewer days, or for one station",
                retry=False,
            )
        return body


def _series(told: Any) -> Series:
    labels = {str(key): str(value) for key, value in told["metric"].items()}
    points = {_at(float(at)): float(value) for at, value in told["values"]}
    return Series(labels, {at: value for at, value in points.items() if isfinite(value)})


def _at(unix_s: float) -> datetime:
    return datetime.fromtimestamp(unix_s, UTC)
