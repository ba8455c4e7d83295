"""What is written down of a day: cooks, faults, false alarms, and what the phone rang for."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from bench.week_faults import Injected
from noonpot.core.alert import Alert, Priority
from noonpot.store.sqlite import Store


@dataclass(slots=True)
class Cooked:
    """One cook: what was told of it. ``calls`` counts how often the phone rang with something of it
    that was not urgent.
    """

    cooker: str
    dish: str
    begun_s: float
    ended_s: float | None = None
    faulty: bool = False
    done: bool = False
    told: list[Alert] = field(default_factory=list)
    calls: int = 0
    loaded_s: float | None = None
    lukewarm_s: float = 0.0

    @property
    def calm(self) -> int:
        """How many of the messages were not urgent."""
        return sum(alert.priority is not Priority.URGENT for alert in self.told)


@dataclass(slots=True)
class DayReport:
    """What a day brought. ``calls`` counts what the phone rang for, ``peeks`` lids that somebody
    lifted and told nobody of, ``noticed`` those of them that were told; ``false`` lists alarms
    with nothing behind them.
    """

    name: str
    faults: list[Injected] = field(default_factory=list)
    cooks: list[Cooked] = field(default_factory=list)
    false: list[tuple[str, str]] = field(default_factory=list)
    calls: int = 0
    peeks: int = 0
    noticed: int = 0
    rounds: int = 0


class Ledger:
    """The outbox of the store, with a note of what was raised and what the phone has."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.raised: dict[str, Alert] = {}
        self.heard: list[Alert] = []

    def unsent(self, channel: str, limit: int) -> Sequence[Alert]:
        """What waits."""
        return self.store.unsent(channel, limit)

    def settle(self, channel: str, alert_id: str, outcome: str) -> None:
        """The phone has it, or it was too late."""
        self.store.settle(channel, alert_id, outcome)
        if outcome == "sent":
            self.heard.append(self.raised[alert_id])
