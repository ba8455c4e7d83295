"""The forecaster, asked about a cook again and again: what it says beside the truth and rivals."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from bench.rivals import single_lag, straight_line
from bench.trial import Exam, Trial
from noonpot.clock import SystemClock
from noonpot.core.cook import Event
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecaster
from noonpot.core.learning import learn
from noonpot.core.readings import Role
from noonpot.core.recording import Row
from noonpot.core.station import CookerSpec
from noonpot.engine.replayer import believed, station_of

Floats = NDArray[np.float64]
CLOCK = SystemClock()
FIRST_S, EVERY_S = 900.0, 600.0


@dataclass(frozen=True, slots=True)
class Asked:
    """One forecast of a cook. Times are minutes from the asking; None: not reached, or nothing
    said.
    """

    kind: str
    food: str
    wet: bool
    clear: bool
    sensor: bool
    history: int
    truth: float | None
    left: float
    p_done: float
    p10: float | None
    p50: float | None
    p90: float | None
    line: float | None
    lag: float | None
    seconds: float


@dataclass(frozen=True, slots=True)
class Answers:
    """All that one exam gave: forecasts, and the time that learning took before [s]."""

    asks: Sequence[Asked]
    learning_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Pot and core of a recording [°C], a row a reading, NaN where there is none."""

    times_s: Floats
    pot_c: Floats
    core_c: Floats

    def rivals(self, trial: Trial, now_s: float) -> tuple[float | None, float | None]:
        """What straight line and single lag say at this time [minutes from it]."""
        rows = (self.times_s >= trial.load_s) & (self.times_s <= now_s)
        times, pot, core = self.times_s[rows], self.pot_c[rows], self.core_c[rows]
        since_last_s = now_s - times[-1]
        line = straight_line(times, core, trial.target_c)
        lag = single_lag(times, core, pot, trial.target_c)
        first, second = (None if x is None else (x - since_last_s) / 60 for x in (line, lag))
        return first, second


def curves(rows: Sequence[Row]) -> Curves:
    """Pot and core out of the rows of a recording."""
    read = [row for row in rows if row.values]
    pot, core = (
        np.array([row.values.get(role, np.nan) for row in read]) for role in (Role.POT, Role.CORE)
    )
    return Curves(np.array([row.at.timestamp() for row in read]), pot, core)


def ask(exam: Exam, foods: Mapping[str, Food]) -> Answers:
    """Learn from the past, then ask from 15 minutes after loading every 10 minutes."""
    trial = exam.trial
    recording = believed(trial.recording)
    spec = station_of(recording).cookers[0]
    past = [believed(earlier.recording) for earlier in exam.past]
    begun = CLOCK.moment().mono_s
    knowledge = learn(past, spec, [earlier.day.table for earlier in exam.past], foods)
    learning_s = CLOCK.moment().mono_s - begun
    caster = Forecaster(spec, trial.day.place, [trial.day.table], knowledge, foods)
    shown = curves(recording.rows)
    asks, rows = [], iter(recording.rows)
    coming = next(rows, None)
    for now_s in _times(trial):
        now = datetime.fromtimestamp(now_s, UTC)
        while coming is not None and coming.at <= now:
            _show(caster, coming, spec)
            coming = next(rows, None)
        begun = CLOCK.moment().mono_s
        said = caster.forecast(now)
        took = CLOCK.moment().mono_s - begun
        assert said is not None, f"nothing is said at {now}"
        line, lag = shown.rivals(trial, now_s)
        asks.append(
            Asked(
                kind=trial.kind,
                food=trial.food,
                wet=trial.wet,
                clear=trial.day.clear,
                sensor=trial.sensor,
                history=len(past),
                truth=None if trial.done_s is None else (trial.done_s - now_s) / 60,
                left=(trial.lost_s - now_s) / 60,
                p_done=said.p_done,
                p10=_minutes(said.done_p10, now),
                p50=_minutes(said.done_p50, now),
                p90=_minutes(said.done_p90, now),
                line=line,
                lag=lag,
                seconds=took,
            )
        )
    return Answers(asks, learning_s)


def _times(trial: Trial) -> Iterator[float]:
    now_s = trial.load_s + FIRST_S
    while now_s < trial.until_s:
        yield now_s
        now_s += EVERY_S


def _show(caster: Forecaster, row: Row, spec: CookerSpec) -> None:
    if row.event is not None:
        caster.event(Event(spec.name, row.at, row.event, row.detail))
    if row.values:
        value = row.values.get
        pot, core = value(Role.POT), value(Role.CORE)
        caster.observe(row.at, pot, core, value(Role.AMBIENT), value(Role.IRRADIANCE))


def _minutes(at: datetime | None, now: datetime) -> float | None:
    return None if at is None else (at - now).total_seconds() / 60
