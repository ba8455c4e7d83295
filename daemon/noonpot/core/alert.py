"""What is told to a person: one alert, with all that every channel needs, or an answer."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum


class Priority(StrEnum):
    """How soon a person must act, in the words of IEC 62682."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"
    URGENT = "urgent"

    @property
    def rank(self) -> int:
        """The higher, the sooner."""
        return list(Priority).index(self)


@dataclass(frozen=True, slots=True)
class Alert:
    """One thing to tell a person, once. ``id`` is the same on every channel and every retry, so
    that the receiver can drop doubles; after ``expires_at`` it is not worth telling any more.
    ``alarm`` and ``state`` are the plain names of the table of alarms and of the alarm states.
    """

    id: str
    at: datetime
    expires_at: datetime
    cooker: str
    alarm: str
    state: str
    priority: Priority
    text: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of one command: ``id`` is the command's, ``text`` says it in words."""

    id: str
    cooker: str
    verb: str
    done: bool
    text: str


def together(alerts: Sequence[Alert]) -> Alert:
    """Several alerts as one, the most urgent first. The ``id`` is that of the oldest one, so that a
    person knows the message even if it has grown when it comes again.

    Raises ValueError when there is none.
    """
    if not alerts:
        raise ValueError("there is no alert to tell")
    if len(alerts) == 1:
        return alerts[0]
    ranked = sorted(alerts, key=lambda alert: alert.priority.rank, reverse=True)
    listed = "\n".join(f"- {alert.text}" for alert in ranked)
    return replace(ranked[0], id=alerts[0].id, text=f"{len(alerts)} things:\n{listed}")
