"""When will the core reach its target, and will it at all."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from noonpot.core.absence import Absence, LeftAim, for_load
from noonpot.core.cook import Event
from noonpot.core.cooklog import CookLog, Loaded, Situation
from noonpot.core.foods import Food
from noonpot.core.learning import Knowledge
from noonpot.core.outlook import QUANTILES, Outlook, look_ahead
from noonpot.core.readings import Role
from noonpot.core.reasons import reasons
from noonpot.core.rescue import Because, OtherHeat, Rescue, Stakes, rescue
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import DayTable, unix_s
from noonpot.core.wording import Wording

SELDOM = 0.01
"""Where fewer futures than this end well, no time is told."""
CURVE_S = 600.0


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The core to be expected at one time [°C]: the middle, and where 80 % of the futures lie."""

    at: datetime
    core_p10: float
    core_p50: float
    core_p90: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """What can be said at ``at`` about reaching ``target_c`` [°C].

    ``p_done`` is the probability of reaching it before the sun is lost; ``done_p10/p50/p90`` are
    the quantiles of the time of reaching it, given that it is reached, None where p_done < 0.01.
    ``clear_sky_index`` is irradiance over clear-sky irradiance, ``misaim_deg`` the angle between
    aim and sun [degrees]; both None when unknown. ``turn_saves_s`` is how much earlier [s] the load
    is done if the cooker is turned now and not only after the usual time, None without an aim.
    ``core_estimated``: no probe was ever in this food. Food that is not moved to another heat by
    ``rescue_at`` misses what ``rescue_because`` says if it goes poorly; both are None where it is
    in time and safe even then. ``p_in_time`` is the probability of having held the target by the
    time of the meal, None without one; ``cloud_cost_s`` how much later cloud makes the load [s],
    None when the sky is clear or the load will hardly be done. ``curve`` is the core until
    the sun is lost, a point in ten minutes. ``reasons`` say in words what weighs on the forecast.
    """

    at: datetime
    target_c: float
    p_done: float
    done_p10: datetime | None
    done_p50: datetime | None
    done_p90: datetime | None
    clear_sky_index: float | None = None
    misaim_deg: float | None = None
    turn_saves_s: float | None = None
    core_estimated: bool = False
    curve: tuple[CurvePoint, ...] = ()
    rescue_at: datetime | None = None
    rescue_because: Because | None = None
    reasons: tuple[str, ...] = ()
    p_in_time: float | None = None
    cloud_cost_s: float | None = None


class Forecaster:
    """Watches one cook and says at any time when its load will be done.

    A forecast depends on what was observed up to its own time and on nothing else: the same rows
    give the same forecast, whatever was asked before.

    ``tables`` are the day tables of sun and clear sky for the time of the cook.
    """

    def __init__(
        self,
        spec: CookerSpec,
        place: Place,
        tables: Sequence[DayTable],
        knowledge: Knowledge,
        foods: Mapping[str, Food] | None = None,
        wording: Wording | None = None,
        heat: OtherHeat | None = None,
    ) -> None:
        self._wording = wording or Wording()
        self._log = CookLog(spec, place, tables, foods or {}, self._wording.temperature)
        self._knowledge = knowledge
        self._heat = heat or OtherHeat()

    def observe(
        self,
        at: datetime,
        pot_c: float | None = None,
        core_c: float | None = None,
        ambient_c: float | None = None,
        irradiance_wm2: float | None = None,
    ) -> None:
        """Take one row of readings [°C; global horizontal W/m²]; None is no reading."""
        at_s = unix_s(at)
        self._log.trace.add(Role.POT, at_s, pot_c)
        self._log.trace.add(Role.CORE, at_s, core_c)
        self._log.trace.add(Role.AMBIENT, at_s, ambient_c)
        self._log.trace.add(Role.IRRADIANCE, at_s, irradiance_wm2)

    def event(self, event: Event) -> None:
        """Take note of what a person did. Raises CookError for a number that is none."""
        self._log.event(event)

    def forecast(self, now: datetime) -> Forecast | None:
        """The forecast for the load in the pot; None without load, reading or table of the sun."""
        seen = self._seen(now)
        if seen is None:
            return None
        outlook = look_ahead(self._log, self._knowledge, *seen)
        forecast = _told(now, outlook, seen[0], reasons(outlook, seen[0], self._wording))
        saved = _rescue(now, outlook, seen[0], self._heat)
        if saved is None:
            return forecast
        at = datetime.fromtimestamp(saved.at_s, UTC)
        return replace(forecast, rescue_at=at, rescue_because=saved.because)

    def leave(self, now: datetime, absence: Absence) -> LeftAim | None:
        """The best aim to leave the load with; None without one that is still to be done."""
        seen = self._seen(now)
        return None if seen is None else for_load(self._log, self._knowledge, *seen, absence)

    def _seen(self, now: datetime) -> tuple[Loaded, Situation] | None:
        now_s = unix_s(now)
        loaded = self._log.load_at(now_s)
        covered = any(t.start_s <= now_s <= t.end_s for t in self._log.tables)
        situation = self._log.situation(now_s)
        if loaded is None or situation is None or not covered:
            return None
        return loaded, situation


def _told(now: datetime, outlook: Outlook, loaded: Loaded, words: tuple[str, ...]) -> Forecast:
    done = outlook.reached_s[np.isfinite(outlook.reached_s)]
    share = len(done) / len(outlook.reached_s)
    p10 = p50 = p90 = None
    if share >= SELDOM:
        p10, p50, p90 = (_later(now, s) for s in np.quantile(done, QUANTILES))
    return Forecast(
        at=now,
        target_c=outlook.target_c,
        p_done=share,
        done_p10=p10,
        done_p50=p50,
        done_p90=p90,
        clear_sky_index=outlook.clear_sky_index,
        misaim_deg=outlook.misaim_deg,
        turn_saves_s=outlook.turn_saves_s,
        core_estimated=not outlook.core_read,
        curve=_curve(now, outlook),
        reasons=words,
        p_in_time=None if loaded.meal_s is None else _in_time(now, outlook, loaded, loaded.meal_s),
        cloud_cost_s=None if outlook.cloud is None else outlook.cloud.cost_s,
    )


def _in_time(now: datetime, outlook: Outlook, loaded: Loaded, meal_s: float) -> float:
    ready_s = unix_s(now) + outlook.reached_s + loaded.hold_s
    return float(np.mean(ready_s <= meal_s))


def _rescue(now: datetime, outlook: Outlook, loaded: Loaded, heat: OtherHeat) -> Rescue | None:
    """The rescue time by the poorest of ten courses; food that is done needs none."""
    if len(outlook.band_s) == 0:
        return None
    stakes = Stakes(
        target_c=outlook.target_c,
        mass_kg=loaded.mass_kg,
        wet=loaded.wet,
        hold_s=loaded.hold_s,
        meal_s=loaded.meal_s,
        safe_c=loaded.safe_c,
        lukewarm_since_s=loaded.at_s,  # nobody knows what was before
    )
    return rescue(unix_s(now) + outlook.band_s, outlook.band[0], stakes, heat)


def _curve(now: datetime, outlook: Outlook) -> tuple[CurvePoint, ...]:
    if len(outlook.band_s) < 2:
        return ()
    times = np.arange(0.0, outlook.band_s[-1] + 1.0, CURVE_S)
    rows = [np.interp(times, outlook.band_s, quantile).tolist() for quantile in outlook.band]
    return tuple(CurvePoint(_later(now, t), *cores) for t, *cores in zip(times, *rows, strict=True))


def _later(now: datetime, seconds: float) -> datetime:
    return datetime.fromtimestamp(now.timestamp() + float(seconds), UTC)
