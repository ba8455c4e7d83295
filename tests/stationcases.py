"""A station in good order, seen by the rules of its own alarms; tests spoil one thing at a time."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from noonpot.core.alarms import AlarmRecord, Condition, fresh
from noonpot.core.moment import Moment
from noonpot.core.policy import StationLimits
from noonpot.core.rules import DEFAULT_POLICIES, STATION_RULES, evaluate_station
from noonpot.core.stationfacts import (
    OWN,
    Absence,
    Silent,
    StationCase,
    StationFacts,
    Survey,
)
from noonpot.core.wording import Wording

AT = datetime(2026, 6, 3, 12, 15, tzinfo=UTC)
SURVEY = Survey(
    mono_s=0.0,
    free_mb=5000.0,
    days_left=400.0,
    wal_mb=4.0,
    slowest_write_s=0.05,
    heat_c=55.0,
    under_voltage=False,
    channels=("mqtt", "push"),
    absence=Absence(gap_s=20.0, ago_s=7200.0, restarts=0),
)
FACTS = StationFacts("garden", AT, clock_trusted=True, survey=SURVEY)


def surveyed(**changes: Any) -> StationFacts:
    """The facts with another survey."""
    return replace(FACTS, survey=replace(SURVEY, **changes))


def judged(
    facts: StationFacts, record: AlarmRecord | None = None, units: str = "C"
) -> dict[str, Condition]:
    """The conditions of all alarms; all are at rest but the one of ``record``."""
    records = {name: fresh(OWN, name, Moment(AT, 0.0)) for name in STATION_RULES}
    if record is not None:
        records[record.alarm] = record
    return evaluate_station(
        StationCase(facts, records, DEFAULT_POLICIES, StationLimits(), Wording(units))
    )


def examples() -> dict[str, str]:
    """What a person may hear of each alarm, as README.md shows it."""
    down = Silent("mqtt", 2000.0, "no broker answers at localhost port 1883; check it", 3)
    spoilt = surveyed(
        free_mb=180.0,
        days_left=5.0,
        under_voltage=True,
        silent=(down,),
        absence=Absence(720.0, 300.0, 1),
    )
    told = judged(replace(spoilt, clock_trusted=True, cooking=True))
    told["clock"] = judged(replace(FACTS, clock_trusted=False))["clock"]
    return {name: condition.text for name, condition in told.items()}
