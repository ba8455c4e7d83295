"""One cooker watched: from readings and events to facts, forecast, alarms and what to tell."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from noonpot.core import alarms
from noonpot.core.absence import Absence, LeftAim
from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert
from noonpot.core.cook import Cook, Event, EventKind, begin, retold
from noonpot.core.facts import Case, Facts
from noonpot.core.foods import Food, asked_target, target_at
from noonpot.core.forecast import Forecast, Forecaster
from noonpot.core.learning import Knowledge
from noonpot.core.moment import Moment, iso
from noonpot.core.names import meant
from noonpot.core.policy import AlarmPolicy, RuleLimits
from noonpot.core.readings import Fault, Reading, Role, Sample
from noonpot.core.rescue import OtherHeat
from noonpot.core.rules import RULES, evaluate
from noonpot.core.station import CookerSpec, Station
from noonpot.core.sun import DayTable, angle_between, sun_is_up
from noonpot.core.water import boiling_point_c
from noonpot.core.wording import Wording
from noonpot.engine.daylight import Daylight
from noonpot.engine.memory import Memory
from noonpot.engine.senses import Senses
from noonpot.errors import CookError

OBSERVED = {
    Role.POT: "pot_c",
    Role.CORE: "core_c",
    Role.AMBIENT: "ambient_c",
    Role.IRRADIANCE: "irradiance_wm2",
}
# Doing what an alarm asks for is the plainest way to acknowledge it.
ANSWERED_BY = {EventKind.LOAD: "preheated", EventKind.UNLOAD: "done", EventKind.AIM: "turn"}
# Who aims a cooker or fills it has begun to cook, said or not.
BEGINNINGS = (EventKind.START, EventKind.AIM, EventKind.LOAD)
SHELVE_S = 1800.0
NOTHING = Memory()


@dataclass(frozen=True, slots=True)
class Household:
    """What all watches of a station share: foods, alarm numbers, words, what past cooks taught
    about each cooker, and the other heat that stands by.
    """

    station: Station
    foods: Mapping[str, Food]
    policies: Mapping[str, AlarmPolicy]
    limits: RuleLimits
    wording: Wording
    knowledge: Mapping[str, Knowledge] = field(default_factory=dict)
    heat: OtherHeat = field(default_factory=OtherHeat)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one look at a cooker changed.

    ``changed`` are alarms of which anything is different, a running delay say; ``moved`` those of
    them that stand elsewhere in their life cycle, which concerns people.
    """

    facts: Facts
    cooks: tuple[Cook, ...]
    changed: tuple[AlarmRecord, ...]
    moved: tuple[AlarmRecord, ...]
    alerts: tuple[Alert, ...]


class Watch:
    """Follows one cooker. It holds no clock and does no I/O: the daemon feeds it live, a replay
    from a recording, and both get the same answers.
    """

    def __init__(
        self, cooker: CookerSpec, household: Household, daylight: Daylight, now: Moment
    ) -> None:
        self.cooker = cooker
        self.cook: Cook | None = None
        self.records = {name: alarms.fresh(cooker.name, name, now) for name in RULES}
        self._told = dict(self.records)
        self._cooks: dict[datetime, Cook] = {}
        self._house = household
        self._daylight = daylight
        probes = household.station.probes_of(cooker.name)
        self._senses = Senses(probes, household.limits.fresh_s, now)
        self._faults: tuple[Fault, ...] = ()
        self._core_rose = False
        self._tables: list[DayTable] = []
        self._forecaster = self._anew()
        self._foreseen: Forecast | None = None
        self._foreseen_s = float("-inf")

    def restore(
        self, cook: Cook | None, records: Iterable[AlarmRecord], past: Memory = NOTHING
    ) -> None:
        """Take up a cook and its alarms where they were left, with what is remembered of it."""
        self.cook = cook
        if cook is not None:
            self._remember(cook, past)
        self.records |= {r.alarm: r for r in records if r.alarm in self.records}
        self._told = dict(self.records)

    def take(self, event: Event, now: Moment) -> None:
        """Let an event happen. Raises CookError when it does not fit the cook; nothing is changed
        then.
        """
        if event.kind in (EventKind.ACKNOWLEDGE, EventKind.SHELVE):
            self._answer(event, now)
        elif event.kind is EventKind.START and self.cook is not None:
            raise CookError(
                f"start of {event.cooker}: a cook is running since {iso(self.cook.started_at)}; "
                "stop it first"
            )
        elif self.cook is None and event.kind in BEGINNINGS:
            self._happen(begin(event), event, now)
        elif self.cook is not None:
            self._happen(self.cook, event, now)

    @property
    def probes(self) -> Iterable[str]:
        """The names of the probes that tell about this cooker."""
        return self._senses.probes

    def step(
        self, now: Moment, samples: Iterable[Sample] = (), faults: Iterable[Fault] = ()
    ) -> Outcome:
        """Take in readings, look at every alarm, and say what changed since the last step.

        ``faults`` are those that stand now, of any probe of the station.
        """
        for sample in samples:
            if isinstance(sample, Reading) and sample.probe in self._senses.probes:
                self._hear(sample)
        self._faults = tuple(fault for fault in faults if fault.probe in self._senses.probes)
        facts = self.facts(now)
        house, before = self._house, self._told
        case = Case(facts, dict(self.records), house.policies, house.limits, house.wording)
        for name, condition in evaluate(case).items():
            self.records[name] = alarms.step(self.records[name], condition, now, case.policy(name))
        self._told = dict(self.records)
        changed = tuple(r for name, r in self.records.items() if r != before[name])
        moved = tuple(r for r in changed if alarms.is_moved(before[r.alarm], r))
        raised = [r for r in moved if alarms.is_raised(before[r.alarm], r)]
        cooks, self._cooks = tuple(self._cooks.values()), {}
        alerts = tuple(self._alert(r, now) for r in raised)
        return Outcome(facts, cooks, changed, moved, alerts)

    def foresee(self, now: Moment) -> Forecast | None:
        """When the load in the pot will be done, None while nothing is in it. This takes some tens
        of milliseconds; the rules go by the last forecast until it is too old.
        """
        self._foreseen, self._foreseen_s = None, now.mono_s
        facts = self.facts(now)
        if facts.cook is None or facts.cook.load is None or facts.target_c is None:
            return None
        if not now.trusted or not self._has_table(now):
            return None
        self._foreseen = self._forecaster.forecast(now.at)
        return self._foreseen

    def leave(self, now: Moment, absence: Absence) -> LeftAim | None:
        """The best aim to leave the load in the pot with, None while there is none to be done."""
        return self._forecaster.leave(now.at, absence) if self._has_table(now) else None

    def unforeseen_s(self, now: Moment) -> float:
        """How long ago a forecast was last made of the load in the pot [s]; 0 while there is none
        to make.
        """
        if self.cook is None or self.cook.load is None:
            return 0.0
        return now.mono_s - self._foreseen_s

    def _has_table(self, now: Moment) -> bool:
        """Whether the forecaster knows the sun of today."""
        table = self._daylight.table(now.at)
        if table is not None and table not in self._tables:
            self._tables.append(table)
        return table is not None

    def _begin_forecasts(self, now: Moment) -> None:
        """A new cook begins with what the probes show now."""
        self._forecaster = self._anew()
        for role in Role:
            value = self._senses.known(role, now.mono_s)
            if value is not None:
                self._forecaster.observe(now.at, **{OBSERVED[role]: value})

    def _remember(self, cook: Cook, past: Memory) -> None:
        self._forecaster = self._anew()
        for event in retold(cook, past.events):
            self._forecaster.event(event)
        for sample in past.samples:
            if isinstance(sample, Reading):
                self._hear(sample)

    def _anew(self) -> Forecaster:
        """A forecaster for a new cook, with what the ones before it have taught."""
        house = self._house
        place, foods = house.station.place, house.foods
        knowledge = house.knowledge.get(self.cooker.name, Knowledge())
        return Forecaster(
            self.cooker, place, self._tables, knowledge, foods, house.wording, house.heat
        )

    def _happen(self, cook: Cook, event: Event, now: Moment) -> None:
        if self.cook is None:
            self._begin_forecasts(now)
        cook = cook.after(event)
        self._cooks[cook.started_at] = cook
        self.cook = cook if cook.running else None
        if event.kind in ANSWERED_BY:
            self._acknowledge(ANSWERED_BY[event.kind], now)
        self._forecaster.event(cook.completed(event))
        self._foreseen_s = float("-inf")
        if event.kind is EventKind.LOAD or cook.load is None:
            self._foreseen = None
        if event.kind is EventKind.LOAD:
            self.records["done"] = alarms.reset(self.records["done"], now)
            self._core_rose = False
        if event.kind is EventKind.STOP:
            for name in self.records:
                self._acknowledge(name, now)

    def _answer(self, event: Event, now: Moment) -> None:
        name = event.detail.get("alarm", "")
        if name not in self.records:
            raise CookError(f"there is no alarm {name!r}; {meant(name, self.records)}")
        if event.kind is EventKind.ACKNOWLEDGE:
            self._acknowledge(name, now)
        else:
            minutes = event.number("minutes")
            seconds = SHELVE_S if minutes is None else 60 * minutes
            self.records[name] = alarms.shelve(self.records[name], now, seconds)

    def _acknowledge(self, name: str, now: Moment) -> None:
        self.records[name] = alarms.acknowledge(self.records[name], now)

    def _hear(self, reading: Reading) -> None:
        role = self._senses.hear(reading)
        value = self._senses.known(role, reading.mono_s)
        if self.cook is None or value is None:
            return
        self._forecaster.observe(reading.at, **{OBSERVED[role]: value})
        load = self.cook.load
        if role is Role.CORE and load is not None and reading.at >= load.at:
            target_c = self._target(self.cook, self._house.foods.get(self.cook.food))
            self._core_rose |= target_c is not None and value < target_c

    def facts(self, now: Moment) -> Facts:
        """All that is known of this cooker now."""
        cook, house, known = self.cook, self._house, self._senses.known
        sun = self._daylight.at(now.at) if now.trusted else None
        aim = cook.aim if cook else None
        food = house.foods.get(cook.food) if cook else None
        return Facts(
            cooker=self.cooker,
            cook=cook,
            food=food,
            target_c=self._target(cook, food),
            pot_c=known(Role.POT, now.mono_s),
            core_c=known(Role.CORE, now.mono_s),
            ambient_c=known(Role.AMBIENT, now.mono_s),
            irradiance_wm2=known(Role.IRRADIANCE, now.mono_s),
            faults=self._faults,
            heard_at=self._senses.heard.at,
            silent_s=now.mono_s - self._senses.heard.mono_s,
            core_rose=self._core_rose,
            clock_trusted=now.trusted,
            forecast=self._foreseen
            if now.trusted and self.unforeseen_s(now) <= house.limits.forecast_fresh_s
            else None,
            sun=sun,
            sun_up=sun is not None and sun_is_up(sun, house.station.place.horizon),
            misaim_deg=None
            if sun is None or aim is None
            else angle_between(
                aim.azimuth_deg, aim.elevation_deg, sun.azimuth_deg, sun.elevation_deg
            ),
        )

    def _target(self, cook: Cook | None, food: Food | None) -> float | None:
        if cook is None:
            return None
        boiling_c = boiling_point_c(self._house.station.place.elevation_m)
        if cook.load is not None and cook.load.target_c is not None:
            return asked_target(food, cook.load.target_c, boiling_c).temp_c
        if food is None:
            return cook.target_c
        return target_at(food, boiling_c).temp_c

    def _alert(self, record: AlarmRecord, now: Moment) -> Alert:
        """The same raising always gets the same id, in the daemon as in a replay."""
        name = f"{self._house.station.name}/{record.cooker}/{record.alarm}/{now.at.isoformat()}"
        expires = now.at + timedelta(seconds=self._house.policies[record.alarm].expires_s)
        return Alert(
            id=str(uuid5(NAMESPACE_URL, name)),
            at=now.at,
            expires_at=expires,
            cooker=record.cooker,
            alarm=record.alarm,
            state=record.state,
            priority=record.priority,
            text=record.text,
        )
