"""Alarms about the watcher's own senses: a probe cannot be trusted, nothing is heard."""

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.facts import Case
from noonpot.core.policy import AlarmPolicy


def probe(case: Case) -> Condition:
    """A probe of this cooker shows a named fault."""
    facts = case.facts
    if not facts.faults:
        return Condition(active=False)
    return Condition(
        active=True,
        subject=",".join(sorted(f"{fault.probe}:{fault.kind}" for fault in facts.faults)),
        text=case.wording.probe(facts.cooker.name, list(facts.faults)),
    )


def no_news(case: Case) -> Condition:
    """A cook runs and no probe of its cooker has said anything trustworthy for too long."""
    facts = case.facts
    if facts.cook is None:
        return Condition(active=False)
    return Condition(
        active=facts.silent_s >= case.limits.no_news_s,
        text=case.wording.no_news(facts.cooker.name, facts.heard_at),
    )


RULES = {"probe": probe, "no-news": no_news}

POLICIES = {
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
