"""The sections [alarm.NAME], and the policies and limits that come of them."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any, Literal

from pydantic import Field

from noonpot.core.alert import Priority
from noonpot.core.names import meant
from noonpot.core.policy import AlarmPolicy, RuleLimits
from noonpot.core.rules import DEFAULT_POLICIES
from noonpot.settings.schema import Section
from noonpot.settings.words import Wants, named, validated

Delay = Annotated[float, Field(ge=0, le=3600)]
DELAY = Wants("0 to 3600 seconds", "60 is usual for temperatures")
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
    expires_s: Annotated[
        Wait | None,
        Wants("60 to 86400 seconds", "say when it is too late to tell"),
    ] = None
    priority: Annotated[
        Literal["low", "medium", "high", "urgent"] | None,
        Wants('"low", "medium", "high" or "urgent"', "choose one"),
    ] = None


class TemperatureAlarm(AlarmSection):
    """[alarm.preheated] and [alarm.done]."""

    deadband_c: Annotated[
        Deadband | None, Wants("0 to 20 °C below the limit that still count as above", "2 is usual")
    ] = None


class TurnAlarm(AlarmSection):
    """[alarm.turn]."""

    deadband_deg: Annotated[Deadband | None, Wants("0 to 20 degrees", "2 is usual")] = None
    min_gain_percent: Annotated[
        Annotated[float, Field(ge=1, le=500)] | None,
        Wants("1 to 500 percent more light, to be worth the walk", "15 is usual"),
    ] = None


class NoNewsAlarm(AlarmSection):
    """[alarm.no-news]."""

    after_s: Annotated[
        Annotated[float, Field(ge=60, le=3600)] | None,
        Wants("60 to 3600 seconds without a trustworthy reading", "300 is usual"),
    ] = None


SPECIAL: dict[str, type[AlarmSection]] = {
    "preheated": TemperatureAlarm,
    "done": TemperatureAlarm,
    "turn": TurnAlarm,
    "no-news": NoNewsAlarm,
}
ALARMS = {name: SPECIAL.get(name, AlarmSection) for name in DEFAULT_POLICIES}


def alarm_sections(file: dict[str, object], mistakes: list[str]) -> dict[str, AlarmSection]:
    """The sections about alarms in a file; what is wrong is added to the mistakes."""
    sections = {}
    for name, table in named(file, "alarm", mistakes).items():
        if name not in ALARMS:
            mistakes.append(f"alarm.{name} is not an alarm; {meant(name, ALARMS)}")
        elif section := validated(ALARMS[name], f"alarm.{name}.", table, mistakes):
            sections[name] = section
    return sections


def policies(sections: Mapping[str, AlarmSection]) -> dict[str, AlarmPolicy]:
    """The usual policy of each alarm with what its section changes."""
    return {name: _policy(usual, sections.get(name)) for name, usual in DEFAULT_POLICIES.items()}


def _policy(usual: AlarmPolicy, section: AlarmSection | None) -> AlarmPolicy:
    changes: dict[str, Any] = {}
    for key, value in section.model_dump(exclude_unset=True).items() if section else ():
        match key, value:
            case "re_alarm_s", "never":
                changes[key] = None
            case "priority", _:
                changes[key] = Priority(value)
            case "deadband_c" | "deadband_deg", _:
                changes["deadband"] = value
            case "on_delay_s" | "off_delay_s" | "re_alarm_s" | "expires_s", _:
                changes[key] = value
    return replace(usual, **changes)


def limits(sections: Mapping[str, AlarmSection], interval_s: float) -> RuleLimits:
    """The usual limits with what the sections change, for probes read every so many seconds."""
    usual = RuleLimits()
    turn, no_news = sections.get("turn"), sections.get("no-news")
    gain = turn.min_gain_percent if isinstance(turn, TurnAlarm) else None
    after_s = no_news.after_s if isinstance(no_news, NoNewsAlarm) else None
    return RuleLimits(
        min_gain=usual.min_gain if gain is None else gain / 100,
        no_news_s=usual.no_news_s if after_s is None else after_s,
        fresh_s=max(usual.fresh_s, 3 * interval_s),
    )
