"""In a long cook without a message: all is well, said once, so that silence means something."""

from datetime import datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Alert, Priority
from noonpot.core.facts import Facts
from noonpot.core.moment import Moment
from noonpot.core.wording import Wording
from noonpot.engine.watch import Watch

NAME = "all-well"
EXPIRES_S = 1800.0


class AllWell:
    """Watches over the silence of a station, ``after_s`` [s] of which are enough."""

    def __init__(self, station: str, wording: Wording, after_s: float) -> None:
        self._station = station
        self._wording = wording
        self._after_s = after_s
        self._since_s: dict[tuple[str, datetime], float] = {}

    def heard(self) -> None:
        """A person was told something, and so knows that somebody watches."""
        self._since_s.clear()

    def due(self, watch: Watch, now: Moment) -> Alert | None:
        """What to tell of a cooker now, if anything. Once in a cook, and once a day in a long one:
        the ``id`` stays the same until then, and the outbox takes it once.
        """
        facts = watch.facts(now)
        if facts.cook is None or self._after_s <= 0:
            return None
        key = facts.cooker.name, facts.cook.started_at
        since_s = self._since_s.setdefault(key, now.mono_s)
        if now.mono_s - since_s < self._after_s or not _is_well(watch, facts):
            return None
        self.heard()
        day = now.at.astimezone(self._wording.timezone).date()
        name = f"{self._station}/{key[0]}/{NAME}/{key[1].isoformat()}/{day}"
        return Alert(
            id=str(uuid5(NAMESPACE_URL, name)),
            at=now.at,
            expires_at=now.at + timedelta(seconds=EXPIRES_S),
            cooker=facts.cooker.name,
            alarm=NAME,
            state=AlarmState.NORMAL,
            priority=Priority.LOW,
            text=all_well(self._wording, facts, now),
        )


def all_well(wording: Wording, facts: Facts, now: Moment) -> str:
    """The sentence, with what is known."""
    shown = [("pot", facts.pot_c), ("core", facts.core_c)]
    heat = "".join(f", {name} {wording.temperature(c)}" for name, c in shown if c is not None)
    done = facts.forecast.done_p50 if facts.forecast else None
    then = f", done about {wording.clock(done)}" if done is not None and done > now.at else ""
    return (
        f"{facts.cooker.name}: all is well at {wording.clock(now.at)}{heat}{then}. Nothing to do."
    )


def _is_well(watch: Watch, facts: Facts) -> bool:
    """Whether every probe is heard and no alarm holds."""
    quiet = not any(record.active for record in watch.records.values())
    return quiet and not facts.faults and facts.pot_c is not None
