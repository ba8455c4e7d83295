"""All that a report tells of one cook, as values."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from noonpot.core.cook import Cook, Event, Load
from noonpot.core.curve import Curve
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.safety import Course, Safety
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import SunSky
from noonpot.core.wording import Wording


@dataclass(frozen=True, slots=True)
class Look:
    """What was known at one moment: trustworthy readings [°C; global horizontal W/m²], where the
    sun stood, and how far the cooker pointed beside it [degrees]; None is not known.
    """

    at: datetime
    ambient_c: float | None = None
    irradiance_wm2: float | None = None
    sun: SunSky | None = None
    sun_up: bool = False
    misaim_deg: float | None = None


@dataclass(frozen=True, slots=True)
class SafetyTale:
    """What the safety log of one load said. ``last`` is how it stood at the end; ``safe_at`` when
    the heat had done its work for the first time, ``before`` the course until just then and
    ``after`` the one since then that was lukewarm for the longest, None when that never was;
    ``again_at`` when the heat had last done its work anew. ``watched`` is False for a cooker
    without a probe for the food.
    """

    last: Safety
    safe_at: datetime | None = None
    before: Course | None = None
    after: Course | None = None
    again_at: datetime | None = None
    watched: bool = True


@dataclass(frozen=True, slots=True)
class LoadTale:
    """What became of one load. ``reached`` is when the core first came to ``target_c`` [°C],
    ``done`` when the watch said that it had held it; ``until`` is when it was taken out, None while
    it is in the pot. ``safety`` is None for food that cannot make people ill.
    """

    load: Load
    food: Food | None
    until: datetime | None
    target_c: float | None = None
    reached: datetime | None = None
    done: datetime | None = None
    peak_core_c: float | None = None
    safety: SafetyTale | None = None

    def holds(self, at: datetime) -> bool:
        """Whether this load was in the pot then."""
        return self.load.at <= at and (self.until is None or at <= self.until)


@dataclass(frozen=True, slots=True)
class CookReport:
    """One cook, told until ``until``; ``cut`` when it went on for longer than a report looks.

    ``curve`` are the readings as they were stored, ``looks`` what was made of them, ``events`` what
    people did, the aim at the start among it. ``boiling_c`` is where water boils there [°C].
    """

    cook: Cook
    cooker: CookerSpec
    place: Place
    station: str
    until: datetime
    made_at: datetime
    wording: Wording
    boiling_c: float
    curve: Curve
    events: Sequence[Event] = ()
    looks: Sequence[Look] = ()
    loads: Sequence[LoadTale] = ()
    forecasts: Sequence[Forecast] = ()
    verdict: Event | None = None
    cut: bool = False
