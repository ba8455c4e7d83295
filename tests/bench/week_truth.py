"""Whether an alert is right about the garden, where no fault of ours explains it."""

from bench.week_books import Cooked
from bench.week_garden import COOKERS
from noonpot.core.alert import Alert
from noonpot.core.facts import Facts
from noonpot.core.rules import doubt, station
from noonpot.core.safety import HOT_C
from noonpot_hw.cooker_physics import Cooker

NEEDS_A_FAULT = {*doubt.RULES, *station.RULES, "food-unknown"}
"""Where nothing is wrong nothing of this must be said."""
HOTTEST_DIGITAL_C = 121.0
"""Above 125 °C a DS18B20 says nothing, as its data sheet has it; in its sleeve it lags a little."""
LEAST_TURN_DEG = 8.0
WARNED_S = 2.9 * 3600.0
"""People are warned of lukewarm food after three hours."""


def is_true(
    alert: Alert, facts: Facts, cooker: Cooker, cooked: Cooked | None, misaim_deg: float
) -> bool:
    """Held against what the cooker truly is. What is said of the hours to come is not judged."""
    match alert.alarm:
        case "done":
            return facts.target_c is None or cooker.core_c >= facts.target_c - 2.0
        case "preheated":
            food = facts.food
            return food is None or cooker.air_c >= (food.loading_pot_c or 0.0) - 4.0
        case "boil-dry":
            return cooker.core_c >= facts.boiling_c - 5.0
        case "danger-zone":
            return cooked is not None and cooked.lukewarm_s >= WARNED_S
        case "hold":
            return cooker.core_c < HOT_C + 4.0
        case "turn":
            return misaim_deg >= LEAST_TURN_DEG
        case "probe" | "no-news":
            hot = cooker.air_c >= HOTTEST_DIGITAL_C and COOKERS[alert.cooker][2] == "w1"
            return hot and (alert.alarm == "no-news" or "impossible" in alert.text)
        case doubted:
            return doubted not in NEEDS_A_FAULT
