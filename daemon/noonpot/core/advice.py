"""What to do next at a cooker, in one sentence."""

from dataclasses import dataclass

from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.facts import Case
from noonpot.core.forecast import Forecast
from noonpot.core.rules import RULES
from noonpot.core.rules.prospects import held, percent

SURE, UNLIKELY = 0.8, 0.2
"""From so much on a chance needs no plan B; below so much ``rescue`` speaks (our choice)."""
SHOWN = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
TOLD_BY_STAGE = ("soon", "sky")
"""What these say is in the newest forecast, and later than they said it."""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next. ``alarm`` is the one that asks for it, None when it is the stage."""

    text: str
    alarm: str | None = None


def advice(case: Case) -> Advice:
    """What to do next: what the most important alarm says, in the words of now, or else what this
    stage of the cook asks for.
    """
    raised = [
        (record, condition)
        for record in case.records.values()
        if record.state in SHOWN and record.alarm not in TOLD_BY_STAGE
        for condition in (RULES[record.alarm](case),)
        if condition.active is not False or record.latched
    ]
    if not raised:
        return Advice(_of_stage(case))
    record, condition = max(raised, key=lambda pair: _weight(pair[0]))
    text = condition.text if condition.active and condition.text else record.text
    return Advice(_without_name(text, case.facts.cooker.name), record.alarm)


def _weight(record: AlarmRecord) -> tuple[int, float]:
    return record.priority.rank, record.since.mono_s


def _without_name(text: str, cooker: str) -> str:
    said = text.removeprefix(f"{cooker}: ")
    return said[:1].upper() + said[1:]


def _of_stage(case: Case) -> str:
    facts, wording = case.facts, case.wording
    cook, food = facts.cook, facts.food
    if cook is None:
        return "Nothing cooks here."
    if facts.emptied:
        return "It is out. Put the next food in, or end the cook; cover the cooker or turn it away."
    if cook.load is None and food is not None and food.loading_pot_c is not None:
        wanted = wording.temperature(food.loading_pot_c)
        if facts.pot_c is None:
            return f"Heat the empty pot to {wanted}."
        return f"Heat the empty pot: {wording.temperature(facts.pot_c)} of {wanted} so far."
    if cook.load is None:
        return "Put the food in, and say so."
    if cook.aim is None:
        return "Say where the cooker points: only then can you be told when to turn it."
    if facts.forecast is None:
        return "Leave it closed. The forecast follows."
    return _of_forecast(case, facts.forecast)


def _of_forecast(case: Case, forecast: Forecast) -> str:
    """A forecast is about the target; some food must hold it for hours before it is done."""
    clock, chance, reached = case.wording.clock, percent(forecast.p_done), forecast.done_p50
    if reached is not None and reached <= case.facts.at:
        return f"Leave it closed and hot until about {clock(held(case, reached))}."
    if case.records["soon"].active and reached is not None:
        return f"Be there, with gloves: done about {clock(held(case, reached))}."
    if forecast.p_done >= SURE and reached is not None:
        return f"Leave it closed. Done about {clock(held(case, reached))}; you will be told."
    if forecast.p_done < UNLIKELY:
        return f"Cook it another way: the sun gets it done with a chance of {chance} only."
    if forecast.rescue_at is None:
        return f"Leave it closed, and have another heat ready: the chance is {chance}."
    by = clock(forecast.rescue_at)
    if forecast.rescue_at <= case.facts.at:
        return f"Another heat was wanted by {by}; look at the food: the chance is {chance}."
    return f"Leave it closed; another heat must be ready by {by}: the chance is {chance}."
