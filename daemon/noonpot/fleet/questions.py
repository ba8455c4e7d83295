"""What is asked of a time-series server about all cookers, day by day.

The names are those under which the uplink writes: ``temperature_celsius``, ``irradiance_w_per_m2``
and ``event_count``. Each minute counts once, and only with a reading of its own: the server fills
no gaps, since every window is as long as its step.
"""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from noonpot.core.cookerdays import HOT_C, CookerDays, cooker_days
from noonpot.core.names import is_name
from noonpot.fleet.series import Series

Ask = Callable[[str, datetime, datetime, int], Sequence[Series]]
"""As ``SeriesServer.ask``."""

DAY = timedelta(days=1)
AT_ONCE = 7 * DAY  # servers bound how many minutes one question may go through

POT = 'max by (station, cooker) (max_over_time(temperature_celsius{{role="pot"{only}}}[1m]))'
QUESTIONS = {
    "seen": f"count_over_time(({POT})[1d:1m])",
    "hot": f"count_over_time(({POT} > {HOT_C:g})[1d:1m])",
    "highest": f"max_over_time(({POT})[1d:1m])",
    "loads": 'sum by (station, cooker) (count_over_time(event_count{{kind="load"{only}}}[1d]))',
    "sun": (
        "sum_over_time((max by (station) (avg_over_time(irradiance_w_per_m2{{{all}}}[1m])))[1d:1m])"
        " / 60000"
    ),
}


def asked(ask: Ask, until: datetime, days: int, station: str = "") -> list[CookerDays]:
    """All cookers over the days before ``until``, or those of one station.

    Raises UplinkError when the server is no help, ValueError for a station that has no name.
    """
    if station and not is_name(station):
        raise ValueError(f"{station!r} is no name of a station")
    only = f'station="{station}"' if station else ""
    told: dict[str, dict[tuple[str, str], dict[datetime, float]]] = {}
    for name, question in QUESTIONS.items():
        text = question.format(only=f",{only}" if only else "", all=only)
        answers = told[name] = {}
        begin = until - days * DAY
        while begin < until:
            end = min(begin + AT_ONCE, until)
            for series in ask(text, begin + DAY, end, int(DAY.total_seconds())):
                key = (series.labels.get("station", ""), series.labels.get("cooker", ""))
                if all(is_name(part) for part in key if part) and key[0]:
                    answers.setdefault(key, {}).update(series.points)
            begin = end
    return cooker_days(**told)
