"""Alarms on the way to the table: the pot is hot, turn the cooker, the food is done."""

import numpy as np

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.facts import Case, Facts
from noonpot.core.light import beam_share
from noonpot.core.policy import AlarmPolicy
from noonpot.core.sun import light_share

LEAST_BEAM = 0.2
"""With less of a clear sky's beam one speaks of a cloud before the sun (our choice)."""


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


RULES = {"preheated": preheated, "done": done, "turn": turn}

# Temperatures: delays of 60 s and a deadband of 1 % of the range (2 °C of 200 °C) are the start
# values of ISA-18.2 and EEMUA 191 (from memory). Where nothing else is said the number is our
# choice, made so that one person gets few messages and none that is too late to act on.
POLICIES = {
    "preheated": AlarmPolicy(
        on_delay_s=60,
        off_delay_s=60,
        re_alarm_s=None,
        expires_s=3600,  # an hour later it is another sky
        priority=Priority.MEDIUM,
        deadband=2.0,
    ),
    "done": AlarmPolicy(
        on_delay_s=60,  # or the hold of the food, if that is longer
        off_delay_s=60,
        re_alarm_s=1800,  # seen and forgotten, it dries out or burns
        expires_s=14_400,  # 4 h: FDA Food Code 3-501.19, then food without heat is discarded
        priority=Priority.HIGH,
        deadband=2.0,
    ),
    "turn": AlarmPolicy(
        on_delay_s=0,  # an angle does not flutter
        off_delay_s=60,
        re_alarm_s=1800,
        expires_s=1800,  # the sun goes 15° an hour: by then the bearing is 7° wrong
        priority=Priority.MEDIUM,
        deadband=2.0,
    ),
}
