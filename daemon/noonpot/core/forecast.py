"""When will the core reach its target? For now: the straight line through the last minutes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

SPAN_S = 600.0  # common practice, no source: the last ten minutes tell the trend


@dataclass(frozen=True, slots=True)
class Forecast:
    """What can be said at ``at`` about reaching ``target_c`` [°C].

    ``p_done`` is the probability of reaching it before the sun is lost; ``done_p10/p50/p90`` the
    quantiles of the time of reaching it, given that it is reached. None where the method cannot
    say it. ``clear_sky_index`` is irradiance over clear-sky irradiance, ``misaim_deg`` the angle
    between aim and sun [degrees].
    """

    at: datetime
    target_c: float
    p_done: float | None
    done_p10: datetime | None
    done_p50: datetime | None
    done_p90: datetime | None
    clear_sky_index: float | None = None
    misaim_deg: float | None = None


def straight_line(history: Sequence[tuple[float, float]], target_c: float) -> float | None:
    """Seconds from the last point until a straight line reaches the target.

    Parameters
    ----------
    history
        (time [s], core [°C]) in time order; the last ``SPAN_S`` seconds are used.
    target_c
        Core temperature to reach. [°C]

    Returns
    -------
    float or None
        Time to go [s], 0 when it is reached, None when the line does not rise
        or has under two points.

    >>> straight_line([(0.0, 50.0), (600.0, 60.0)], 90.0)
    1800.0
    """
    if not history:
        return None
    end_s, end_c = history[-1]
    if end_c >= target_c:
        return 0.0
    points = [(t - end_s, c) for t, c in history if t >= end_s - SPAN_S]
    n = len(points)
    mean_t = sum(t for t, _ in points) / n
    mean_c = sum(c for _, c in points) / n
    spread = sum((t - mean_t) ** 2 for t, _ in points)
    if spread == 0.0:
        return None
    slope = sum((t - mean_t) * (c - mean_c) for t, c in points) / spread
    return (target_c - end_c) / slope if slope > 0 else None


def by_straight_line(
    at: datetime,
    history: Sequence[tuple[float, float]],
    target_c: float,
    misaim_deg: float | None,
) -> Forecast:
    """A forecast from the core's trend alone: one time and no probability, because a line knows
    nothing of clouds and of the evening.
    """
    wait_s = straight_line(history, target_c)
    done = None if wait_s is None or wait_s > 86_400 else at + timedelta(seconds=wait_s)
    return Forecast(at, target_c, None, None, done, None, None, misaim_deg)
