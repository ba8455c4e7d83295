"""One cooker watched: from readings and events to facts, forecast, alarms and what to tell."""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from noonpot.core.absence import Absence, LeftAim
from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import BEGINNINGS, Cook, Event, EventKind, begin, retold
from noonpot.core.facts import Case, Facts
from noonpot.core.foods import Food, asked_target, target_at
from noonpot.core.forecast import Forecast, Forecaster
from noonpot.core.learning import Knowledge
from noonpot.core.moment import Moment, iso
from noonpot.core.readings import Fault, Reading, Role, Sample
from noonpot.core.rules import OF_LOAD, RULES, evaluate
from noonpot.core.safety import HOT_C
from noonpot.core.safetylog import SafetyLog, safety_log, scenes
from noonpot.core.station import CookerSpec
from noonpot.core.sun import DayTable, angle_between, sun_is_up
from noonpot.core.water import boiling_point_c
from noonpot.engine.alarmbook import AlarmBook, Changes
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
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
ANSWERED_BY = {
    EventKind.LOAD: ("preheated", "probe-out", "lid"),
    EventKind.UNLOAD: OF_LOAD,
    EventKind.AIM: ("turn",),
    EventKind.LID: ("probe-out", "lid"),
    EventKind.SPOT: ("probe-out", "lid", "food-unknown"),
}
NOTHING = Memory()
ABOVE_BOILING_K = 5.0  # what salt, sugar, the weather and a thermometer together may add


def then(event: Event, known: Sample | Moment) -> Moment:
    """When an event was, by a moment that is known on both clocks."""
    return Moment(event.at, known.mono_s - (known.at - event.at).total_seconds())


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one look at a cooker found, and what it changed."""

    facts: Facts
    cooks: tuple[Cook, ...]
    alarms: Changes


class Watch:
    """Follows one cooker. It holds no clock and does no I/O: the daemon feeds it live, a replay
    from a recording, and both get the same answers.
    """

    def __init__(
        self, cooker: CookerSpec, household: Household, daylight: Daylight, now: Moment
    ) -> None:
        self.cooker = cooker
        self.cook: Cook | None = None
        self._book = AlarmBook(cooker.name, RULES, household, now)
        self._cooks: dict[datetime, Cook] = {}
        self._house = household
        self._daylight = daylight
        self._senses = self._awake(now)
        self._faults: tuple[Fault, ...] = ()
        self._core_rose = self._emptied = False
        self._safety: SafetyLog | None = None
        self._tables: list[DayTable] = []
        self._forecaster = self._anew()
        self._foreseen: Forecast | None = None
        self._foreseen_s = float("-inf")

    def restore(
        self, cook: Cook | None, records: Iterable[AlarmRecord], past: Memory = NOTHING
    ) -> None:
        """Take up a cook and its alarms where they were left, with what is remembered of it."""
        self.cook = cook
        self._safety = None  # told anew from the past, else the load would inherit from itself
        if cook is not None:
            self._remember(cook, past)
        self._book.restore(records)

    def retell(self, cook: Cook, past: Memory, now: Moment) -> None:
        """Watch on as if the cook had been so from its begin; what its alarms told stays told."""
        self.cook = cook if cook.running else None
        self._senses, self._safety, self._core_rose = self._awake(now), None, False
        self._emptied = False
        self._foreseen, self._foreseen_s = None, float("-inf")
        if self.cook is not None:
            self._remember(cook, past)

    def take(self, event: Event, now: Moment) -> None:
        """Let an event happen. Raises CookError when it does not fit the cook; nothing is changed
        then.
        """
        if event.kind in (EventKind.ACKNOWLEDGE, EventKind.SHELVE):
            self._book.answer(event, self.case(now).policy, now)
        elif event.kind is EventKind.START and self.cook is not None:
            raise CookError(
                f"start of {event.cooker}: a cook is running since {iso(self.cook.started_at)}; "
                "stop it first"
            )
        elif self.cook is None and event.kind in BEGINNINGS:
            self._happen(begin(event), event, now)
        elif self.cook is not None:
            self._check_spot(self.cook, event)
            self._happen(self.cook, event, now)

    @property
    def records(self) -> Mapping[str, AlarmRecord]:
        """How every alarm of the cooker stands."""
        return self._book.records

    @property
    def probes(self) -> Iterable[str]:
        """The names of the probes that tell about this cooker."""
        return self._senses.probes

    @property
    def _boiling_c(self) -> float:
        """Where water boils here [°C]."""
        return boiling_point_c(self._house.station.place.elevation_m)

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
        if self._senses.due(now):
            self._senses.look(now, self.facts(now))
        case = self.case(now)
        changes = self._book.step(evaluate(case), case.policy, now)
        return Outcome(case.facts, self.changed(), changes)

    def changed(self) -> tuple[Cook, ...]:
        """The cooks that events have changed since the last call."""
        cooks, self._cooks = tuple(self._cooks.values()), {}
        return cooks

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
        self._forecaster, self._emptied = self._anew(), False
        for role in Role:
            value = self._senses.known(role, now.mono_s)
            if value is not None:
                self._forecaster.observe(now.at, **{OBSERVED[role]: value})

    def _remember(self, cook: Cook, past: Memory) -> None:
        self._forecaster = self._anew()
        known = past.samples[-1] if past.samples else self._senses.heard
        for event in retold(cook, past.events):
            self._forecaster.event(event)
            self._senses.happen(event, known.at.timestamp() - known.mono_s)
        story = deque(scenes(cook, past.events))
        for sample in past.samples:
            while story and story[0][1].at <= sample.at:
                self._follow(*story[0], then(story.popleft()[1], sample))
            if isinstance(sample, Reading):
                self._hear(sample, loaded=cook.load is not None and sample.at >= cook.load.at)
        for known_cook, event in story:
            self._follow(known_cook, event, then(event, known))
        self._safety = self._safety or self._safety_log(cook)
        if self._safety is not None:
            self._safety.resumed()

    def clock_stepped(self, past: Memory) -> None:
        """The wall clock jumped: forecast anew from ``past``, as the clock of now would tell it."""
        if self.cook is None:
            return
        self._forecaster, self._foreseen, self._foreseen_s = self._anew(), None, float("-inf")
        for event in retold(self.cook, past.events):
            self._forecaster.event(event)
        for sample in past.samples:
            if isinstance(sample, Reading):
                role = self._senses.probes[sample.probe]
                self._forecaster.observe(sample.at, **{OBSERVED[role]: sample.value})

    def _awake(self, now: Moment) -> Senses:
        """Senses that have not felt anything yet."""
        probes = self._house.station.probes_of(self.cooker.name)
        return Senses(probes, self._house.limits.fresh_s, now, self._boiling_c)

    def _anew(self) -> Forecaster:
        """A forecaster for a new cook, with what the ones before it have taught."""
        house = self._house
        place, foods = house.station.place, house.foods
        knowledge = house.knowledge.get(self.cooker.name, Knowledge())
        return Forecaster(
            self.cooker, place, self._tables, knowledge, foods, house.wording, house.heat
        )

    def _safety_log(self, cook: Cook) -> SafetyLog | None:
        """Follows what is in the pot from loading on, if it can make people ill."""
        house, watched = self._house, Role.CORE in self._senses.probes.values()
        food, limit_s, gap_s = house.foods.get(cook.food), house.heat.limit_s, house.limits.fresh_s
        return safety_log(cook.load, food, limit_s=limit_s, gap_s=gap_s, watched=watched)

    def _follow(self, cook: Cook, event: Event, now: Moment) -> None:
        """What an event means to the health of those who eat; the cook is that after it."""
        core_c = event.number("core_c") if event.kind is EventKind.SPOT else None
        if core_c is not None and self._safety is not None:
            self._safety.spot(now, core_c)
        if event.kind in (EventKind.UNLOAD, EventKind.LOAD):
            self._emptied = event.kind is EventKind.UNLOAD
        if event.kind is EventKind.LOAD or cook.load is None:
            before, self._safety = self._safety, self._safety_log(cook)
            if before is not None and self._safety is not None:
                self._safety.inherit(before, now)

    def _check_spot(self, cook: Cook, event: Event) -> None:
        """Raise CookError for what no thermometer shows in the food of this cook."""
        core_c = event.number("core_c") if event.kind is EventKind.SPOT else None
        food, boiling_c = self._house.foods.get(cook.food), self._boiling_c
        if core_c is None or food is None or not food.wet:
            return
        if core_c > boiling_c + ABOVE_BOILING_K:
            shown, boiling = map(self._house.wording.temperature, (core_c, boiling_c))
            raise CookError(
                f"spot of {event.cooker}: {shown} is hotter than {cook.food} can be, where water "
                f"boils at {boiling}; was that °F?"
            )

    def _happen(self, cook: Cook, event: Event, now: Moment) -> None:
        if self.cook is None:
            self._begin_forecasts(now)
        cook = cook.after(event)
        self._cooks[cook.started_at] = cook
        self.cook = cook if cook.running else None
        self._book.acknowledge(ANSWERED_BY.get(event.kind, ()), now)
        self._forecaster.event(cook.completed(event))
        self._senses.happen(event, now.at.timestamp() - now.mono_s)
        self._foreseen_s = float("-inf")
        if event.kind is EventKind.LOAD or cook.load is None:
            self._foreseen = None
            self._core_rose = False
        self._follow(cook, event, now)
        if self._safety is not None:
            self._safety.begin(now)
        if event.kind is EventKind.STOP:
            self._book.acknowledge(RULES, now)
        if event.kind in (EventKind.LOAD, EventKind.STOP):
            policies = self._house.policies
            over = [name for name in RULES if name in OF_LOAD or policies[name].latched]
            self._book.reset(over, now)

    def case(self, now: Moment) -> Case:
        """All that is known of this cooker now, and how its alarms stand."""
        house = self._house
        facts = self.facts(now)
        return Case(facts, dict(self._book.records), house.policies, house.limits, house.wording)

    def _hear(self, reading: Reading, *, loaded: bool = True) -> None:
        """Take in a reading; ``loaded`` is whether it was made after the load went in, if any did.
        Of one that comes now that is so, whatever a wall clock that jumped says.
        """
        role = self._senses.hear(reading)
        if role is Role.CORE and self._safety is not None:
            self._safety.take(reading, self._senses.signs)
        value = self._senses.known(role, reading.mono_s)
        if self.cook is None or value is None:
            return
        self._forecaster.observe(reading.at, **{OBSERVED[role]: value})
        if role is Role.CORE and self.cook.load is not None and loaded:
            target_c = self._target(self.cook, self._house.foods.get(self.cook.food))
            self._core_rose |= target_c is not None and value < min(target_c, HOT_C)

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
            faults=self._senses.faults(now, self._faults),
            heard_at=self._senses.heard.at,
            silent_s=now.mono_s - self._senses.heard.mono_s,
            core_rose=self._core_rose,
            at=now.at,
            boiling_c=self._boiling_c,
            clock_trusted=now.trusted,
            forecast=self._foreseen
            if now.trusted and self.unforeseen_s(now) <= house.limits.forecast_fresh_s
            else None,
            sun=sun,
            sun_up=sun is not None and sun_is_up(sun, house.station.place.horizon),
            mono_s=now.mono_s,
            signs=self._senses.signs,
            safety=self._safety.at(now) if self._safety else None,
            emptied=self._emptied,
            misaim_deg=None
            if sun is None or aim is None
            else angle_between(
                aim.azimuth_deg, aim.elevation_deg, sun.azimuth_deg, sun.elevation_deg
            ),
        )

    def _target(self, cook: Cook | None, food: Food | None) -> float | None:
        if cook is None:
            return None
        boiling_c = self._boiling_c
        if cook.load is not None and cook.load.target_c is not None:
            return asked_target(food, cook.load.target_c, boiling_c).temp_c
        if food is None:
            return cook.target_c
        return target_at(food, boiling_c).temp_c
