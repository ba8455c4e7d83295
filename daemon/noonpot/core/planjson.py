"""A plan for a machine: plain values, times in UTC, °C whatever the household reads."""

from datetime import UTC, datetime

from noonpot.core.moment import iso
from noonpot.core.planning import Loading, Plan, Wish

Payload = dict[str, object]


def plan_json(plan: Plan, wish: Wish) -> Payload:
    """The whole plan of one cooker."""
    dish, rescue = plan.dish, plan.rescue
    return {
        "cooker": plan.cooker.name,
        "food": dish.food.name,
        "mass_kg": dish.mass_kg,
        "start_c": round(dish.start_c, 1),
        "target_c": round(dish.target.temp_c, 1),
        "hold_s": dish.food.hold_s,
        "sky": wish.sky.words,
        "air_c": round(wish.air_c, 1),
        "turn_every_s": None if plan.tending.left else plan.tending.every_s,
        "cooks_known": plan.cooks,
        "sun_from": iso(plan.sun_from),
        "sun_lost": iso(plan.sun_lost),
        "meal": _time(wish.meal),
        "worth": plan.worth,
        **_loading(plan.chosen),
        "latest_load_at": _time(plan.latest.load_at if plan.latest else None),
        "rescue_at": None if rescue is None else iso(datetime.fromtimestamp(rescue.at_s, UTC)),
        "rescue_because": None if rescue is None else str(rescue.because),
        "hours": [_loading(row) for row in plan.hours],
        "curve": [
            {
                "time": iso(point.at),
                "core_p10": round(point.core_p10, 1),
                "core_p50": round(point.core_p50, 1),
                "core_p90": round(point.core_p90, 1),
            }
            for point in plan.curve
        ],
    }


def _loading(row: Loading) -> Payload:
    return {
        "load_at": iso(row.load_at),
        "out_at": iso(row.out_at),
        "p_hot": None if row.p_hot is None else round(row.p_hot, 3),
        "p_done": round(row.p_done, 3),
        "p_meal": None if row.p_meal is None else round(row.p_meal, 3),
        "done_p10": _time(row.done_p10),
        "done_p50": _time(row.done_p50),
        "done_p90": _time(row.done_p90),
        "aim": None
        if row.aim is None
        else {"azimuth_deg": round(row.aim[0], 1), "elevation_deg": round(row.aim[1], 1)},
    }


def _time(at: datetime | None) -> str | None:
    return None if at is None else iso(at)
