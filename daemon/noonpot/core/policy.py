"""What numbers an alarm has, and where the rules draw their lines."""

from dataclasses import dataclass

from noonpot.core.alert import Priority


@dataclass(frozen=True, slots=True)
class AlarmPolicy:
    """How one alarm behaves in time.

    ``on_delay_s`` / ``off_delay_s`` [s]: how long its condition must hold / be gone;
    ``re_alarm_s`` [s]: an acknowledged alarm is raised again after this, None = never;
    ``expires_s`` [s]: an alert older than this is not told any more;
    ``deadband`` in the unit of the compared quantity [°C or degrees].
    """

    on_delay_s: float
    off_delay_s: float
    re_alarm_s: float | None
    expires_s: float
    priority: Priority
    deadband: float = 0.0


@dataclass(frozen=True, slots=True)
class RuleLimits:
    """Where the rules draw their lines.

    ``min_gain``: the share of light that a turn must add to be worth the walk, 0.15 = 15 %.
    Practice turns a cooker every half to full hour (common practice, no source); the sun is then
    7° to 15° off, and a cooker with four mirrors can win 4 to 35 %, by their flare (our own
    ray-tracing).

    ``min_saved_s`` [s]: how much earlier a turn must bring the food to the table. Our choice: twice
    the walk there and back.

    ``no_news_s`` [s]: how long no probe of a cooker may be trustworthy. Our choice: longer than a
    restart of the computer, shorter than any food takes to spoil or burn.

    ``fresh_s`` [s]: an older reading says nothing of now. Our choice: a dozen polls.

    ``forecast_fresh_s`` [s]: an older forecast is not gone by. Our choice: a sky of a quarter of an
    hour ago is another sky.
    """

    min_gain: float = 0.15
    min_saved_s: float = 300.0
    no_news_s: float = 300.0
    fresh_s: float = 30.0
    forecast_fresh_s: float = 900.0


HOT_PROBE_S = 900.0
"""A probe that comes hot out of the pot shows the temperature of cold food after less than this [s]
(our choice).
"""
