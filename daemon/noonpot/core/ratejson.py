"""Ratings for a machine: plain values that JSON can hold, the units in their names."""

from collections.abc import Mapping
from datetime import UTC, datetime

from noonpot.core.conditions import CONDITIONS, judged
from noonpot.core.merit import Merit
from noonpot.core.moment import iso
from noonpot.core.profile import Change, Profile
from noonpot.core.rating import AT_K, CookingPower
from noonpot.core.straightline import Estimate
from noonpot.core.tenminutes import Interval

Body = Mapping[str, object]


def power_json(cooker: str, rated: CookingPower) -> Body:
    """The rating by cooking power, every interval with its conditions: true, false, null."""
    line = rated.line
    return {
        "cooker": cooker,
        "test": "power",
        "method": "ASABE S580.1" if rated.by_the_standard else "in the manner of ASABE S580.1",
        "estimate": not rated.measured,
        "at_k": AT_K,
        "power_w": _between(rated.power_w),
        "extrapolated": None if line is None else rated.extrapolated,
        "intercept_w": None if line is None else round(line.intercept, 3),
        "slope_w_k": None if line is None else round(line.slope, 4),
        "r2": None if line is None else round(line.r2, 4),
        "observations": len(rated.intervals),
        "days": rated.days,
        "whole_test": dict(rated.whole),
        "left_out": dict(rated.barred),
        "conditions": {
            name: {
                "words": CONDITIONS[name].words,
                "met": tally.met,
                "not_met": tally.broken,
                "not_known": tally.unknown,
            }
            for name, tally in rated.conditions.items()
        },
        "intervals": [_interval(i) for i in rated.intervals],
    }


def _interval(i: Interval) -> Body:
    return {
        "time": _time(i.at_s),
        "start_c": round(i.start_c, 2),
        "end_c": round(i.end_c, 2),
        "mass_kg": i.mass_kg,
        "light_wm2": round(i.light.across_wm2, 1),
        "light_from": i.light.source,
        "ambient_c": round(i.ambient_c, 2),
        "power_w": round(i.power_w, 2),
        "standard_power_w": round(i.standard_w, 2),
        "excess_k": round(i.excess_k, 2),
        "to_load": round(i.to_load, 3),
        "conditions": dict(judged(i)),
    }


def merit_json(cooker: str, found: Merit) -> Body:
    """Both figures of merit and what they rest on."""
    return {
        "cooker": cooker,
        "test": "merit",
        "method": "in the manner of IS 13429",
        "estimate": not found.measured,
        "f1_m2k_w": None if found.first is None else _rounded(found.first),
        "f1_between": _between(found.first_between),
        "f1_reckoned": found.first_guessed,
        "grade": found.grade,
        "f2": None if found.second is None else _rounded(found.second),
        "f2_between": _between(found.second_between),
        "at_rest": [
            {
                "time": _time(s.at_s),
                "pot_c": round(s.pot_c, 1),
                "ambient_c": round(s.ambient_c, 1),
                "light_wm2": round(s.light_wm2, 1),
                "light_from": s.light_from,
            }
            for s in found.stagnations
        ],
        "warmings": [
            {
                "time": _time(w.at_s),
                "from_c": w.from_c,
                "to_c": round(w.to_c, 2),
                "seconds": round(w.seconds),
                "kg_per_m2": round(w.kg_per_m2, 2),
                "light_wm2": round(w.light_wm2, 1),
                "light_from": w.light_from,
            }
            for w in found.warmings
        ],
    }


def profile_json(cooker: str, known: Profile | None, changed: Mapping[str, Change]) -> Body:
    """The profile; ``changed`` since it was rebuilt, empty when it was not."""
    numbers = {} if known is None else known.numbers
    return {
        "cooker": cooker,
        "cooks": 0 if known is None else known.cooks,
        "sky_measured": None if known is None else known.measured,
        "seen_off_sun": None if known is None else known.off_sun,
        "level": 0.9,
        "level_since_rebuilt": 0.95,
        "profile": {name: _between(number) for name, number in numbers.items()},
        "since_rebuilt": {
            name: {**(_between(c.ratio) or {}), "real": c.real} for name, c in changed.items()
        },
    }


def rating_json(cooker: str, profile: Body, rated: CookingPower, found: Merit) -> Body:
    """The profile and both tests together, without each interval of ten minutes."""
    power = {k: v for k, v in power_json(cooker, rated).items() if k != "intervals"}
    return {
        "cooker": cooker,
        "profile": profile,
        "power": power,
        "merit": merit_json(cooker, found),
    }


def _between(estimate: Estimate | None) -> dict[str, float] | None:
    if estimate is None:
        return None
    return {
        "value": _rounded(estimate.value),
        "low": _rounded(estimate.low),
        "high": _rounded(estimate.high),
    }


def _rounded(value: float) -> float:
    return float(f"{value:.5g}")


def _time(at_s: float) -> str:
    return iso(datetime.fromtimestamp(at_s, UTC))
