"""What numbers an alarm has, and where the rules draw their lines."""

from dataclasses import dataclass, field, replace
from datetime import time

from noonpot.core.alert import Priority


@dataclass(frozen=True, slots=True)
class AlarmPolicy:
    """How one alarm behaves in time.

    ``on_delay_s`` / ``off_delay_s`` [s]: how long its condition must hold / be gone;
    ``re_alarm_s`` [s]: an acknowledged alarm is raised again after this, None = never;
    ``expires_s`` [s]: an alert older than this is not told any more;
    ``deadband`` in the unit of the compared quantity [°C, degrees, or a share];
    ``escalate_s`` [s]: what nobody acknowledged is told again after this, then after twice as long,
    and so on, None = never; ``repeats``: how often at most that is, None = as the household wants;
    ``spacing_s`` [s]: it is not raised anew so soon after it was told, unless with another subject.

    ``latched``: it stays when its condition is gone, until it is reset. ``safety``: people may fall
    ill; it cannot be shelved nor suppressed, is never held back, and an acknowledgement quiets it
    for ``re_alarm_s`` only.
    """

    on_delay_s: float
    off_delay_s: float
    re_alarm_s: float | None
    expires_s: float
    priority: Priority
    deadband: float = 0.0
    escalate_s: float | None = None
    repeats: int | None = None
    spacing_s: float = 0.0
    latched: bool = False
    safety: bool = False

    def made_safe(self) -> "AlarmPolicy":
        """The same for food that can make people ill; what would never be told again is told again
        after ``INSIST_S``.
        """
        insists = self.re_alarm_s is not None and self.escalate_s is not None
        if self.safety and insists:
            return self
        return replace(
            self,
            safety=True,
            re_alarm_s=INSIST_S if self.re_alarm_s is None else self.re_alarm_s,
            escalate_s=INSIST_S if self.escalate_s is None else self.escalate_s,
        )


INSIST_S = 1800.0
"""How often at least an alarm about people's health is told while it holds [s]. Our choice: some
times within the four hours that FDA Food Code 3-501.19 grants food without heat."""


@dataclass(frozen=True, slots=True)
class Manners:
    """How people are told.

    ``repeats``: how often at most an alert that nobody acknowledges is told again, each time after
    twice as long; an alarm about people's health goes on at the longest of these waits. Our choice:
    after 10, 30 and 70 minutes the phone is not where the person is.

    ``shelve_s`` [s]: for how long an alarm can be put off at most; our choice, as the standard asks
    for a limit without naming one.

    ``quiet_from`` to ``quiet_until`` (in the time zone of the station): alerts of low priority are
    held meanwhile, and told afterwards if they still hold. The same time twice: no quiet hours.
    """

    repeats: int = 3
    shelve_s: float = 7200.0
    quiet_from: time = time(0)
    quiet_until: time = time(0)

    def quiet(self, clock: time) -> bool:
        """Whether this time of day is within the quiet hours.

        >>> night = Manners(quiet_from=time(22), quiet_until=time(7))
        >>> [night.quiet(time(hour)) for hour in (21, 22, 3, 7)]
        [False, True, True, False]
        """
        if self.quiet_from <= self.quiet_until:
            return self.quiet_from <= clock < self.quiet_until
        return clock >= self.quiet_from or clock < self.quiet_until


@dataclass(frozen=True, slots=True)
class StationLimits:
    """Where the rules about the station itself draw their lines; our choice where nothing is said.

    ``free_mb`` [MB] and ``days_left`` [days]: what must be left on the card, room for some weeks of
    readings and time for a person to come by.

    ``slow_write_s`` [s]: a longer write holds up the rounds. Several of them in a row are missed
    then.

    ``wal_mb`` [MB]: twice what the data file leaves beside itself in good order.

    ``hot_c`` [°C]: from here on a Raspberry Pi slows itself down (its makers' documentation, from
    memory).

    ``backup_days`` [days]: how old the last good backup may grow when the next ones fail. One night
    is bad luck, and a card does not die without days of trouble.

    ``restarts``: how many starts within an hour after a crash are too many. One is a power cut, two
    a thunderstorm.

    ``absence_s`` [s]: a shorter absence is a mere restart; no food warms up or cools down by much.

    ``step_s`` [s]: a smaller correction of the clock concerns nobody.

    ``shown_s`` [s]: how long what is past, an absence or a step of the clock, counts as present.

    ``fresh_s`` [s]: an older survey says nothing of now. It is made several times as often.
    """

    free_mb: float = 200.0
    days_left: float = 7.0
    slow_write_s: float = 5.0
    wal_mb: float = 16.0
    hot_c: float = 80.0
    backup_days: float = 3.0
    restarts: int = 3
    absence_s: float = 300.0
    step_s: float = 60.0
    shown_s: float = 600.0
    fresh_s: float = 90.0


@dataclass(frozen=True, slots=True)
class RuleLimits:
    """Where the rules draw their lines.

    ``min_gain``: the share of light that a turn must add to be worth the walk, 0.25 = 25 %.
    Practice turns a cooker every half to full hour (common practice, no source); the sun is then
    7° to 15° off, and a cooker with four mirrors can win 4 to 35 %, by their flare (our own
    ray-tracing).

    ``min_saved_s`` [s]: how much earlier a turn must bring the food to the table. Our choice:
    whoever is called from other work for less has lost more than was won.

    ``no_news_s`` [s]: how long no probe of a cooker may be trustworthy. Our choice: longer than a
    restart of the computer, shorter than any food takes to spoil or burn.

    ``fresh_s`` [s]: an older reading says nothing of now. Our choice: a dozen polls.

    ``forecast_fresh_s`` [s]: an older forecast is not gone by. Our choice: a sky of a quarter of an
    hour ago is another sky.

    ``soon_s`` [s]: so long before the food is done its people are called. Our choice: long enough
    to come back from a walk.

    ``cloud_cost_s`` [s]: how much later cloud must make the food to be worth a word. Our choice: a
    third of an hour upsets a meal.

    ``least_chance``: with a smaller chance of being done in time, food is to be moved to another
    heat (our choice: one in five).

    ``own``: those of the station itself.
    """

    min_gain: float = 0.25
    min_saved_s: float = 600.0
    no_news_s: float = 300.0
    fresh_s: float = 30.0
    forecast_fresh_s: float = 900.0
    soon_s: float = 900.0
    cloud_cost_s: float = 1200.0
    least_chance: float = 0.2
    own: StationLimits = field(default_factory=StationLimits)


LAST_CALL = "last"
"""The subject of ``rescue`` when the rescue time is near, or over."""
HOT_PROBE_S = 1200.0
"""A probe that comes hot out of the pot shows the temperature of cold food after less than this
[s], and one that never went into the food is found out (our choice).
"""
