"""What a broker has acknowledged and may still lose."""

import threading
from dataclasses import dataclass, replace

# A broker that crashes loses what it had neither passed on nor saved, the last second or two if it
# is set up as docs/messages.md asks. We learn of the crash up to two keep-alive times later.
DOUBT_S = 30.0


@dataclass(frozen=True, slots=True)
class Sent:
    """A message the broker has acknowledged; after ``until_s`` it is not worth sending any more.
    Both times on the monotonic clock [s].
    """

    to: str
    body: bytes
    acknowledged_s: float
    until_s: float


class Doubt:
    """Remembers for half a minute what was acknowledged, and says what to send again after a break.

    A receiver knows the double by its id. Safe for threads.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sent: list[Sent] = []

    def add(self, sent: Sent) -> None:
        """A message was acknowledged."""
        with self._lock:
            self._keep_since(sent.acknowledged_s - DOUBT_S)
            self._sent.append(sent)

    def broken(self, now_s: float) -> None:
        """The connection broke: what is older is safe, what is younger may be lost."""
        with self._lock:
            self._keep_since(now_s - DOUBT_S)

    def again(self, now_s: float) -> list[Sent]:
        """There is a connection once more: what to send again, in the old order. It is in doubt
        anew from now on.
        """
        with self._lock:
            worth = [sent for sent in self._sent if sent.until_s > now_s]
            self._sent = [replace(sent, acknowledged_s=now_s) for sent in worth]
        return worth

    def _keep_since(self, since_s: float) -> None:
        self._sent = [sent for sent in self._sent if sent.acknowledged_s >= since_s]
