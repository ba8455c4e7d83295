"""From facts to conditions: which alarms hold now. What cannot be known is None, never False."""

from collections.abc import Callable, Mapping

from noonpot.core.alarms import Condition
from noonpot.core.facts import Case
from noonpot.core.policy import AlarmPolicy
from noonpot.core.rules import cooking, doubt

RULES: Mapping[str, Callable[[Case], Condition]] = cooking.RULES | doubt.RULES
DEFAULT_POLICIES: Mapping[str, AlarmPolicy] = cooking.POLICIES | doubt.POLICIES
"""The usual numbers of every alarm; they stand below its rule, each with its source."""


def evaluate(case: Case) -> dict[str, Condition]:
    """The condition of every alarm of one cooker."""
    return {alarm: rule(case) for alarm, rule in RULES.items()}
