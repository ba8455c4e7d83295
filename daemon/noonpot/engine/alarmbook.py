"""How the alarms of one cooker stand, or those of the station itself, and what was told of them."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from noonpot.core import alarms
from noonpot.core.alarms import AlarmRecord, Condition
from noonpot.core.alert import Alert
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.names import meant
from noonpot.core.policy import AlarmPolicy
from noonpot.engine.household import Household
from noonpot.engine.telling import alert_of, is_quiet
from noonpot.errors import CookError

SHELVE_S = 1800.0

PolicyOf = Callable[[str], AlarmPolicy]


@dataclass(frozen=True, slots=True)
class Changes:
    """What one look at the alarms changed.

    ``changed`` are alarms of which anything is different, a running delay say; ``moved`` those of
    them that stand elsewhere in their life cycle, which concerns people.
    """

    changed: tuple[AlarmRecord, ...]
    moved: tuple[AlarmRecord, ...]
    alerts: tuple[Alert, ...]


class AlarmBook:
    """One record for each alarm; a person's answers and the looks at the conditions change it."""

    def __init__(self, owner: str, names: Iterable[str], household: Household, now: Moment) -> None:
        self.records = {name: alarms.fresh(owner, name, now) for name in names}
        self._told = dict(self.records)
        self._house = household

    def restore(self, records: Iterable[AlarmRecord]) -> None:
        """Take up the alarms where they were left; those that there are no more are let go."""
        self.records |= {r.alarm: r for r in records if r.alarm in self.records}
        self._told = dict(self.records)

    def step(
        self, conditions: Mapping[str, Condition], policy_of: PolicyOf, now: Moment
    ) -> Changes:
        """Look at the condition of every alarm, and say what changed since the last look."""
        house, before = self._house, self._told
        quiet = is_quiet(house.manners, now, house.wording.timezone)
        for name, condition in conditions.items():
            self.records[name] = alarms.step(
                self.records[name], condition, now, policy_of(name), house.manners, quiet=quiet
            )
        self._told = dict(self.records)
        changed = tuple(r for name, r in self.records.items() if r != before[name])
        told = [r for r in changed if alarms.is_told(before[r.alarm], r)]
        return Changes(
            changed=changed,
            moved=tuple(r for r in changed if alarms.is_moved(before[r.alarm], r)),
            alerts=tuple(self._alert(r, now) for r in told),
        )

    def answer(self, event: Event, policy_of: PolicyOf, now: Moment) -> None:
        """Let a person acknowledge or shelve an alarm.

        Raises CookError when there is none of that name, or when it must not be shelved.
        """
        name = event.detail.get("alarm", "")
        if name not in self.records:
            raise CookError(f"there is no alarm {name!r}; {meant(name, self.records)}")
        if event.kind is EventKind.ACKNOWLEDGE:
            self.acknowledge([name], now)
            return
        minutes = event.number("minutes")
        seconds = SHELVE_S if minutes is None else 60 * minutes
        record, policy = self.records[name], policy_of(name)
        self.records[name] = alarms.shelve(record, now, seconds, policy, self._house.manners)

    def acknowledge(self, names: Iterable[str], now: Moment) -> None:
        """Take alarms as seen, by a person's word or deed."""
        for name in names:
            self.records[name] = alarms.acknowledge(self.records[name], now)

    def reset(self, names: Iterable[str], now: Moment) -> None:
        """Begin anew with alarms whose matter is over."""
        for name in names:
            self.records[name] = alarms.reset(self.records[name], now)

    def _alert(self, record: AlarmRecord, now: Moment) -> Alert:
        expires_s = self._house.policies[record.alarm].expires_s
        return alert_of(self._house.station.name, record, now, expires_s)
