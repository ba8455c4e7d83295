"""A plan in sentences and tables, as a cook reads it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from noonpot.core.forecast import SELDOM
from noonpot.core.planning import Loading, Plan, Wish
from noonpot.core.rehearsal import SURE
from noonpot.core.rescue import Because
from noonpot.core.wording import Wording

POINTS = 12
"""The curve is printed in about so many lines at most."""
NEVER = "-"


@dataclass(frozen=True, slots=True)
class Telling:
    """For whom the plan is told: the household's words, and what day it is there."""

    wording: Wording
    today: date

    def day(self, at: datetime) -> str:
        """A day for people: today, tomorrow, or its date."""
        local = at.astimezone(self.wording.timezone).date()
        apart = (local - self.today).days
        return {0: "today", 1: "tomorrow"}.get(apart, f"on {local:%A} {local.day} {local:%B %Y}")


def compared(plans: Sequence[Plan], telling: Telling) -> Iterator[str]:
    """A line for each cooker, the likeliest first."""
    width = max(len(plan.cooker.name) for plan in plans)
    yield f"{'cooker':<{max(width, 6)}}  load   chance  done about  latest load"
    for plan in sorted(plans, key=lambda p: -p.chosen.chance):
        best, clock = plan.chosen, telling.wording.clock
        yield (
            f"{plan.cooker.name:<{max(width, 6)}}  {clock(best.load_at)}  {best.chance:>5.0%}   "
            f"{_clock(best.done_p50, telling):>10}  "
            f"{_clock(plan.latest.load_at if plan.latest else None, telling):>11}"
        )


def told(plan: Plan, wish: Wish, telling: Telling) -> Iterator[str]:
    """The whole plan, a line each."""
    yield from _head(plan, wish, telling)
    yield ""
    yield from _verdict(plan, wish, telling)
    if plan.chosen.worth:
        yield from _steps(plan, wish, telling)
    yield ""
    yield from _table(plan, wish, telling)
    if plan.chosen.worth:
        yield ""
        yield from _curve(plan, telling)
    caution = plan.dish.food.caution
    if plan.dish.food.hazardous:
        yield ""
        yield (
            "Care: this food can make people ill. Keep it below "
            f"{telling.wording.temperature(5)} until it goes in; from then on its core has "
            f"{wish.heat.limit_s / 3600:g} h to pass {telling.wording.temperature(57)} "
            "(FDA Food Code 3-501.19), or it is discarded. Check it with a second thermometer."
        )
        yield from [caution] if caution else []
    elif caution:
        yield f"\nCare: {caution}"


def _head(plan: Plan, wish: Wish, telling: Telling) -> Iterator[str]:
    dish, wording = plan.dish, telling.wording
    food, clock = dish.food, wording.clock
    yield (
        f"{plan.cooker.name}: {dish.mass_kg:g} kg of {food.name} from "
        f"{wording.temperature(dish.start_c)}, {telling.day(plan.chosen.load_at)}; "
        f"times are those of {wording.timezone}"
    )
    held = f", held for {food.hold_s / 60:.0f} min" if food.hold_s >= 60 else ""
    yield f"  Done is a core of {wording.temperature(dish.target.temp_c)}{held}."
    if dish.target.words:
        yield f"  {dish.target.words}"
    yield f"  Sky: {wish.sky.words}."
    yield (
        f"  The sun is of use from {clock(plan.sun_from)} to {clock(plan.sun_lost)}; the air is "
        f"taken as {wording.temperature(wish.air_c)}."
    )
    yield f"  {_tending(plan)}"
    if plan.cooks == 0:
        yield (
            f"  Nobody has watched {plan.cooker.name} cook yet: what it can do is a guess, and the "
            "times are wide. Each watched cook narrows them."
        )
    else:
        cooks = f"{plan.cooks} watched cook{'s' if plan.cooks > 1 else ''}"
        yield f"  What {plan.cooker.name} can do is known from {cooks}."


def _tending(plan: Plan) -> str:
    if plan.tending.left:
        return "The cooker is aimed once, when the food goes in, and then left alone."
    return f"The cooker is turned to the sun every {plan.tending.every_s / 60:.0f} min."


def _verdict(plan: Plan, wish: Wish, telling: Telling) -> Iterator[str]:
    best, chosen, clock = plan.best, plan.chosen, telling.wording.clock
    by = "" if wish.meal is None else f" to be done by {clock(wish.meal)}"
    if best.chance < SELDOM:
        yield (
            f"Not {telling.day(chosen.load_at)}: cook it another way. Whenever it is loaded, the "
            f"chance is below 1%{by}."
        )
    elif not plan.worth:
        yield (
            f"Not {telling.day(chosen.load_at)}: cook it another way. Even loaded at "
            f"{clock(best.load_at)}, about its best time, it has a chance of {best.chance:.0%}{by}."
        )
    elif not chosen.worth:
        yield (
            f"Not at {clock(chosen.load_at)}: the chance is {chosen.chance:.0%}{by}. Loaded at "
            f"{clock(best.load_at)} it is {best.chance:.0%}."
        )
    else:
        word = "Yes" if chosen.chance >= SURE else "Perhaps"
        yield (
            f"{word}: loaded at {clock(chosen.load_at)} it has a chance of {chosen.chance:.0%}"
            f"{by or ' to be done before the sun is lost'}."
        )
        if chosen.chance < SURE:
            yield "Keep another heat at hand."


def _steps(plan: Plan, wish: Wish, telling: Telling) -> Iterator[str]:
    chosen, wording, food = plan.chosen, telling.wording, plan.dish.food
    clock = wording.clock
    pot_c = food.loading_pot_c
    if pot_c is None:
        yield f"  {clock(chosen.load_at)}  put it in, and the cooker out: it heats up with its pot"
    else:
        hot = chosen.p_hot or 0.0
        anyway = "" if hot >= SURE else "; load then in any case"
        yield (
            f"  {clock(chosen.out_at)}  put the empty cooker into the sun: its pot should have "
            f"{wording.temperature(pot_c)} at loading (chance {hot:.0%}{anyway})"
        )
        yield f"  {clock(chosen.load_at)}  put the food in; mind the hot pot and the glare"
    if chosen.aim is not None:
        yield (
            f"         and point the cooker to {wording.bearing(chosen.aim[0])}, tilt "
            f"{chosen.aim[1]:.0f}° above the horizon"
        )
    if chosen.done_p10 and chosen.done_p50 and chosen.done_p90:
        yield (
            f"  {clock(chosen.done_p50)}  done about now, if it gets done: between "
            f"{clock(chosen.done_p10)} and {clock(chosen.done_p90)} eight times in ten"
        )
    if plan.latest is not None:
        yield f"  {clock(plan.latest.load_at)}  the latest loading with a chance of {SURE:.0%}"
    else:
        yield f"         No loading time has a chance of {SURE:.0%}."
    yield from _rescue(plan, wish, telling)


def _rescue(plan: Plan, wish: Wish, telling: Telling) -> Iterator[str]:
    found = plan.rescue
    if found is None:
        if wish.meal is not None:
            yield "         No rescue is foreseen: even a poor course is in time."
        return
    at = datetime.fromtimestamp(found.at_s, UTC)
    goal = "the meal" if found.because is Because.MEAL else "safe food"
    if at < plan.chosen.load_at:
        yield (
            f"         Rescue: on a poor course not even another heat would be in time for {goal}. "
            "Load earlier."
        )
    else:
        yield (
            f"  {telling.wording.clock(at)}  rescue time: if it goes poorly, move it to another "
            f"heat by now, for {goal}"
        )


def _table(plan: Plan, wish: Wish, telling: Telling) -> Iterator[str]:
    meal = wish.meal is not None
    preheats = plan.dish.food.loading_pot_c is not None
    yield (
        "load   "
        + ("cooker out  " if preheats else "")
        + "chance  "
        + ("by meal  " if meal else "")
        + "done about  between        takes"
    )
    for row in plan.hours:
        yield (
            f"{telling.wording.clock(row.load_at)}  "
            + (f"{telling.wording.clock(row.out_at):>10}  " if preheats else "")
            + f"{row.p_done:>6.0%}  "
            + (f"{row.p_meal:>7.0%}  " if row.p_meal is not None else "")
            + f"{_clock(row.done_p50, telling):>10}  {_between(row, telling):<13}  {_takes(row)}"
            + ("  <" if row.load_at == plan.chosen.load_at else "")
        )


def _curve(plan: Plan, telling: Telling) -> Iterator[str]:
    show = telling.wording.temperature
    yield f"core if loaded at {telling.wording.clock(plan.chosen.load_at)}: middle, and 8 in 10"
    every = -(-len(plan.curve) // POINTS)
    every += every % 3 and 3 - every % 3  # half hours
    for point in plan.curve[::every]:
        yield (
            f"{telling.wording.clock(point.at)}  {show(point.core_p50):>7}   "
            f"{show(point.core_p10)} to {show(point.core_p90)}"
        )


def _clock(at: datetime | None, telling: Telling) -> str:
    return NEVER if at is None else telling.wording.clock(at)


def _between(row: Loading, telling: Telling) -> str:
    if row.done_p10 is None:
        return NEVER
    return f"{_clock(row.done_p10, telling)} - {_clock(row.done_p90, telling)}"


def _takes(row: Loading) -> str:
    if row.done_p50 is None:
        return NEVER
    minutes = round((row.done_p50 - row.load_at).total_seconds() / 60)
    return f"{minutes // 60} h {minutes % 60:02} min"
