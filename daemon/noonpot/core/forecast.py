"""When will the core reach its target, and will it at all."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from noonpot.core.cook import Event
from noonpot.core.cooklog import CookLog
from noonpot.core.foods import Food
from noonpot.core.learning import Knowledge
from noonpot.core.outlook import Outlook, look_ahead
from noonpot.core.readings import Role
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import DayTable, unix_s

SELDOM = 0.01
"""Where fewer futures than this end well, no time is told."""


@dataclass(frozen=True, slots=True)
class Forecast:
    """What can be said at ``at`` about reaching ``target_c`` [°C].

    ``p_done`` is the probability of reaching it before the sun is lost; ``done_p10/p50/p90`` are
    the quantiles of the time of reaching it, given that it is reached, None where p_done < 0.01.
    ``clear_sky_index`` is irradiance over clear-sky irradiance, ``misaim_deg`` the angle between
    aim and sun [degrees]; both None when unknown. ``reasons`` say in words what weighs on the
    forecast.
    """

    at: datetime
    target_c: float
    p_done: float
    done_p10: datetime | None
    done_p50: datetime | None
    done_p90: datetime | None
    clear_sky_index: float | None = None
    misaim_deg: float | None = None
    reasons: tuple[str, ...] = ()


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
    ) -> None:
        self._log = CookLog(spec, place, tables, foods or {})
        self._knowledge = knowledge

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
        now_s = unix_s(now)
        loaded = self._log.load_at(now_s)
        covered = any(t.start_s <= now_s <= t.end_s for t in self._log.tables)
        situation = self._log.situation(now_s)
        if loaded is None or situation is None or not covered:
            return None
        return _told(now, look_ahead(self._log, self._knowledge, loaded, situation))


def _told(now: datetime, outlook: Outlook) -> Forecast:
    done = outlook.reached_s[np.isfinite(outlook.reached_s)]
    share = len(done) / len(outlook.reached_s)
    p10 = p50 = p90 = None
    if share >= SELDOM:
        quantiles = now.timestamp() + np.quantile(done, [0.1, 0.5, 0.9])
        p10, p50, p90 = (datetime.fromtimestamp(float(q), UTC) for q in quantiles)
    return Forecast(
        at=now,
        target_c=outlook.target_c,
        p_done=share,
        done_p10=p10,
        done_p50=p50,
        done_p90=p90,
        clear_sky_index=outlook.clear_sky_index,
        misaim_deg=outlook.misaim_deg,
        reasons=outlook.reasons,
    )
