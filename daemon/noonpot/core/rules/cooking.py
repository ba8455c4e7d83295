"""Alarms on the way to the table: the pot is hot, turn the cooker, food is done, or overdone."""

import numpy as np

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.facts import Case, Facts
from noonpot.core.light import beam_share
from noonpot.core.policy import AlarmPolicy
from noonpot.core.sun import light_share
from noonpot.core.wording import MINUTE_S

LEAST_BEAM = 0.2
"""With less of a clear sky's beam one speaks of a cloud before the sun (our choice)."""
FAR_OFF_GAIN = 0.5
"""An aim that a turn would better by this share may spoil a meal by itself (our choice)."""
STILL_HOT_K = 15.0
"""So far below its target food still dries out or falls apart (our choice)."""
SIMMERING_K = 3.0
"""So far below boiling water is lost as steam: a moist core comes to rest 1 to 3 K below (common
practice, no source)."""


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
    """The core held the target, and food that can make people ill was hot for long enough. Once
    done, the load stays done: the alarm is latched, and reset when another load is put in.
    """
    facts, record = case.facts, case.records["done"]
    cook, food = facts.cook, facts.food
    if cook is None or cook.load is None or facts.target_c is None:
        return Condition(active=False)
    if facts.safety is not None and facts.safety.course.spoiled:
        return Condition(active=False)  # it stood lukewarm for too long, before or since
    if record.active:
        return Condition(active=True, text=record.text)
    if facts.core_c is None or (facts.hazardous and not vouched(facts)):
        return Condition(active=None)
    safe = not facts.hazardous or (facts.safety is not None and facts.safety.course.safe)
    return Condition(
        active=safe and facts.core_c >= facts.target_c,
        text=case.wording.done(
            facts.cooker.name,
            cook.load.food,
            facts.core_c,
            food.hold_s if food else 0.0,
            hazardous=facts.hazardous,
        ),
    )


def vouched(facts: Facts) -> bool:
    """Whether the coldest place of the food is known, by probes in which nothing seems wrong."""
    safety = facts.safety
    if safety is None or safety.core_c is None:
        return False
    return safety.probes.isdisjoint(fault.probe for fault in facts.faults)


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
    worth = beam_is_there(facts) and matters(case, saved_s)
    return Condition(
        active=gains and (case.records["turn"].active or worth),
        text=case.wording.turn(
            facts.cooker.name,
            facts.misaim_deg,
            light_gain(facts.misaim_deg, facts),
            facts.sun.azimuth_deg,
            facts.sun.elevation_deg,
            saved_s,
        ),
    )


def matters(case: Case, saved_s: float | None) -> bool:
    """Whether the food is on the table sooner for a turn. Where that is not known, it is not for
    food that is done soon; and who was told to move the food is told only of an aim so wrong that
    it may be the reason.
    """
    if saved_s is not None:
        return saved_s >= case.limits.min_saved_s
    if case.records["rescue"].active:
        return light_gain(case.facts.misaim_deg or 0.0, case.facts) >= FAR_OFF_GAIN
    return not case.records["soon"].active


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


def overdone(case: Case) -> Condition:
    """The food is done, still in the pot, and still hot; its on-delay is what the food bears."""
    facts, record = case.facts, case.records["overdone"]
    if facts.cook is None or facts.cook.load is None or facts.target_c is None:
        return Condition(active=False)
    if not case.records["done"].active:
        return Condition(active=False)
    heat_c = facts.pot_c if facts.core_c is None else facts.core_c
    if heat_c is None:
        return Condition(active=None)
    limit_c = facts.target_c - STILL_HOT_K
    if record.active or record.rising_s is not None:
        limit_c -= case.policies["overdone"].deadband
    return Condition(active=heat_c >= limit_c, text=overdone_words(case, heat_c))


def overdone_words(case: Case, heat_c: float) -> str:
    """How long the food has been done, and how hot it still is."""
    minutes = case.policy("overdone").on_delay_s / MINUTE_S
    return (
        f"{case.facts.cooker.name}: {case.facts.dish} was done {minutes:.0f} min ago and is still "
        f"in the pot at {case.wording.temperature(heat_c)}. Take it out with gloves."
    )


def boil_dry(case: Case) -> Condition:
    """Wet food has boiled for long; its on-delay is for how long."""
    facts, record = case.facts, case.records["boil-dry"]
    if facts.cook is None or facts.cook.load is None or facts.food is None or not facts.food.wet:
        return Condition(active=False)
    if facts.core_c is None:
        return Condition(active=None)
    limit_c = facts.boiling_c - SIMMERING_K
    if record.active or record.rising_s is not None:
        limit_c -= case.policies["boil-dry"].deadband
    return Condition(active=facts.core_c >= limit_c, text=boil_dry_words(case, facts.core_c))


def boil_dry_words(case: Case, core_c: float) -> str:
    """How long the food has boiled."""
    minutes = case.policies["boil-dry"].on_delay_s / MINUTE_S
    return (
        f"{case.facts.cooker.name}: {case.facts.dish} has boiled for {minutes:.0f} min, core "
        f"{case.wording.temperature(core_c)}. Open the lid away from your face; add hot water."
    )


RULES = {
    "preheated": preheated,
    "done": done,
    "turn": turn,
    "overdone": overdone,
    "boil-dry": boil_dry,
}

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
        escalate_s=600,  # ten minutes without an answer: nobody has seen it
        repeats=1,  # then ``overdone`` says more; food that can make ill has no such limit
    ),
    "turn": AlarmPolicy(
        on_delay_s=5,  # an angle does not flutter; after a restart the first forecast comes by then
        off_delay_s=60,
        re_alarm_s=1800,
        expires_s=1800,  # the sun goes 15° an hour: by then the bearing is 7° wrong
        priority=Priority.MEDIUM,
        deadband=2.0,
    ),
    "overdone": AlarmPolicy(
        on_delay_s=3600,  # or what the food bears; the same number as the limit
        off_delay_s=60,
        re_alarm_s=3600,
        expires_s=14_400,
        priority=Priority.MEDIUM,  # ``done`` has been told, and told again
        deadband=2.0,
    ),
    "boil-dry": AlarmPolicy(
        # 150 W, what a quarter of a square metre brings into a pot, boil off 240 g in an hour (heat
        # of vaporisation of water 2.26 MJ/kg); less under a good lid
        on_delay_s=3600,
        off_delay_s=300,  # a stir, or some cold water
        re_alarm_s=3600,
        expires_s=3600,
        priority=Priority.HIGH,
        deadband=2.0,
        escalate_s=600,
        repeats=1,
    ),
}
