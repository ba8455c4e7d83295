"""The way to a time-series server: rows of the store, written to the InfluxDB 2 interface.

The store is the journal of record; this only copies. Points go out from the store's cursor, at most
500 in one synchronous write, and the cursor moves when the server has taken them. A crash between
the two sends the same points again, which changes nothing there: same measurement, tags and time.
The store hands out every point twice, for a server that is killed forgets what it took last.

Written for InfluxDB 2 and proven on VictoriaMetrics 1.79, which speaks the same write interface; an
InfluxDB 2 server itself was not available for a trial. VictoriaMetrics must run with
``-dedup.minScrapeInterval=1ms``, or it keeps what is sent twice as two, and with a
``-retentionPeriod`` that holds the years wanted. It keeps the numbers and drops the words.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from typing import Protocol

from noonpot.core.moment import Moment
from noonpot.errors import UplinkError
from noonpot.ports import Clock
from noonpot.uplink.client import Access, Client, Failure, Point, line

SINK = "influx"
ROWS = 500
PAUSE_S = 10.0
FIRST_WAIT_S = 1.0
LONGEST_WAIT_S = 300.0
LONGEST_ASKED_S = 3600.0
# More refused points than this in one write: the server is set up wrongly, not the points.
MOST_REFUSED = 16
# So many refused lines are known again when they come for the second time.
MOST_KNOWN = 1000

Refused = list[tuple[str, str]]


class Source(Protocol):
    """The store as the uplink sees it."""

    def outgoing(self, sink: str, limit: int) -> Sequence[Point]:
        """The next points for a server."""

    def delivered(self, sink: str, refused: Sequence[tuple[str, str]] = ()) -> None:
        """The server has the points handed out last; those ``refused`` it never will take."""

    def waiting(self, sink: str) -> int:
        """How many points the server lacks."""


@dataclass(frozen=True, slots=True)
class Progress:
    """What a push came to.

    ``sent`` points arrived, counted once all that went together did; ``behind`` wait that never
    went. The next push is worth while in ``next_try_s`` seconds. ``problem`` is a sentence for a
    person, empty when all is well.
    """

    sent: int
    behind: int
    next_try_s: float
    problem: str = ""


class Uplink:
    """Serves one server from the store, from one thread. It never sleeps: its caller waits."""

    def __init__(self, source: Source, access: Access, station: str, clock: Clock) -> None:
        """Raises UplinkError when the client library is not installed."""
        self._source = source
        self._server = f"time-series server {access.url}"
        self._station = station
        self._clock = clock
        self._client = Client(access)
        self._due_s = float("-inf")
        self._wait_s = 0.0
        self._problem = ""
        self._known: deque[str] = deque(maxlen=MOST_KNOWN)
        # What became of some of the points taken last, though a write of others failed.
        self._arrived: set[str] = set()
        self._refused: Refused = []
        self._part = ROWS

    def push(self) -> Progress:
        """Send the next points, if it is time to.

        Returns within the time limit of one write; finding a point that is refused takes several
        writes. Raises StoreError when the store fails.
        """
        now = self._clock.moment()
        if now.mono_s < self._due_s:
            return self._progress(0, self._due_s - now.mono_s)
        taken = [line(point, self._station) for point in self._source.outgoing(SINK, ROWS)]
        settled = {*self._arrived, *self._known, *(text for text, _ in self._refused)}
        lines = [text for text in taken if text not in settled]
        failure = self._deliver(lines)
        if failure is not None:
            return self._failed(failure, now)
        refused, sent = self._refused, len(self._arrived)
        self._source.delivered(SINK, refused)
        self._refused, self._arrived = [], set()
        self._known += [text for text, _ in refused]
        self._wait_s, self._problem = 0.0, ""
        if refused:
            self._problem = (
                f"{self._server} refused {len(refused)} of {len(taken)} points, now in quarantine: "
                f"{refused[0][1]}"
            )
        return self._progress(sent, 0.0 if len(taken) == ROWS else PAUSE_S)

    def reach(self) -> None:
        """Try whether the server answers. Raises UplinkError when it does not."""
        if not self._client.answers():
            raise UplinkError(
                f"{self._server} does not answer; check influx.url, and whether it runs",
                retry=True,
            )

    def close(self) -> None:
        """Give back what is held."""
        self._client.close()

    def _deliver(self, lines: Sequence[str]) -> Failure | None:
        """Write lines; those that the server will never take are found by halving. Returns why not
        all of them arrived or were refused; what became of the others is kept, so that with each
        write that is answered something is won, however many are not.
        """
        while lines:
            part, rest = lines[: self._part], lines[self._part :]
            failure = self._client.write(part)
            if failure is None:
                self._arrived.update(part)
                self._part = min(2 * self._part, ROWS)
                lines = rest
            elif not failure.points:
                return failure
            elif len(part) > 1:
                self._part = len(part) // 2
            else:
                self._refused.append((part[0], failure.words))
                lines = rest
                if len(self._refused) > MOST_REFUSED:
                    self._refused = []
                    return Failure(
                        f"refuses point after point ({failure.words}); "
                        "is influx.bucket the right one?"
                    )
        return None

    def _failed(self, failure: Failure, now: Moment) -> Progress:
        """Wait longer from failure to failure, or as long as the server asks for."""
        self._wait_s = min(max(2 * self._wait_s, FIRST_WAIT_S), LONGEST_WAIT_S)
        wait_s = _asked_wait_s(failure.retry_after, now)
        wait_s = self._wait_s if wait_s is None else wait_s
        self._due_s = self._clock.moment().mono_s + wait_s
        self._problem = f"{self._server} {failure.words}"
        return self._progress(0, wait_s)

    def _progress(self, sent: int, next_try_s: float) -> Progress:
        return Progress(sent, self._source.waiting(SINK), next_try_s, self._problem)


def _asked_wait_s(header: str | None, now: Moment) -> float | None:
    """How long the server asks us to wait: in seconds, or until a date (RFC 9110, 10.2.3)."""
    if header is None:
        return None
    try:
        if header.strip().isdigit():
            wait_s = float(header)
        else:
            wait_s = (parsedate_to_datetime(header) - now.at).total_seconds()
    except (TypeError, ValueError):
        return None
    return min(max(wait_s, FIRST_WAIT_S), LONGEST_ASKED_S)
