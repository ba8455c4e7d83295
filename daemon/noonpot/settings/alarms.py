"""The sections [alarm.NAME], and the policies and limits that come of them."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any, Literal

from pydantic import Field

from noonpot.core.alert import Priority
from noonpot.core.names import meant
from noonpot.core.policy import AlarmPolicy, RuleLimits, StationLimits
from noonpot.core.rules import DEFAULT_POLICIES
from noonpot.settings.schema import Section
from noonpot.settings.words import Wants, named, said, validated

Delay = Annotated[float, Field(ge=0, le=14_400)]
DELAY = Wants("0 to 14400 seconds", "60 is usual for temperatures")
Wait = Annotated[float, Field(ge=60, le=86_400)]
Deadband = Annotated[float, Field(ge=0, le=20)]


class AlarmSection(Section):
    """[alarm.NAME]: only what shall differ from the usual."""

    on_delay_s: Annotated[Delay | None, DELAY] = None
    off_delay_s: Annotated[Delay | None, DELAY] = None
    re_alarm_s: Annotated[
        Wait | Literal["never"] | None,
        Wants('60 to 86400 seconds, or "never"', "say when to repeat what was acknowledged"),
    ] = None
    escalate_s: Annotated[
        Wait | Literal["never"] | None,
        Wants('60 to 86400 seconds, or "never"', "say when to repeat what nobody acknowledged"),
    ] = None
    expires_s: Annotated[
        Wait | None,
        Wants("60 to 86400 seconds", "say when it is too late to tell"),
    ] = None
    priority: Annotated[
        Literal["low", "medium", "high", "urgent"] | None,
        Wants('"low", "medium", "high" or "urgent"', "choose one"),
    ] = None


class TemperatureAlarm(AlarmSection):
    """[alarm.preheated] and others that compare a temperature with a limit."""

    deadband_c: Annotated[
        Deadband | None, Wants("0 to 20 °C below the limit that still count as above", "2 is usual")
    ] = None


class TurnAlarm(AlarmSection):
    """[alarm.turn]."""

    deadband_deg: Annotated[Deadband | None, Wants("0 to 20 degrees", "2 is usual")] = None
    min_gain_percent: Annotated[
        Annotated[float, Field(ge=1, le=500)] | None,
        Wants("1 to 500 percent more light, to be worth the walk", "25 is usual"),
    ] = None


class NoNewsAlarm(AlarmSection):
    """[alarm.no-news]."""

    after_s: Annotated[
        Annotated[float, Field(ge=60, le=3600)] | None,
        Wants("60 to 3600 seconds without a trustworthy reading", "300 is usual"),
    ] = None


class SoonAlarm(AlarmSection):
    """[alarm.soon]."""

    within_min: Annotated[
        Annotated[float, Field(ge=1, le=120)] | None,
        Wants("1 to 120 minutes before the food is done", "15 is usual"),
    ] = None


class SkyAlarm(AlarmSection):
    """[alarm.sky]."""

    cost_min: Annotated[
        Annotated[float, Field(ge=5, le=240)] | None,
        Wants("5 to 240 minutes that cloud must cost", "20 is usual"),
    ] = None
    deadband_min: Annotated[
        Annotated[float, Field(ge=0, le=240)] | None,
        Wants("0 to 240 minutes below the limit that still count as above", "10 is usual"),
    ] = None
    spacing_s: Annotated[
        Wait | None,
        Wants("60 to 86400 seconds from one message about the sky to the next", "7200 is usual"),
    ] = None


class RescueAlarm(AlarmSection):
    """[alarm.rescue]."""

    chance_percent: Annotated[
        Annotated[float, Field(ge=1, le=90)] | None,
        Wants("1 to 90 percent, the least chance of being done in time", "20 is usual"),
    ] = None
    deadband_percent: Annotated[
        Annotated[float, Field(ge=0, le=50)] | None,
        Wants("0 to 50 percent above the limit that still count as below", "15 is usual"),
    ] = None
    spacing_s: Annotated[
        Wait | None,
        Wants("60 to 86400 seconds from one rescue message to the next", "7200 is usual"),
    ] = None


class StorageAlarm(AlarmSection):
    """[alarm.storage]."""

    free_mb: Annotated[
        Annotated[float, Field(ge=20, le=100_000)] | None,
        Wants("20 to 100000 MB that must be free on the card", "200 is usual"),
    ] = None
    days_left: Annotated[
        Annotated[float, Field(ge=0, le=365)] | None,
        Wants("0 to 365 days until the card is full", "7 is usual"),
    ] = None
    backup_days: Annotated[
        Annotated[float, Field(ge=1, le=90)] | None,
        Wants("1 to 90 days that the last good backup may be old", "3 is usual"),
    ] = None
    deadband_mb: Annotated[
        Annotated[float, Field(ge=0, le=10_000)] | None, Wants("0 to 10000 MB", "20 is usual")
    ] = None


class PowerAlarm(AlarmSection):
    """[alarm.power]."""

    hot_c: Annotated[
        Annotated[float, Field(ge=50, le=110)] | None,
        Wants("50 to 110 °C of the processor", "80 is usual"),
    ] = None
    deadband_c: Annotated[Deadband | None, Wants("0 to 20 °C", "5 is usual")] = None


class RestartAlarm(AlarmSection):
    """[alarm.restart]."""

    per_hour: Annotated[
        Annotated[int, Field(ge=1, le=100)] | None,
        Wants("1 to 100 restarts within an hour that are not told yet", "3 is usual"),
    ] = None
    absence_s: Annotated[
        Annotated[float, Field(ge=60, le=14_400)] | None,
        Wants("60 to 14400 seconds that the daemon may be away during a cook", "300 is usual"),
    ] = None


SPECIAL: dict[str, type[AlarmSection]] = {
    "preheated": TemperatureAlarm,
    "done": TemperatureAlarm,
    "hold": TemperatureAlarm,
    "turn": TurnAlarm,
    "soon": SoonAlarm,
    "overdone": TemperatureAlarm,
    "boil-dry": TemperatureAlarm,
    "sky": SkyAlarm,
    "rescue": RescueAlarm,
    "no-news": NoNewsAlarm,
    "storage": StorageAlarm,
    "power": PowerAlarm,
    "restart": RestartAlarm,
}
ALARMS = {name: SPECIAL.get(name, AlarmSection) for name in DEFAULT_POLICIES}


def alarm_sections(file: dict[str, object], mistakes: list[str]) -> dict[str, AlarmSection]:
    """The sections about alarms in a file; what is wrong is added to the mistakes."""
    sections = {}
    for name, table in named(file, "alarm", mistakes).items():
        if name not in ALARMS:
            mistakes.append(f"alarm.{said(name)} is not an alarm; {meant(said(name), ALARMS)}")
        elif section := validated(ALARMS[name], f"alarm.{name}.", table, mistakes):
            sections[name] = section
            mistakes.extend(_silenced(name, section))
    return sections


def _silenced(name: str, section: AlarmSection) -> list[str]:
    """What would silence an alarm about people's health for good."""
    if not DEFAULT_POLICIES[name].safety:
        return []
    return [
        f'alarm.{name}.{key} is "never", but this alarm guards people\'s health; give it a time'
        for key in ("re_alarm_s", "escalate_s")
        if getattr(section, key) == "never"
    ]


def policies(sections: Mapping[str, AlarmSection]) -> dict[str, AlarmPolicy]:
    """The usual policy of each alarm with what its section changes."""
    return {name: _policy(usual, sections.get(name)) for name, usual in DEFAULT_POLICIES.items()}


def _policy(usual: AlarmPolicy, section: AlarmSection | None) -> AlarmPolicy:
    changes: dict[str, Any] = {}
    for key, value in section.model_dump(exclude_unset=True).items() if section else ():
        match key, value:
            case "re_alarm_s" | "escalate_s", "never":
                changes[key] = None
            case "priority", _:
                changes[key] = Priority(value)
            case "deadband_c" | "deadband_deg" | "deadband_mb", _:
                changes["deadband"] = value
            case "deadband_min", _:
                changes["deadband"] = 60 * value
            case "deadband_percent", _:
                changes["deadband"] = value / 100
            case _ if key in TIMES:
                changes[key] = value
    return replace(usual, **changes)


TIMES = ("on_delay_s", "off_delay_s", "re_alarm_s", "escalate_s", "spacing_s", "expires_s")


def limits(sections: Mapping[str, AlarmSection], interval_s: float) -> RuleLimits:
    """The usual limits with what the sections change, for probes read every so many seconds."""
    keys = {
        ("turn", "min_gain_percent"): ("min_gain", 0.01),
        ("no-news", "after_s"): ("no_news_s", 1.0),
        ("soon", "within_min"): ("soon_s", 60.0),
        ("sky", "cost_min"): ("cloud_cost_s", 60.0),
        ("rescue", "chance_percent"): ("least_chance", 0.01),
    }
    changes = {
        limit: scale * getattr(sections[name], key)
        for (name, key), (limit, scale) in keys.items()
        if name in sections and getattr(sections[name], key) is not None
    }
    fresh_s = max(RuleLimits().fresh_s, 3 * interval_s)
    return replace(RuleLimits(), fresh_s=fresh_s, own=_own_limits(sections), **changes)


def _own_limits(sections: Mapping[str, AlarmSection]) -> StationLimits:
    """The usual limits of the station itself with what the sections change."""
    keys = {
        ("storage", "free_mb"): "free_mb",
        ("storage", "days_left"): "days_left",
        ("storage", "backup_days"): "backup_days",
        ("power", "hot_c"): "hot_c",
        ("restart", "per_hour"): "restarts",
        ("restart", "absence_s"): "absence_s",
    }
    changes: dict[str, Any] = {
        limit: getattr(sections[name], key)
        for (name, key), limit in keys.items()
        if name in sections and getattr(sections[name], key) is not None
    }
    return replace(StationLimits(), **changes)
