"""Alarms by the forecast: the food is done soon, is held up by cloud, or needs another heat."""

from datetime import datetime, timedelta

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.facts import Case
from noonpot.core.forecast import Forecast
from noonpot.core.outlook import CLOUDY
from noonpot.core.policy import LAST_CALL, AlarmPolicy
from noonpot.core.rescue import Because
from noonpot.core.wording import MINUTE_S

LIKELY = 0.5
"""Food with a smaller chance than this is not said to be done soon (our choice)."""
NEARS_S = 1800.0
"""So long before its rescue time food is spoken of once more. Our choice: twice what a kitchen
needs to get hot.
"""


def soon(case: Case) -> Condition:
    """The food will be done before long. Once said it is said for this load."""
    forecast, record = case.facts.forecast, case.records["soon"]
    if is_over(case):
        return Condition(active=False)
    if record.active:
        return Condition(active=True, text=record.text)
    if forecast is None:
        return Condition(active=None)
    if forecast.done_p50 is None or forecast.p_done < LIKELY:
        return Condition(active=False)
    left_s = (held(case, forecast.done_p50) - case.facts.at).total_seconds()
    return Condition(active=0 < left_s <= case.limits.soon_s, text=soon_words(case, forecast))


def held(case: Case, reached: datetime) -> datetime:
    """When the food is done that reaches its target at a time: it must hold it, some for hours."""
    hold_s = case.facts.food.hold_s if case.facts.food else 0.0
    return reached + timedelta(seconds=hold_s)


def soon_words(case: Case, forecast: Forecast) -> str:
    """When the food will be done, and between when and when."""
    clock = case.wording.clock
    p10, p50, p90 = (
        "?" if at is None else clock(held(case, at))
        for at in (forecast.done_p10, forecast.done_p50, forecast.done_p90)
    )
    # Once the target is reached, only its hold is waited for.
    span = "if it stays as hot" if p10 == p90 else f"most likely between {p10} and {p90}"
    return (
        f"{case.facts.cooker.name}: {case.facts.dish} will be done about {p50}, {span}. "
        "Be there, with gloves."
    )


def sky(case: Case) -> Condition:
    """The food is behind because of cloud; the aim costs less. Nothing can be done at the cooker.
    Food whose chance is small is told of as ``rescue``.
    """
    forecast = case.facts.forecast
    if is_over(case) or case.records["rescue"].active:
        return Condition(active=False)
    if forecast is None:
        return Condition(active=None)
    cost_s = forecast.cloud_cost_s
    if cost_s is None:  # the sky is clear, or the food will hardly be done
        index = forecast.clear_sky_index
        behind = forecast.p_done < LIKELY and index is not None and index < CLOUDY
    else:
        least_s = case.limits.cloud_cost_s - case.deadband("sky")
        behind = cost_s >= least_s and cost_s > (forecast.turn_saves_s or 0.0)
    return Condition(active=behind, text=sky_words(case, forecast))


def sky_words(case: Case, forecast: Forecast) -> str:
    """What cloud costs, and when the food is now expected."""
    who, dish, cost_s = case.facts.cooker.name, case.facts.dish, forecast.cloud_cost_s
    told = f"{who}: under this cloud {dish} has a {percent(forecast.p_done)} chance today."
    if cost_s is not None and forecast.done_p50 and forecast.done_p90:
        p50, p90 = (
            case.wording.clock(held(case, at)) for at in (forecast.done_p50, forecast.done_p90)
        )
        late = f"{cost_s / MINUTE_S:.0f} min"
        told = f"{who}: cloud costs {dish} {late}; done about {p50}, 9 in 10 by {p90}."
    return f"{told} Turning will not help; wait or use another heat."


def rescue(case: Case) -> Condition:
    """The food will hardly be done in time: by the meal, or today where no meal was named. It stays
    until the pot is emptied or loaded anew, because food that was moved is not moved back. What can
    be done about it stays the same, so it is told once, and once more when the rescue time is near.
    """
    forecast, record = case.facts.forecast, case.records["rescue"]
    if is_over(case):
        return Condition(active=False, reset=True)
    if forecast is None:
        return Condition(active=None)
    chance = forecast.p_done if forecast.p_in_time is None else forecast.p_in_time
    least = case.limits.least_chance + case.deadband("rescue")
    at = forecast.rescue_at
    near = at is not None and (at - case.facts.at).total_seconds() <= NEARS_S
    last = near or (record.active and record.subject == LAST_CALL)
    return Condition(
        active=chance < least,
        subject=LAST_CALL if last else "",
        text=rescue_words(case, forecast, chance),
    )


def rescue_words(case: Case, forecast: Forecast, chance: float) -> str:
    """How small the chance is, and by when the food must be moved."""
    goal = "today" if forecast.p_in_time is None else "in time for the meal"
    told = (
        f"{case.facts.cooker.name}: only a {percent(chance)} chance that {case.facts.dish} is done "
        f"{goal}."
    )
    at = forecast.rescue_at
    if at is not None and at > case.facts.at:
        return f"{told} Move it to another heat by {case.wording.clock(at)}."
    if at is not None and forecast.rescue_because is Because.SAFETY:
        return f"{told} Too late to move it safely: in doubt, discard it."
    return f"{told} Move it to another heat now."


def is_over(case: Case) -> bool:
    """Whether there is nothing to wait for: nothing in the pot, or it is done."""
    cook = case.facts.cook
    return cook is None or cook.load is None or case.records["done"].active


def percent(share: float) -> str:
    """A chance for people. Nothing is certain that is yet to come.

    >>> percent(0.123), percent(0.004), percent(0.999)
    ('12 %', '1 %', '99 %')
    """
    return f"{min(max(100 * share, 1.0), 99.0):.0f} %"


RULES = {"soon": soon, "sky": sky, "rescue": rescue}

# Forecasts come once a minute. Numbers without another word are our choice.
POLICIES = {
    "soon": AlarmPolicy(
        on_delay_s=120,  # three forecasts in a row, a minute apart
        off_delay_s=60,
        re_alarm_s=None,
        expires_s=900,  # then it is done
        priority=Priority.MEDIUM,
    ),
    "sky": AlarmPolicy(
        on_delay_s=600,  # a cloud that passes is no news
        off_delay_s=600,
        re_alarm_s=None,
        expires_s=1800,
        priority=Priority.LOW,
        deadband=600.0,  # seconds that cloud costs
        spacing_s=7200,  # nothing can be done about it; twice a cook, mostly
    ),
    "rescue": AlarmPolicy(
        on_delay_s=180,  # four forecasts in a row; none when it is the last moment
        off_delay_s=600,
        re_alarm_s=None,  # it was heard, and nothing else could be said
        expires_s=14_400,
        priority=Priority.HIGH,
        deadband=0.15,  # raised below a chance of 20 %, gone above 35 %
        escalate_s=600,  # when the rescue time is near; before, there is time
        repeats=1,
        spacing_s=7200,  # a sky that brightens and darkens makes no other remedy
        latched=True,
    ),
}
