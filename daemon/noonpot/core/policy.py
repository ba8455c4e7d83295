"""The numbers of the alarms: delays, deadbands and limits, each with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

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

# Temperatures: delays of 60 s and a deadband of 1 % of the range (2 °C of 200 °C) are the start
# values of ISA-18.2 and EEMUA 191 (from memory). Where nothing else is said the number is our
# choice, made so that one person gets few messages and none that is too late to act on.
DEFAULT_POLICIES: Mapping[str, AlarmPolicy] = MappingProxyType(
    {
        "preheated": AlarmPolicy(
            on_delay_s=60,
            off_delay_s=60,
            re_alarm_s=None,
            expires_s=3600,  # an hour later it is another sky
            priority=Priority.MEDIUM,
            deadband=2.0,
        ),
        "done": AlarmPolicy(
            on_delay_s=60,  # or the hold of the food, if that is longer
            off_delay_s=60,
            re_alarm_s=1800,  # seen and forgotten, it dries out or burns
            expires_s=14_400,  # 4 h: FDA Food Code 3-501.19, then food without heat is discarded
            priority=Priority.HIGH,
            deadband=2.0,
        ),
        "turn": AlarmPolicy(
            on_delay_s=0,  # an angle does not flutter
            off_delay_s=60,
            re_alarm_s=1800,
            expires_s=1800,  # the sun goes 15° an hour: by then the bearing is 7° wrong
            priority=Priority.MEDIUM,
            deadband=2.0,
        ),
        "probe": AlarmPolicy(
            on_delay_s=10,  # more than three reads (common practice, no source), at 2 s each
            off_delay_s=10,
            re_alarm_s=None,
            expires_s=14_400,
            priority=Priority.MEDIUM,
        ),
        "no-news": AlarmPolicy(
            on_delay_s=0,  # the limit itself is a delay
            off_delay_s=60,
            re_alarm_s=1800,  # nobody watches the food until it is mended
            expires_s=14_400,
            priority=Priority.HIGH,
        ),
    }
)
