"""One message instead of five: what is told together, and when."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from noonpot.core.alert import Alert, Priority
from noonpot.core.moment import Moment

LAST_CALL_S = 60.0
"""So long before an alert expires it waits no longer for others (our choice)."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How often a person is called by one channel.

    ``gather_s``: what is due within so many seconds is told together. 10 s: usual for alarm
    gathering in computing centres (common practice, no source).

    ``spacing_s``: what may wait, of low or medium priority, waits so long after the last message
    [s]. Our choice, 10 min: about as often as one looks up from other work.

    ``least``: what is less important is not told by this channel.

    ``most``: so many alerts fit into one message; a phone shows no more at a glance (our choice).
    """

    gather_s: float = 10.0
    spacing_s: float = 600.0
    least: Priority = Priority.LOW
    most: int = 6


class Gathering:
    """Decides what the next message of a channel consists of."""

    def __init__(self, pace: Pace) -> None:
        self._pace = pace
        self._seen_s: dict[str, float] = {}
        self._told_s = -math.inf

    def wanted(self, alert: Alert) -> bool:
        """Whether this channel tells such an alert at all."""
        return alert.priority.rank >= self._pace.least.rank

    def parcel(self, alerts: Sequence[Alert], now: Moment) -> tuple[Sequence[Alert], float]:
        """Those of the waiting alerts, oldest first, to tell now; if none, in how many seconds.

        An urgent alert goes at once, and takes the others along.
        """
        self._seen_s = {a.id: self._seen_s.get(a.id, now.mono_s) for a in alerts}
        wait_s = min((self._due_s(a, now) for a in alerts), default=math.inf) - now.mono_s
        if wait_s > 0:
            return (), wait_s
        first = sorted(alerts, key=lambda a: a.priority.rank, reverse=True)[: self._pace.most]
        return [alert for alert in alerts if alert in first], 0.0

    def told(self, now: Moment) -> None:
        """A message has gone out."""
        self._told_s = now.mono_s

    def _due_s(self, alert: Alert, now: Moment) -> float:
        """When an alert waits no longer, on the monotonic clock [s]."""
        if alert.priority is Priority.URGENT:
            return now.mono_s
        gathered_s = self._seen_s[alert.id] + self._pace.gather_s
        if alert.priority is Priority.HIGH:
            return gathered_s
        spaced_s = max(gathered_s, self._told_s + self._pace.spacing_s)
        if not now.trusted:
            return spaced_s
        left_s = (alert.expires_at - now.at).total_seconds()
        return min(spaced_s, max(gathered_s, now.mono_s + left_s - LAST_CALL_S))
