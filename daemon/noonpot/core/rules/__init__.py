"""From facts to conditions: which alarms hold now. What cannot be known is None, never False."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from noonpot.core.alarms import Condition
from noonpot.core.facts import Case
from noonpot.core.policy import AlarmPolicy
from noonpot.core.rules import cooking, doubt, prospects, safety, station
from noonpot.core.stationfacts import StationCase

OF_LOAD = ("done", "soon", "overdone", "boil-dry", "sky", "rescue", *safety.RULES)
"""Alarms about one load: taking it out answers them, and another load begins anew."""
RULES: Mapping[str, Callable[[Case], Condition]] = (
    cooking.RULES | prospects.RULES | safety.RULES | doubt.RULES
)
STATION_RULES: Mapping[str, Callable[[StationCase], Condition]] = station.RULES
DEFAULT_POLICIES: Mapping[str, AlarmPolicy] = (
    cooking.POLICIES | prospects.POLICIES | safety.POLICIES | doubt.POLICIES | station.POLICIES
)
"""The usual numbers of every alarm; they stand below its rule, each with its source."""


def evaluate(case: Case) -> dict[str, Condition]:
    """The condition of every alarm of one cooker."""
    return {alarm: _muted(case, alarm, rule(case)) for alarm, rule in RULES.items()}


def _muted(case: Case, alarm: str, condition: Condition) -> Condition:
    """While a probe is known to be lost, an alarm at rest that cannot be judged says so. One that
    holds stays as it is.
    """
    lost = case.records["probe"].active or case.records["no-news"].active
    if condition.active is None and lost and not case.records[alarm].active:
        return replace(condition, suppressed=True)
    return condition


def evaluate_station(case: StationCase) -> dict[str, Condition]:
    """The condition of every alarm of the station itself."""
    return {alarm: rule(case) for alarm, rule in STATION_RULES.items()}
