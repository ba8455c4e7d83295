"""Alarms about the watcher's own senses: a probe cannot be trusted or is not where it belongs, the
pot lost its lid, nothing is heard.
"""

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.facts import Case
from noonpot.core.policy import AlarmPolicy
from noonpot.core.readings import FaultKind, Role
from noonpot.core.rules.cooking import light_gain
from noonpot.core.sanity_signs import Sign, SignKind
from noonpot.core.units import in_unit
from noonpot.core.wording import PHONE_LENGTH, Wording

OLD_AIM_GAIN = 0.15
"""Where turning would win so much, the aim explains a pot that cools (our choice)."""
STAYS_OPEN_S = 900.0
"""Nobody stirs for so long: then the cooker is blown over, or its lid forgotten (our choice)."""
SILENT = {FaultKind.NOT_ANSWERING, FaultKind.BUS_SHORTED}
LOST = (SignKind.LID, SignKind.SUNLESS)
MISPLACED = (SignKind.SWAPPED, SignKind.OUT, SignKind.NEVER_IN)


def probe(case: Case) -> Condition:
    """A probe of this cooker shows a named fault."""
    facts = case.facts
    if not facts.faults:
        return Condition(active=False)
    first, silent = facts.faults[0], {fault.kind for fault in facts.faults} <= SILENT
    text = case.wording.probe(facts.cooker.name, list(facts.faults))
    if silent and len(facts.faults) > 1:
        text = bus_text(facts.cooker.name, len(facts.faults))
    seen = [s for s in facts.signs if s.probe == first.probe and s.kind not in MISPLACED]
    if seen and seen[0].kind not in LOST:
        text = f"{text[:-1]} ({evidence(case.wording, seen[0])})."[:PHONE_LENGTH]
    return Condition(
        active=True,
        subject=",".join(sorted(f"{fault.probe}:{fault.kind}" for fault in facts.faults)),
        text=text,
    )


def probe_out(case: Case) -> Condition:
    """A core probe is not in the food, or is called the pot's. What it shows is not gone by, so
    nothing is done meanwhile; what is known of the food's safety is taken for the worst.
    """
    facts = case.facts
    if facts.cook is None or facts.cook.load is None:
        return Condition(active=False)
    misplaced = [sign for sign in facts.signs if sign.kind in MISPLACED]
    if not misplaced:
        return Condition(active=None if facts.core_c is None else False)
    first = misplaced[0]
    return Condition(
        active=True,
        subject=f"{first.probe}:{first.kind}",
        text=misplaced_text(case.wording, facts.cooker.name, first),
    )


def lid(case: Case) -> Condition:
    """The pot lost heat as no cloud takes it, and nobody said that the lid is open or that the
    cooker was turned. Where the aim is known to be old, ``turn`` says what to do.
    """
    facts = case.facts
    if facts.cook is None:
        return Condition(active=False)
    opened = [sign for sign in facts.signs if sign.kind is SignKind.LID]
    sunless = [sign for sign in facts.signs if sign.kind is SignKind.SUNLESS]
    if sunless and not opened and not _aim_is_old(case):
        return Condition(
            active=True,
            subject="sunless",
            text=sunless_text(case.wording, facts.cooker.name, sunless[0]),
        )
    if not opened:
        return Condition(active=None if facts.pot_c is None else False)
    open_s = facts.mono_s - opened[0].since_s
    return Condition(
        active=True,
        subject="stays" if open_s >= STAYS_OPEN_S else "opened",
        text=lid_text(case.wording, facts.cooker.name, opened[0], open_s),
    )


def _aim_is_old(case: Case) -> bool:
    """Whether the sun has gone so far since somebody aimed that a pot may cool for it. What was
    told already stays told.
    """
    facts = case.facts
    if case.records["turn"].active or case.records["lid"].active:
        return case.records["turn"].active
    return facts.misaim_deg is not None and light_gain(facts.misaim_deg, facts) >= OLD_AIM_GAIN


def no_news(case: Case) -> Condition:
    """A cook runs and no probe of its cooker has said anything trustworthy for too long. Only a
    reading ends it: after a restart the silence is counted anew, but nothing was heard.
    """
    facts, silent = case.facts, case.facts.silent_s >= case.limits.no_news_s
    if facts.cook is None:
        return Condition(active=False)
    unheard = facts.pot_c is None and facts.core_c is None and case.records["no-news"].active
    return Condition(
        active=True if silent else None if unheard else False,
        text=case.wording.no_news(facts.cooker.name, facts.heard_at),
    )


def bus_text(cooker: str, probes: int) -> str:
    """Probes that fall silent together share the cause."""
    return (
        f"{cooker}: {probes} probes do not answer: likely their bus, not the probes. "
        "Check the plug at the Pi and the pull-up; look at the food meanwhile."
    )


def misplaced_text(words: Wording, cooker: str, sign: Sign) -> str:
    """A core probe is not where it is taken to be, and by what that is seen."""
    if sign.kind is SignKind.SWAPPED:
        return (
            f"{cooker}: pot and core seem swapped: core {words.temperature(sign.to_c)}, pot "
            f"{words.temperature(sign.beside_c)} since loading. 'Done' waits: swap the probes."
        )[:PHONE_LENGTH]
    return (
        f"{cooker}: {sign.probe} not in the food? {evidence(words, sign)}. "
        "Put it in and mark a lid; 'done' waits, the safety timer runs."
    )[:PHONE_LENGTH]


def lid_text(words: Wording, cooker: str, sign: Sign, open_s: float) -> str:
    """The pot lost its heat, and for how long it has not come back [s]."""
    fell = f"pot fell {span(words, sign.from_c - sign.to_c)}, faster than without any sun"
    if open_s < STAYS_OPEN_S:
        return f"{cooker}: {fell}. Lid open? Close it. If nobody is there, look."
    return (
        f"{cooker}: {fell}, and not back for {open_s / 60:.0f} min. Lid open or cooker blown over? "
        "Go and look; mind hot glass."
    )


def sunless_text(words: Wording, cooker: str, sign: Sign) -> str:
    """The pot lost the sun, and by what that is seen."""
    return (
        f"{cooker}: pot fell {span(words, sign.from_c - sign.to_c)} in {duration(sign.seconds)} "
        f"though the sun shines ({sign.beside_c:.0f} W/m²). Knocked aside, blown over, or in a "
        "shadow? Go and look; mind glare and hot glass."
    )


def evidence(words: Wording, sign: Sign) -> str:
    """The numbers by which a sign is seen, in a few words."""
    went = f"{span(words, abs(sign.to_c - sign.from_c))} in {duration(sign.seconds)}"
    shown, beside = words.temperature(sign.to_c), words.temperature(sign.beside_c)
    place = "pot" if sign.beside is Role.POT else "air"
    match sign.kind:
        case SignKind.OUT if sign.beside is Role.CORE:
            return f"Rose {went} to {shown}; food cannot"
        case SignKind.OUT:
            way = "Rose" if sign.to_c > sign.from_c else "Fell"
            return f"{way} {went} towards the {place} at {beside}; food cannot"
        case SignKind.NEVER_IN:
            return f"{shown} like the {place} for {duration(sign.seconds)}; food lags"
        case SignKind.REVERSED:
            way = "fell" if sign.to_c < sign.from_c else "leapt"
            return f"{way} {went} to {shown}, air {beside}"
        case SignKind.SHORTED:
            return f"{shown} for {duration(sign.seconds)}"
        case _:
            still = f"{sign.to_c:.0f} W/m²" if sign.beside is Role.IRRADIANCE else shown
            return f"{still} for {duration(sign.seconds)}"


def span(words: Wording, kelvin: float) -> str:
    """A difference of temperatures, in whole degrees of the reader's unit."""
    return f"{in_unit(kelvin, words.units) - in_unit(0.0, words.units):.0f} °{words.units}"


def duration(seconds: float) -> str:
    """Seconds up to two minutes, then minutes."""
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"


RULES = {"probe": probe, "probe-out": probe_out, "lid": lid, "no-news": no_news}

POLICIES = {
    "probe": AlarmPolicy(
        on_delay_s=10,  # more than three reads (common practice, no source), at 2 s each
        off_delay_s=10,
        re_alarm_s=None,
        expires_s=14_400,
        priority=Priority.MEDIUM,
    ),
    "probe-out": AlarmPolicy(
        on_delay_s=60,  # whoever moves the probe is given a minute; nothing is done meanwhile
        off_delay_s=60,
        re_alarm_s=1800,  # without it the food is never done
        expires_s=3600,
        priority=Priority.MEDIUM,
    ),
    "lid": AlarmPolicy(
        on_delay_s=60,  # a quick look into the pot is over by then
        off_delay_s=60,
        re_alarm_s=None,
        expires_s=1800,  # the cook has cooled down by then
        priority=Priority.MEDIUM,
    ),
    "no-news": AlarmPolicy(
        on_delay_s=0,  # the limit itself is a delay
        off_delay_s=60,
        re_alarm_s=1800,  # nobody watches the food until it is mended
        expires_s=14_400,
        priority=Priority.HIGH,
        escalate_s=600,  # ten minutes without an answer: nobody has seen it
    ),
}
