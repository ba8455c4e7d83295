"""What is told to a person: one alert, with all that every channel needs."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Priority(StrEnum):
    """How soon a person must act, in the words of IEC 62682."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"
    URGENT = "urgent"


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
