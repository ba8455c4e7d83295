"""Cooks for reports: one of plain numbers in a real data file, and one as a value."""

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path
from zoneinfo import ZoneInfo

from fakes import FakeClock
from noonpot.app.machine import DATA_FILE
from noonpot.app.reporting import report_of
from noonpot.core.cook import Cook, Event, EventKind, Load, begin
from noonpot.core.cookreport import CookReport, LoadTale, Look, SafetyTale
from noonpot.core.curve import Curve
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.lethality import REHEATED
from noonpot.core.moment import utc
from noonpot.core.readings import Reading, Role
from noonpot.core.safety import Course, Safety
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import SunSky
from noonpot.core.wording import Wording
from noonpot.ports import Batch, Given
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from simday import SimpleSun
from web.homes import CONFIG

START = utc("2026-06-03T15:00:00Z")
"""09:00 at the station."""
PIE = """
[food.pie]
target_c = 79
safe_c = 74
lethality = "reheated"
source = "made for this test"
caution = "made for this test: mind <the> crust"
[[probe]]
name = "light"
role = "irradiance"
bus = "garden"
address = "irradiance"
"""
HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'&]]>\u202e\x00"
DENVER = ZoneInfo("America/Denver")
STEP_S = 10.0
SKY = SunSky(180.0, 60.0, 800.0, 700.0, 100.0)


def minutes(count: float) -> datetime:
    """So long after the start."""
    return START + timedelta(minutes=count)


def rise_c(minute: float) -> float:
    """20 °C for half an hour, a kelvin a minute up to 80 °C, and no further."""
    return min(max(20.0, minute - 10.0), 80.0)


def happened(kind: str, minute: float = 0.0, **detail: object) -> Event:
    """Something that a person did at the box."""
    told = {key: str(value) for key, value in detail.items()}
    return Event("box", minutes(minute), EventKind(kind), told)


WHOLE = (
    happened("start", food="pie"),
    happened("aim", azimuth=100, elevation=45),
    happened("load", mass_kg=1.2, start_c=20),
    happened("unload", 100),
    happened("stop", 101),
)


class Kept:
    """A station whose data file holds one cook of the box, of 101 minutes."""

    def __init__(self, folder: Path) -> None:
        file = folder / "noonpot.toml"
        file.write_text(CONFIG + PIE, encoding="utf-8")
        self.file = file
        self.settings: Settings = load(file)
        self.settings.data.mkdir(exist_ok=True)
        self.clock = FakeClock(START)

    def cook(
        self,
        events: Iterable[Event] = WHOLE,
        unseen: tuple[float, float] = (0, 0),
        until: float = 101,
        forecasts: Iterable[Forecast] = (),
    ) -> Cook:
        """Live through a cook; its core cannot be read in these minutes."""
        begun = list(events)
        cook = begin(begun[0])
        for event in begun[1:]:
            cook = cook.after(event)
        samples = self._read(0, until, unseen)
        with self._opened() as store:
            end = self.clock.advance(until * 60)
            (kept,) = store.write(end, Batch(samples=samples, events=begun, cooks=[cook]))
            given = [Given(kept.id, forecast) for forecast in forecasts]
            store.write(end, Batch(forecasts=given))
        return kept

    def started_anew(self, cook: Cook, minute: float) -> Cook:
        """The station was off until this minute of a cook that is under way, and sees its end."""
        self.clock = FakeClock(minutes(minute), mono_s=5.0)
        self.clock.boot_id = "boot-2"
        samples = self._read(minute, 101)
        with self._opened() as store:
            end = self.clock.advance((101 - minute) * 60)
            ended = cook.after(WHOLE[-2]).after(WHOLE[-1])
            (kept,) = store.write(end, Batch(samples=samples, events=WHOLE[-2:], cooks=[ended]))
        return kept

    @contextmanager
    def _opened(self) -> Iterator[Store]:
        with Store(self.settings.data / DATA_FILE, self.clock) as store:
            store.register(self.settings.station.probes)
            store.begin()
            yield store

    def _read(
        self, first: float, last: float, unseen: tuple[float, float] = (0, 0)
    ) -> list[Reading]:
        """What the probes show from one minute to another; the clock stands at the first."""
        samples = []
        origin_s = self.clock.moment().mono_s
        for step in range(int((last - first) * 60 / STEP_S) + 1):
            minute = first + step * STEP_S / 60
            values = {"box-pot": rise_c(minute) + 9.0, "shade": 18.0, "light": 600.0 + step % 2}
            if not unseen[0] < minute < unseen[1]:
                values["box-core"] = rise_c(minute)
            now_s = origin_s + step * STEP_S
            samples += [Reading(n, minutes(minute), now_s, v) for n, v in values.items()]
        return samples

    def report(self, number: int, **changes: object) -> CookReport:
        """The report, of a household with these other settings."""
        settings = replace(self.settings, **changes)  # type: ignore[arg-type]
        reader = Reader(self.settings.data / DATA_FILE, self.clock)
        return report_of(number, settings, reader, SimpleSun(), self.clock.moment().at)


def foretold(minute: float, p10: float, p50: float, p90: float, p_done: float = 0.8) -> Forecast:
    """A forecast of the pie."""
    return Forecast(minutes(minute), 79.0, p_done, minutes(p10), minutes(p50), minutes(p90))


def report(**changes: object) -> CookReport:
    """The report of two hours with a pie, as a value."""
    pie = Food("pie", 79.0, safe_c=74.0, lethality=REHEATED)
    cook = Cook("box", START, "pie", id=7, stopped_at=minutes(120))
    course = Course(killed=64.4, cooked=True)
    last = Safety(course, 80.0, frozenset({"box-core"}), 14_400.0, minutes(360))
    tale = LoadTale(
        load=Load(minutes(10), "pie", 1.2, 20.0),
        food=pie,
        until=minutes(110),
        target_c=79.0,
        reached=minutes(99),
        done=minutes(101),
        peak_core_c=80.0,
        safety=SafetyTale(last, minutes(94), Course(danger_s=4020.0), course),
    )
    times_s = [int(minutes(m).timestamp()) for m in range(121)]
    core = [20.0 + m / 2 for m in range(121)]
    core_c: list[float | None] = [None if 40 <= m < 50 else c for m, c in enumerate(core)]
    pot_c: list[float | None] = [c + 9.0 for c in core]
    known = CookReport(
        cook=cook,
        cooker=CookerSpec("box"),
        place=Place(40.0, -105.0, 1600.0),
        station="garden",
        until=minutes(120),
        made_at=minutes(130),
        wording=Wording("C", DENVER),
        boiling_c=94.65,
        curve=Curve("box", START, minutes(120), times_s, {Role.POT: pot_c, Role.CORE: core_c}),
        events=[happened("start", food="pie"), happened("load", 10, mass_kg=1.2, start_c=20)],
        looks=[Look(minutes(m), 18.0, 600.0, SKY, sun_up=True, misaim_deg=9.0) for m in range(121)],
        loads=[tale],
        forecasts=[
            foretold(11, 70, 95, 140),
            foretold(60, 90, 93, 98),
            foretold(80, 90, 99.5, 110),
        ],
    )
    return replace(known, **changes)  # type: ignore[arg-type]


def words_of(html: str) -> str:
    """What a person reads of a page."""
    body = re.sub(r"<style>.*?</style>|<svg.*?</svg>", "", html, flags=re.DOTALL)
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", body)))
