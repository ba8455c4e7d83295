"""Forecasts as they were given, so that a person sees afterwards what they were worth."""

import sqlite3
from collections.abc import Sequence
from datetime import datetime, timedelta

from noonpot.core.forecast import Forecast
from noonpot.ports import Given
from noonpot.store.timeline import Span, moment_of


def keep(db: sqlite3.Connection, span: Span, given: Given) -> None:
    """Write the headline of a forecast. Its times are kept as seconds from when it was made."""
    forecast = given.forecast
    db.execute(
        "INSERT OR REPLACE INTO forecast VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            given.cook,
            span.first_tick,
            span.tick(forecast.at),
            forecast.target_c,
            forecast.p_done,
            *(_left_s(forecast, at) for at in (forecast.done_p10, forecast.done_p50)),
            _left_s(forecast, forecast.done_p90),
        ),
    )


def of_cook(db: sqlite3.Connection, cook: int) -> Sequence[Forecast]:
    """The headlines of the forecasts of one cook, the oldest first."""
    rows = db.execute(
        "SELECT wall_s + tick AS at_s, target_c, p_done, p10_s, p50_s, p90_s"
        " FROM forecast JOIN clock_span ON first_tick = span WHERE cook = ? ORDER BY at_s",
        (cook,),
    )
    return [_forecast(*row) for row in rows]


def _forecast(  # the columns of a row
    at_s: int,
    target_c: float,
    p_done: float,
    *left_s: float | None,
) -> Forecast:
    at = moment_of(at_s)
    p10, p50, p90 = (None if s is None else at + timedelta(seconds=s) for s in left_s)
    return Forecast(at, target_c, p_done, p10, p50, p90)


def _left_s(forecast: Forecast, at: datetime | None) -> float | None:
    return None if at is None else (at - forecast.at).total_seconds()
