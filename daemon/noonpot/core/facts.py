"""All that is known of one cooker at one moment, as the rules of the alarms see it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import Cook
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.policy import HOT_PROBE_S, LAST_CALL, AlarmPolicy, RuleLimits
from noonpot.core.readings import Fault
from noonpot.core.safety import Safety
from noonpot.core.sanity_signs import Sign
from noonpot.core.station import CookerSpec
from noonpot.core.sun import SunSky
from noonpot.core.wording import Wording

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Facts:
    """All that is known of one cooker at one moment.

    ``pot_c``, ``core_c``, ``ambient_c`` [°C] and ``irradiance_wm2`` (global horizontal) are the
    last trustworthy readings, None once they are too old;
    ``heard_at`` is when any probe of this cooker was last trustworthy and ``silent_s`` how long ago
    that is [s]. ``sun`` is None while the clock is not to be trusted or the day table not at hand,
    ``sun_up`` says whether it stands clear of the horizon. ``target_c`` is the core temperature
    that means done [°C], ``forecast`` the last one of the load in the pot, None when that is too
    old; ``misaim_deg`` the angle between aim and sun [degrees]. ``at`` is now, ``boiling_c`` where
    water boils here [°C]. ``core_rose`` is False while the core of this load was never seen below
    the target and 57 °C. ``mono_s`` is now on the monotonic clock; ``signs`` say which probes do
    not show what they are called: their readings are not among those above. ``safety`` is what the
    load has been through, None where nothing is in the pot that can make people ill. ``emptied``:
    this cook's food was taken out, and no other was put in.
    """

    cooker: CookerSpec
    cook: Cook | None
    food: Food | None
    target_c: float | None
    pot_c: float | None
    core_c: float | None
    ambient_c: float | None
    irradiance_wm2: float | None
    faults: tuple[Fault, ...]
    heard_at: datetime
    silent_s: float
    core_rose: bool = True
    at: datetime = EPOCH
    boiling_c: float = 100.0
    clock_trusted: bool = True
    forecast: Forecast | None = None
    sun: SunSky | None = None
    sun_up: bool = False
    misaim_deg: float | None = None
    mono_s: float = 0.0
    signs: tuple[Sign, ...] = ()
    safety: Safety | None = None
    emptied: bool = False

    @property
    def dish(self) -> str:
        """What is in the pot, or comes into it, in a word."""
        return (self.cook.food if self.cook else "") or "the food"

    @property
    def hazardous(self) -> bool:
        """Whether what is in the pot can make people ill; unknown food is taken for the worst."""
        loaded = self.cook is not None and self.cook.load is not None
        return loaded and (self.food is None or self.food.hazardous)


@dataclass(frozen=True, slots=True)
class Case:
    """One look at one cooker: the facts, how its alarms stand (a deadband and a latch need to know
    it), and the household's limits and words.
    """

    facts: Facts
    records: Mapping[str, AlarmRecord]
    policies: Mapping[str, AlarmPolicy]
    limits: RuleLimits
    wording: Wording

    def deadband(self, alarm: str) -> float:
        """What a condition must fall short of its limit before it counts as gone."""
        return self.policies[alarm].deadband if self.records[alarm].active else 0.0

    def policy(self, alarm: str) -> AlarmPolicy:
        """The timing of an alarm, which the food may change. ``done`` waits for the hold of the
        food, and longer for a core that was hot from the start: that may be the heat of the pot,
        still in the probe; of food that can make people ill it cannot be put off. ``overdone``
        waits for what the food bears, and ``rescue`` for nothing when it is the last moment; before
        its last call it is not repeated.
        """
        policy, food, forecast = self.policies[alarm], self.facts.food, self.facts.forecast
        if alarm == "done":
            hold_s = food.hold_s if food else 0.0
            cooling_s = 0.0 if self.facts.core_rose else HOT_PROBE_S
            policy = replace(policy, on_delay_s=max(policy.on_delay_s, hold_s, cooling_s))
            return policy.made_safe() if self.facts.hazardous else policy
        if alarm == "overdone":
            borne_s = food.overdone_s if food else None
            return policy if borne_s is None else replace(policy, on_delay_s=borne_s)
        if alarm == "rescue":
            if self.records["rescue"].subject != LAST_CALL:
                policy = replace(policy, escalate_s=None)
            if forecast is not None and forecast.rescue_at is not None:
                left_s = (forecast.rescue_at - self.facts.at).total_seconds()
                return replace(policy, on_delay_s=min(policy.on_delay_s, max(left_s, 0.0)))
        return policy
