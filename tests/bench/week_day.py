"""One day of the week: garden, wires, the real pipeline on a real store, phone, person, faults."""

import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bench.measured import MeasuredDay
from bench.week_books import Cooked, DayReport, Ledger
from bench.week_faults import STATION_KINDS, Injected, Kind
from bench.week_garden import COOKERS, MeasuredSun, Wires, measured_garden, station
from bench.week_mischief import TURNED, damage, repair
from bench.week_person import DISHES, Act, Person, aimed
from bench.week_truth import NEEDS_A_FAULT, is_true
from fakes import FakeClock, RecordingNotifier
from noonpot.core.alert import Alert, Priority
from noonpot.core.cook import Event, EventKind
from noonpot.core.filtering import DEFAULT_MAX_RATE_C_S, ProbeFilter
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Role
from noonpot.core.rules import DEFAULT_POLICIES
from noonpot.core.safety import COLD_C, HOT_C
from noonpot.core.stationfacts import OWN, Survey
from noonpot.core.sun import SunSky, angle_between
from noonpot.core.wording import Wording
from noonpot.engine import pipeline as rounds
from noonpot.engine.clockguard import ClockGuard
from noonpot.engine.daylight import Daylight
from noonpot.engine.dispatcher import Dispatcher
from noonpot.engine.gathering import Gathering, Pace
from noonpot.engine.household import Household
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.ports import Health
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from noonpot.store.sqlite import Store

STEP_S = 10.0
FORECAST_S = 180.0
"""The daemon makes a forecast every minute; here one in three does, or the week takes an hour."""
MORNING = "06:30"
HOUR_S = 3600.0
NO_LIMIT = float("inf")
STRIKES_S = (720.0, 1800.0)
STRIKES_C, STRIKES_K = 45.0, 6.0
"""So long after loading something goes wrong; what needs a hot pot waits until it is so hot, and so
far ahead of the food.
"""
STATION_DATES = tuple(
    (hour, kind, OWN) for hour, kind in zip((4.0, 5.5), STATION_KINDS, strict=True)
)


class Day:
    """Lives through one day, step by step."""

    def __init__(
        self,
        day: MeasuredDay,
        cards: Sequence[Kind | None],
        seed: str,
        folder: Path,
        cookers: Sequence[str] = tuple(COOKERS),
        dates: Sequence[tuple[float, Kind, str]] = STATION_DATES,
        menu: Sequence[str] = tuple(DISHES),
    ) -> None:
        start = datetime.fromtimestamp(day.start_s, UTC)
        self._begun = start.replace(hour=int(MORNING[:2]), minute=int(MORNING[3:]))
        self._chance = random.Random(seed)
        self._dates = sorted(dates, key=lambda date: date[0])
        self._explained: set[tuple[str, str]] = set()
        self.clock = FakeClock(self._begun)
        self._zero_s = self.clock.moment().mono_s
        self._day = day
        self._cards = list(cards)
        self._cookers = cookers
        self._folder = folder
        self._garden = measured_garden(day, self._begun, cookers)
        self.wires = Wires(self._garden, day, self.clock, folder, random.Random(f"{seed}/noise"))
        self.person = Person(random.Random(f"{seed}/person"), menu)
        self.report = DayReport(day.name)
        self._cooking: dict[str, Cooked] = {}
        self._waiting: dict[str, Kind] = {}
        self._strikes_s: dict[str, float] = {}
        self._peeks: dict[str, float] = {}
        self._phone = RecordingNotifier()
        self._station = station(day.place, cookers)
        self._house = Household(
            self._station,
            read_foods(supplied("foods.toml")),
            DEFAULT_POLICIES,
            RuleLimits(),
            Wording(),
        )
        self._switch_on()

    def live(self, until_s: float) -> DayReport:
        """Live on until so long after the morning [s]."""
        now = self.clock.moment()
        for index, cooker in enumerate(self._cookers):
            self.person.plan(cooker, now.mono_s + 60 * (20 + 25 * index))
        while self._elapsed_s < until_s:
            self.clock.advance(STEP_S)
            self._garden.advance(self._elapsed_s)
            self._go_wrong()
            self._once()
        self._end_all()
        self._pipeline.write(self.clock.moment())
        self.report.calls = len(self._phone.told)
        self._store.close()
        return self.report

    @property
    def _elapsed_s(self) -> float:
        return self.clock.moment().mono_s - self._zero_s

    def _switch_on(self) -> None:
        now = self.clock.moment()
        self._store = Store(self._folder / "noonpot.db", self.clock)
        self._store.register(self._station.probes)
        self._store.begin()
        daylight = Daylight(self._day.place, MeasuredSun(self._day))
        daylight.fetch(now.at, ahead=0)
        self._daylight = daylight
        self._watches = {
            c.name: Watch(c, self._house, daylight, now) for c in self._station.cookers
        }
        self._own = StationWatch(self._house, now)
        filters = {
            p.name: ProbeFilter(NO_LIMIT if p.role is Role.IRRADIANCE else DEFAULT_MAX_RATE_C_S)
            for p in self._station.probes
        }
        watches = list(self._watches.values())
        self._pipeline = Pipeline(
            "week", watches, filters, self._store, [self._phone], Health(), own=self._own
        )
        self._pipeline.resume(now)
        self._guard = ClockGuard(now)
        self._ledger = Ledger(self._store)
        self._desk = Dispatcher(self._phone, self._ledger, self.clock, Health(), Gathering(Pace()))

    def _once(self) -> None:
        now = self.clock.moment()
        step = self._guard.check(now)
        if step is not None:
            self._pipeline.clock_stepped(step, now)
        if self._elapsed_s % 20 < STEP_S:
            self._own.survey = Survey(now.mono_s, free_mb=9000.0, absence=self._store.absence())
        events = [e for act in self.person.due(now.mono_s) for e in self._does(act)]
        self.report.rounds += 1
        refused = self._pipeline.round(now, self.wires.samples(), events)
        for index, event in enumerate(events):
            if index not in refused:
                self._happened(event)
        self._tell()
        self._suffer()

    def _tell(self) -> None:
        now_s = self.clock.moment().mono_s
        for alert in self._store.unsent(self._phone.channel, 50):
            if alert.id not in self._ledger.raised:
                self._ledger.raised[alert.id] = alert
                self._judge(alert, now_s)
        self._desk.turn()
        for alert in self._ledger.heard:
            for fault in self.report.faults:
                if fault.raised_s is not None and fault.heard_s is None:
                    heard = fault.kind.names(alert) and fault.concerns(alert)
                    fault.heard_s = now_s if heard else None
            cooked = self._cooking.get(alert.cooker)
            if cooked is not None:
                cooked.told.append(alert)
                cooked.done |= alert.alarm == "done"
            self.person.hear(alert, now_s)
        calm = {a.cooker for a in self._ledger.heard if a.priority is not Priority.URGENT}
        for name in calm & self._cooking.keys():
            self._cooking[name].calls += 1
        self._ledger.heard.clear()

    def _judge(self, alert: Alert, now_s: float) -> None:
        """Whether an alert names a fault, follows from one, or has nothing behind it."""
        if alert.alarm == "lid" and now_s - self._peeks.pop(alert.cooker, -HOUR_S) < 600.0:
            self.report.noticed += 1
            return
        around = [f for f in self.report.faults if f.stands(now_s) and f.concerns(alert)]
        for fault in around:
            if fault.kind.names(alert):
                fault.raised_s = now_s if fault.raised_s is None else fault.raised_s
            elif alert.alarm in NEEDS_A_FAULT and alert.alarm not in fault.kind.also:
                fault.instead.append(f"{alert.alarm}: {alert.text}")
        explained = any(
            f.kind.names(alert)
            or alert.alarm in f.kind.also
            or (f.kind.name == "blown-over" and alert.alarm == "lid")
            for f in around
        )
        repeated = alert.text.startswith("REPEAT")
        key = alert.cooker, alert.alarm
        if explained or self._is_true(alert) or (repeated and key in self._explained):
            self._explained.add(key)
            return
        self._explained.discard(key)
        self.report.false.append(
            (f"{self.report.name} {self.clock.moment().at:%H:%M} {alert.alarm}", alert.text)
        )

    def _is_true(self, alert: Alert) -> bool:
        if alert.cooker == OWN:
            return False
        return is_true(
            alert,
            self._watches[alert.cooker].facts(self.clock.moment()),
            self.wires.cooker(alert.cooker),
            self._cooking.get(alert.cooker),
            self._misaim_deg(alert.cooker),
        )

    def _misaim_deg(self, name: str) -> float:
        aim, sky = self._garden.stands[name].aim, self._sky
        if aim is None:
            return 180.0
        return angle_between(aim.azimuth_deg, aim.elevation_deg, sky.azimuth_deg, sky.elevation_deg)

    def _suffer(self) -> None:
        """Keep account of how long food was truly lukewarm; times of faults count as such."""
        for name, cooked in self._cooking.items():
            if cooked.loaded_s is not None:
                unseen = any(f.cooker == name and f.ended_s is None for f in self.report.faults)
                lukewarm = COLD_C < self.wires.cooker(name).core_c < HOT_C
                cooked.lukewarm_s += STEP_S * (lukewarm or unseen)

    def _happened(self, event: Event) -> None:
        """The garden and the books follow what was done."""
        now_s = self.clock.moment().mono_s
        self.wires.notice(event)
        name = event.cooker
        if event.kind is EventKind.START:
            self._cooking[name] = Cooked(name, self.person.dishes[name], now_s)
            self.report.cooks.append(self._cooking[name])
            self._deal(name)
        elif event.kind is EventKind.LOAD:
            self._cooking[name].loaded_s = now_s
            self._strikes_s[name] = now_s + self._chance.uniform(*STRIKES_S)
            kind = self._waiting.get(name)
            if kind is not None and kind.loading:
                self._inject(self._waiting.pop(name), name)
        elif event.kind is EventKind.STOP:
            self._mend(name)
            unused = self._waiting.pop(name, None)
            if unused is not None:
                self._cards.insert(0, unused)
            self._cooking.pop(name).ended_s = now_s
            if self._elapsed_s < 6.5 * HOUR_S:
                self.person.plan(name, now_s + 60 * self._chance.uniform(10, 40))

    def _deal(self, name: str) -> None:
        """The next fault that this cooker can have."""
        bus = COOKERS[name][2]
        for index, kind in enumerate(self._cards):
            if kind is None or kind.bus in ("", bus):
                del self._cards[index]
                if kind is not None:
                    self._waiting[name] = kind
                return

    def _go_wrong(self) -> None:
        now_s = self.clock.moment().mono_s
        for name, kind in list(self._waiting.items()):
            loaded_s = self._cooking[name].loaded_s
            if loaded_s is None or kind.loading or now_s < self._strikes_s[name]:
                continue
            cooker = self.wires.cooker(name)
            if not kind.hot or cooker.air_c >= max(STRIKES_C, cooker.core_c + STRIKES_K):
                self._inject(self._waiting.pop(name), name)
        for fault in self.report.faults:
            if fault.ended_s is None and now_s - fault.begun_s >= fault.kind.limit_s:
                self._mend(fault.cooker)
        while self._dates and self._elapsed_s >= self._dates[0][0] * HOUR_S:
            _, kind, name = self._dates.pop(0)
            if self._cooking:
                self._inject(kind, name)

    def _inject(self, kind: Kind, name: str) -> None:
        now = self.clock.moment()
        probe = f"{name}-{self._chance.choice([Role.POT, Role.CORE])}"
        pot_c = core_c = 0.0
        if name != OWN:
            cooker = self.wires.cooker(name)
            pot_c, core_c = cooker.air_c, cooker.core_c
        fault = Injected(kind, name, probe, now.mono_s, pot_c, core_c)
        self.report.faults.append(fault)
        for cooked in self._cooking.values():  # one of the station concerns them all
            cooked.faulty |= name in (cooked.cooker, OWN)
        match kind.name:
            case "aimed-wrong":  # somebody turned it for the hours to come, and noted it
                event = aimed(name, self._sky, now, 50.0)
                self._pipeline.round(now, [], [event])
                self.wires.notice(event)
            case "away-8-min":
                self._be_away(kind.limit_s)
                fault.begun_s = fault.ended_s = self.clock.moment().mono_s
            case "clock-step":
                self.clock.step_wall(HOUR_S)
            case _:
                damage(self.wires, fault, aimed(name, self._sky, now, 55.0))

    def _mend(self, name: str) -> None:
        """Whatever is wrong there is put right."""
        now = self.clock.moment()
        for fault in self.report.faults:
            if fault.cooker != name or fault.ended_s is not None:
                continue
            fault.ended_s = now.mono_s
            if fault.kind.name == "clock-step":
                self.clock.step_wall(-HOUR_S)
            else:
                repair(self.wires, fault, aimed(name, self._sky, now))

    def _does(self, act: Act) -> list[Event]:
        """The person walks over; what is seen there is put right by the way."""
        now = self.clock.moment()
        if act.what == "peek" and act.cooker in self._cooking:
            self.report.peeks += 1
            self._peeks[act.cooker] = now.mono_s
            self.wires.cooker(act.cooker).open_lid(self._chance.uniform(20, 60))
            return []
        watch = self._watches.get(act.cooker)
        if act.what == "mend":
            self._mend(act.cooker)
            about = {"alarm": act.about}
            seen = [Event(act.cooker, now.at, EventKind.ACKNOWLEDGE, about)]
            if act.about in ("probe-out", "lid") and watch is not None and watch.cook is not None:
                lid = {"duration_s": "30"}
                seen += [Event(act.cooker, now.at, EventKind.LID, lid)]
                seen += [aimed(act.cooker, self._sky, now)]
            return seen
        if act.what in ("aim", "turn"):
            self._right(act.cooker)
        return self.person.events(act, watch.cook if watch else None, self._sky, now)

    def _right(self, name: str) -> None:
        """Who turns a cooker sees that it stands askew, or lies on its side."""
        faults = self.report.faults
        if any(f.cooker == name and f.ended_s is None and f.kind.name in TURNED for f in faults):
            self._mend(name)

    def _be_away(self, seconds: float) -> None:
        """The daemon is killed, and comes back after a while."""
        for cooked in self._cooking.values():
            cooked.lukewarm_s += seconds if cooked.loaded_s is not None else 0.0
        self._store.close()
        raised = self._ledger.raised
        self.clock.advance(seconds)
        self._garden.advance(self._elapsed_s)
        self._switch_on()
        self._ledger.raised = raised

    def _end_all(self) -> None:
        now = self.clock.moment()
        events = [
            Event(name, now.at, kind)
            for name, watch in self._watches.items()
            if watch.cook is not None
            for kind in (EventKind.UNLOAD, EventKind.STOP)
            if kind is EventKind.STOP or watch.cook.load is not None
        ]
        self._pipeline.round(now, [], events)
        for cooked in self._cooking.values():
            cooked.ended_s = now.mono_s
        for fault in self.report.faults:
            fault.ended_s = now.mono_s if fault.ended_s is None else fault.ended_s

    @property
    def _sky(self) -> SunSky:
        when = self._begun + timedelta(seconds=self._elapsed_s)
        return self._day.table.at(when)


def lived(  # noqa: PLR0913, PLR0917
    day: MeasuredDay,
    cards: Sequence[Kind | None],
    seed: str,
    folder: Path,
    cookers: Sequence[str] = tuple(COOKERS),
    dates: Sequence[tuple[float, Kind, str]] = STATION_DATES,
    menu: Sequence[str] = tuple(DISHES),
    hours: float = 11.5,
) -> DayReport:
    """One day of all this."""
    one = Day(day, cards, seed, folder, cookers, dates, menu)
    with pytest.MonkeyPatch.context() as patching:
        patching.setattr(rounds, "FORECAST_S", FORECAST_S)
        one.wires.spi.install(patching)
        return one.live(hours * HOUR_S)
