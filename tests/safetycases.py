"""Loads that can make people ill, and what is said of them."""

from datetime import UTC, datetime

from noonpot.core.rules.safety import cooling_words, heat_words, hold_words, unknown_words
from noonpot.core.safety import Course, Safety
from noonpot.core.wording import Wording

FOUR_HOURS_S = 14_400.0
LUKEWARM = Safety(
    course=Course(danger_s=10_860.0, unknown_s=2400.0),
    core_c=45.0,
    probes=frozenset({"box-core"}),
    limit_s=FOUR_HOURS_S,
    spoils_at=datetime(2026, 6, 3, 13, 0, tzinfo=UTC),
)


def examples() -> dict[str, str]:
    """A sentence of each alarm about people's health."""
    words, who = Wording(), "box: chicken"
    return {
        "danger-zone": heat_words(words, who, LUKEWARM, "by 13:00"),
        "hold": hold_words(words, who, 55.0, "by 13:00"),
        "cooling": cooling_words(words, who, 21.0, 7200.0, 30.0),
        "food-unknown": unknown_words(who, 720.0, off=False),
    }
