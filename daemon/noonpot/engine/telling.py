"""From an alarm that was raised to the alert that tells a person of it."""

from datetime import timedelta, tzinfo
from uuid import NAMESPACE_URL, uuid5

from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert
from noonpot.core.moment import Moment
from noonpot.core.policy import Manners


def alert_of(station: str, record: AlarmRecord, now: Moment, expires_s: float) -> Alert:
    """What to tell of an alarm that was raised now.

    The same raising always gets the same id, in the daemon as in a replay.
    """
    name = f"{station}/{record.cooker}/{record.alarm}/{now.at.isoformat()}"
    return Alert(
        id=str(uuid5(NAMESPACE_URL, name)),
        at=now.at,
        expires_at=now.at + timedelta(seconds=expires_s),
        cooker=record.cooker,
        alarm=record.alarm,
        state=record.state,
        priority=record.priority,
        text=record.words,
    )


def is_quiet(manners: Manners, now: Moment, timezone: tzinfo) -> bool:
    """Whether the quiet hours run. Nobody knows while the clock is not set: then nothing waits."""
    return now.trusted and manners.quiet(now.at.astimezone(timezone).time())
