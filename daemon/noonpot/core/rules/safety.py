"""Alarms about people's health: food lukewarm for too long, cooling too slowly, or seen by nobody.

Nothing that is not known clears them; and while the clock is not set nothing does, for after a
restart it cannot be told then how long the food stood unseen.
"""

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.facts import Case, Facts
from noonpot.core.policy import AlarmPolicy
from noonpot.core.safety import ADVICE_C, COLD_C, HOT_C, Safety
from noonpot.core.wording import Wording

NEARS = 0.75
"""The share of the limit at which one is warned. Our choice: an hour before four are over, time
enough to heat a kitchen and a pot.
"""
REHEAT_C = 74.0
"""Food that has cooled is heated to this: FDA Food Code 3-403.11, 165 °F."""
OVER = Condition(active=False, reset=True)


def danger_zone(case: Case) -> Condition:
    """Food stands between 5 and 57 °C, or unseen, for so long that the limit nears or is passed."""
    facts, safety = case.facts, case.facts.safety
    if safety is None:
        return OVER
    if safety.course.spoiled:
        text = discard_words(case.wording, who(facts), safety)
        return Condition(active=True, subject="passed", text=text)
    if safety.course.danger_s >= NEARS * safety.limit_s:
        text = heat_words(case.wording, who(facts), safety, until(case, safety))
        return Condition(active=True, subject="nears", text=text)
    return Condition(active=absent(facts))


def hold(case: Case) -> Condition:
    """Cooked food is no longer kept hot."""
    facts, safety = case.facts, case.facts.safety
    if safety is None:
        return OVER
    if safety.course.spoiled or safety.course.late or not safety.course.cooked:
        return Condition(active=absent(facts))
    if safety.core_c is None:
        return Condition(active=None)
    if safety.core_c >= HOT_C + case.deadband("hold"):
        return Condition(active=absent(facts))
    text = hold_words(case.wording, who(facts), safety.core_c, until(case, safety))
    return Condition(active=True, text=text)


def cooling(case: Case) -> Condition:
    """Cooked food has not cooled down in time, as far as anyone saw."""
    facts, safety = case.facts, case.facts.safety
    if safety is None:
        return OVER
    if safety.course.late is None or safety.course.spoiled:
        return Condition(active=absent(facts))
    below_c, within_s = safety.course.late
    text = cooling_words(case.wording, who(facts), below_c, within_s, safety.core_c)
    return Condition(active=True, subject=f"{within_s:.0f}", text=text)


def food_unknown(case: Case) -> Condition:
    """For too long nobody saw how warm the food is: its probe was lost, or the monitor was off."""
    facts, safety = case.facts, case.facts.safety
    if safety is None:
        return OVER
    if safety.blind_s is not None:
        text = unknown_words(who(facts), safety.blind_s, off=safety.off)
        return Condition(active=True, text=text)
    if safety.restarted and not facts.clock_trusted:
        return Condition(active=True, text=unknown_words(who(facts), None, off=True))
    return Condition(active=absent(facts))


def absent(facts: Facts) -> bool | None:
    """False where it can be known that nothing is wrong."""
    return False if facts.clock_trusted else None


def who(facts: Facts) -> str:
    """The cooker and the food in it."""
    load = facts.cook.load if facts.cook else None
    return f"{facts.cooker.name}: {load.food if load and load.food else 'food'}"


def until(case: Case, safety: Safety) -> str:
    """When the food has stood lukewarm for too long, by the clock if that is set."""
    if case.facts.clock_trusted:
        return f"by {case.wording.clock(safety.spoils_at)}"
    return f"within {minutes(safety.limit_s - safety.course.danger_s)}"


def minutes(seconds: float) -> str:
    """A time in whole minutes."""
    return f"{max(seconds, 0.0) / 60:.0f} min"


def stood(wording: Wording, safety: Safety) -> str:
    """How long the food was lukewarm, and how much of it nobody saw."""
    unseen = (
        f", {safety.course.unknown_s / 60:.0f} of them unseen"
        if safety.course.unknown_s >= 60
        else ""
    )
    low, high = wording.temperature(COLD_C), wording.temperature(HOT_C)
    return f"{minutes(safety.course.danger_s)} at {low} to {high}{unseen}"


def heat_words(wording: Wording, who: str, safety: Safety, until: str) -> str:
    """It is high time to heat the food."""
    return (
        f"{who}, {stood(wording, safety)}; {safety.limit_s / 60:.0f} is the limit. "
        f"Heat it above {wording.temperature(ADVICE_C)} {until}, or discard it."
    )


def discard_words(wording: Wording, who: str, safety: Safety) -> str:
    """It is too late for heat."""
    return (
        f"{who}, {stood(wording, safety)}; {safety.limit_s / 60:.0f} was the limit. "
        "Discard it; heat does not mend it."
    )


def hold_words(wording: Wording, who: str, core_c: float, until: str) -> str:
    """Cooked food gets lukewarm."""
    return (
        f"{who} was cooked, now its core has cooled to {wording.temperature(core_c)}. Eat it "
        f"{until}, heat it above {wording.temperature(ADVICE_C)}, or chill it at once."
    )


def cooling_words(
    wording: Wording, who: str, below_c: float, within_s: float, core_c: float | None
) -> str:
    """Cooked food stays lukewarm."""
    now = "unknown" if core_c is None else wording.temperature(core_c)
    return (
        f"{who} cools too slowly: not below {wording.temperature(below_c)} within "
        f"{within_s / 3600:.0f} h, now {now}. Heat it to {wording.temperature(REHEAT_C)} at once "
        "and eat it, or discard it."
    )


def unknown_words(who: str, seconds: float | None, *, off: bool) -> str:
    """Nobody knows how warm the food is, or was."""
    cooker, food = who.split(": ", 1)
    if off:
        gone = "an unknown time" if seconds is None else f"about {minutes(seconds)} (not certain)"
        what = f"monitor was off for {gone}: unsafe time for {food}"
    else:
        what = f"core of {food} unknown for {minutes(seconds or 0.0)}, counted as unsafe"
    return f"{cooker}: {what}. Measure its core by hand; in doubt discard it."


RULES = {
    "danger-zone": danger_zone,
    "hold": hold,
    "cooling": cooling,
    "food-unknown": food_unknown,
}

# No on-delay where the limit is itself a time; where nothing is said the number is our choice.
POLICIES = {
    "danger-zone": AlarmPolicy(
        on_delay_s=0,
        off_delay_s=60,
        re_alarm_s=1800,
        expires_s=14_400,  # 4 h, as long as the limit: FDA Food Code 3-501.19
        priority=Priority.URGENT,
        escalate_s=600,
        safety=True,
    ),
    "hold": AlarmPolicy(
        on_delay_s=60,  # ISA-18.2 and EEMUA 191, temperature (from memory)
        off_delay_s=60,
        re_alarm_s=3600,  # it was heard, and four hours are long
        expires_s=7200,
        priority=Priority.HIGH,
        deadband=2.0,  # 1 % of the range, from the same
        escalate_s=1800,
        safety=True,
    ),
    "cooling": AlarmPolicy(
        on_delay_s=0,
        off_delay_s=60,
        re_alarm_s=3600,
        expires_s=14_400,
        priority=Priority.HIGH,
        escalate_s=1800,
        safety=True,
    ),
    "food-unknown": AlarmPolicy(
        on_delay_s=0,
        off_delay_s=60,
        re_alarm_s=1800,
        expires_s=14_400,
        priority=Priority.URGENT,
        escalate_s=600,
        latched=True,
        safety=True,
    ),
}
