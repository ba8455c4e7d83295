"""From facts to conditions: which alarms hold now. What cannot be known is None, never False."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from noonpot.core.alarms import AlarmRecord, Condition
from noonpot.core.cook import Cook
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.light import beam_share
from noonpot.core.policy import HOT_PROBE_S, AlarmPolicy, RuleLimits
from noonpot.core.readings import Fault
from noonpot.core.station import CookerSpec
from noonpot.core.sun import SunSky, light_share
from noonpot.core.wording import Wording

LEAST_BEAM = 0.2
"""With less of a clear sky's beam one speaks of a cloud before the sun (our choice)."""


@dataclass(frozen=True, slots=True)
class Facts:
    """All that is known of one cooker at one moment.

    ``pot_c``, ``core_c``, ``ambient_c`` [°C] and ``irradiance_wm2`` (global horizontal) are the
    last trustworthy readings, None once they are too old;
    ``heard_at`` is when any probe of this cooker was last trustworthy and ``silent_s`` how long ago
    that is [s]. ``sun`` is None while the clock is not to be trusted or the day table not at hand,
    ``sun_up`` says whether it stands clear of the horizon. ``target_c`` is the core temperature
    that means done [°C], ``forecast`` the last one of the load in the pot, None when that is too
    old; ``misaim_deg`` the angle between aim and sun [degrees]. ``core_rose`` is
    False while the core of this load was never seen below the target.
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
    clock_trusted: bool = True
    forecast: Forecast | None = None
    sun: SunSky | None = None
    sun_up: bool = False
    misaim_deg: float | None = None


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
        """The timing of an alarm. ``done`` waits for the hold of the food, and longer for a core
        that was hot from the start: that may be the heat of the pot, still in the probe.
        """
        policy = self.policies[alarm]
        if alarm != "done":
            return policy
        hold_s = self.facts.food.hold_s if self.facts.food else 0.0
        cooling_s = 0.0 if self.facts.core_rose else HOT_PROBE_S
        return replace(policy, on_delay_s=max(policy.on_delay_s, hold_s, cooling_s))


def evaluate(case: Case) -> dict[str, Condition]:
    """The condition of every alarm of one cooker."""
    return {alarm: rule(case) for alarm, rule in RULES.items()}


def preheated(case: Case) -> Condition:
    """The pot holds the loading temperature of the food that is to come."""
    facts = case.facts
    cook, food = facts.cook, facts.food
    if cook is None or cook.load is not None or food is None or food.loading_pot_c is None:
        return Condition(active=False)
    if facts.pot_c is None:
        return Condition(active=None)
    limit_c = food.loading_pot_c - case.deadband("preheated")
    return Condition(
        active=facts.pot_c >= limit_c,
        subject=food.name,
        text=case.wording.preheated(facts.cooker.name, facts.pot_c, food.loading_pot_c, food.name),
    )


def done(case: Case) -> Condition:
    """The core held the target. Once done, the load stays done: the alarm is latched, and reset
    when another load is put in.
    """
    facts, record = case.facts, case.records["done"]
    cook, food = facts.cook, facts.food
    if cook is None or cook.load is None or facts.target_c is None:
        return Condition(active=False)
    if record.active:
        return Condition(active=True, text=record.text)
    if facts.core_c is None:
        return Condition(active=None)
    hold_s = food.hold_s if food else 0.0
    hazardous = food.hazardous if food else True  # an unknown food is treated as the worst
    return Condition(
        active=facts.core_c >= facts.target_c,
        text=case.wording.done(
            facts.cooker.name, cook.load.food, facts.core_c, hold_s, hazardous=hazardous
        ),
    )


def turn(case: Case) -> Condition:
    """Turning now is worth the walk: it wins light, the beam is there to be won, and the food is
    done sooner for it. Once raised it follows the angle alone, so that clouds do not make it come
    and go. While the clock is not to be trusted it is suppressed.
    """
    facts = case.facts
    if facts.cook is None or facts.cook.aim is None or case.records["done"].active:
        return Condition(active=False)
    if not facts.clock_trusted:
        return Condition(active=None, suppressed=True)
    if facts.sun is None or facts.misaim_deg is None:
        return Condition(active=None)  # the day table is not at hand yet, after a restart say
    if not facts.sun_up:
        return Condition(active=False)
    gains = light_gain(facts.misaim_deg + case.deadband("turn"), facts) >= case.limits.min_gain
    saved_s = facts.forecast.turn_saves_s if facts.forecast else None
    matters = saved_s is None or saved_s >= case.limits.min_saved_s
    return Condition(
        active=gains and (case.records["turn"].active or (beam_is_there(facts) and matters)),
        text=case.wording.turn(
            facts.cooker.name,
            facts.misaim_deg,
            light_gain(facts.misaim_deg, facts),
            facts.sun.azimuth_deg,
            facts.sun.elevation_deg,
            saved_s,
        ),
    )


def light_gain(misaim_deg: float, facts: Facts) -> float:
    """The share of direct light that turning to the sun would add, 0.15 = 15 %, at most tenfold."""
    share = light_share(misaim_deg, facts.cooker.acceptance_deg)
    return 10.0 if share < 0.1 else min(10.0, 1.0 / share - 1.0)


def beam_is_there(facts: Facts) -> bool:
    """Whether the sun shines through, by the forecast's sky or by an irradiance probe. Light that
    comes from the whole sky is not won by turning; a sky that nobody knows gets the benefit.
    """
    index = facts.forecast.clear_sky_index if facts.forecast else None
    if index is None and facts.irradiance_wm2 is not None and facts.sun is not None:
        index = facts.irradiance_wm2 / max(facts.sun.ghi, 1.0)
    return index is None or float(beam_share(np.array(index))) >= LEAST_BEAM


def probe(case: Case) -> Condition:
    """A probe of this cooker shows a named fault."""
    facts = case.facts
    if not facts.faults:
        return Condition(active=False)
    return Condition(
        active=True,
        subject=",".join(sorted(f"{fault.probe}:{fault.kind}" for fault in facts.faults)),
        text=case.wording.probe(facts.cooker.name, list(facts.faults)),
    )


def no_news(case: Case) -> Condition:
    """A cook runs and no probe of its cooker has said anything trustworthy for too long."""
    facts = case.facts
    if facts.cook is None:
        return Condition(active=False)
    return Condition(
        active=facts.silent_s >= case.limits.no_news_s,
        text=case.wording.no_news(facts.cooker.name, facts.heard_at),
    )


RULES = {
    "preheated": preheated,
    "done": done,
    "turn": turn,
    "probe": probe,
    "no-news": no_news,
}
