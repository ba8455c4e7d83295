"""Alarms of the station itself: the watcher says when it is in doubt, or cannot be heard."""

from noonpot.core.alarms import Condition
from noonpot.core.alert import Priority
from noonpot.core.policy import AlarmPolicy
from noonpot.core.stationfacts import Absence, Backup, Mended, Silent, StationCase, StoreTrouble
from noonpot.core.wording import PHONE_LENGTH

HOUR_S = 3600.0
DAY_S = 86_400.0


def clock(case: StationCase) -> Condition:
    """The clock was not set since the machine was switched on, or one that was set has jumped. The
    first setting after switching on is no jump: it is what everybody waits for.
    """
    facts, limits = case.facts, case.limits
    if not facts.clock_trusted:
        words = (
            "clock not set, so all that needs the sun waits. Temperature and safety alarms go on. "
            "Give it a network."
        )
        return Condition(active=True, subject="not-set", text=_said(case, words))
    step = facts.step
    if step is None or step.ago_s > limits.shown_s or abs(step.shift_s) < limits.step_s:
        return Condition(active=False)
    words = (
        f"clock corrected by {'+' if step.shift_s > 0 else '-'}{span(abs(step.shift_s))} though it "
        "had been set. Check its time service; no alarm was held up."
    )
    return Condition(active=True, subject="stepped", text=_said(case, words))


def storage(case: StationCase) -> Condition:
    """Readings cannot be written down, or soon cannot, or only slowly; the worst is told."""
    survey, limits = case.facts.survey, case.limits
    if case.facts.trouble is not None:
        subject, words = case.facts.trouble.value, TROUBLES[case.facts.trouble]
    elif case.facts.mended is not None:
        found = case.facts.mended
        subject = "newer" if found.newer else "unwritable" if found.unwritable else "mended"
        words = _mended(case, case.facts.mended)
    elif survey is None or survey.free_mb is None:
        return Condition(active=None)
    elif survey.free_mb < limits.free_mb + case.deadband("storage"):
        left = "" if survey.days_left is None else f", {_days(survey.days_left)} at this pace"
        subject = "nearly-full"
        words = f"card nearly full, {survey.free_mb:.0f} MB left{left}. Free some space on it."
    elif survey.days_left is not None and survey.days_left < limits.days_left:
        subject = "nearly-full"
        words = (
            f"card full in {_days(survey.days_left)} at this pace, {survey.free_mb:.0f} MB left. "
            "Find out what fills it, and free some space."
        )
    elif (survey.slowest_write_s or 0.0) >= limits.slow_write_s:
        subject = "slow"
        words = (
            f"storage slow, one write took {survey.slowest_write_s:.0f} s. The card may be worn "
            "out: make a backup, then replace it."
        )
    elif (survey.wal_mb or 0.0) >= limits.wal_mb:
        subject = "unmerged"
        words = (
            f"{survey.wal_mb:.0f} MB wait to be merged into the data file. End whatever else reads "
            "that file, or restart Noonpot."
        )
    elif survey.backup is not None and survey.backup.damaged:
        subject = "unsound"
        words = (
            "the data file is damaged, which the backup found. Restart Noonpot when nothing cooks: "
            "it goes on from the last good backup."
        )
    elif survey.backup is not None and _overdue(case, survey.backup):
        subject, words = "no-backup", _no_backup(case, survey.backup)
    else:
        return Condition(active=False)
    return Condition(active=True, subject=subject, text=_said(case, words))


def _mended(case: StationCase, mended: Mended) -> str:
    if mended.newer:
        return (
            "the data file is of a newer Noonpot and stays as it is; readings go to "
            f"{mended.kept}. No page until the newer one is installed. Start your cook again: "
            "'noonpot cook start'."
        )
    if mended.unwritable:
        return (
            "the card takes nothing (full, worn out?): all is in memory and goes with the power. "
            "Your cook is not known: start it again. Free or replace the card, then restart."
        )
    came = "a new one is begun"
    if mended.restored is not None:
        came = f"that of {case.wording.day_and_clock(mended.restored)} is in its place"
    return (
        f"data file damaged, {came}. It may not know of your cook: look at the food, start it "
        f"again. Old file: {mended.kept}."
    )


def _overdue(case: StationCase, backup: Backup) -> bool:
    """Whether the backup fails, and has for long; one that was never made is missed at once."""
    if not backup.problem or not case.facts.clock_trusted:
        return False
    age_s = None if backup.at is None else (case.facts.at - backup.at).total_seconds()
    return age_s is None or age_s >= case.limits.backup_days * DAY_S


def _no_backup(case: StationCase, backup: Backup) -> str:
    for_ = "yet" if backup.at is None else f"since {case.wording.day_and_clock(backup.at)}"
    reason = backup.problem.partition(";")[0].rstrip(".")
    return f"no backup {for_}: {reason}. 'noonpot backup' tells more."


TROUBLES = {
    StoreTrouble.FULL: "card full: readings are kept in memory only and get lost with the power. "
    "Free some space; alarms go on.",
    StoreTrouble.UNWRITABLE: "the card can no longer be written (worn out?): readings are kept in "
    "memory only. Replace it; alarms go on.",
    StoreTrouble.DAMAGED: "the data file is damaged: readings are kept in memory only. Restart "
    "Noonpot: it goes on from the last good backup; alarms go on.",
    StoreTrouble.OTHER: "the data file cannot be written: readings are kept in memory only. See "
    "'journalctl -u noonpot'; alarms go on.",
}


def link(case: StationCase) -> Condition:
    """A channel reaches nobody. The others tell, and the page."""
    survey = case.facts.survey
    if survey is None:
        return Condition(active=None)
    if not survey.silent:
        return Condition(active=False)
    others = [c for c in survey.channels if c not in {s.channel for s in survey.silent}]
    return Condition(
        active=True,
        subject=",".join(sorted(silent.channel for silent in survey.silent)),
        text=_unheard(case, survey.silent, others),
    )


def _unheard(case: StationCase, silent: tuple[Silent, ...], others: list[str]) -> str:
    longest = max(silent, key=lambda each: each.for_s)
    names = " and ".join(each.channel for each in silent)
    waiting = max(each.waiting for each in silent)
    wait = f"{waiting} messages wait, " if waiting else ""
    by = f"alarms go by {' and '.join(others)}" if others else "no way to reach you"
    since = f"since {case.clock(longest.for_s)}"
    if not case.facts.clock_trusted:
        since = f"for {span(longest.for_s)}"
    words = f"{names} off {since}: {wait}{by}. Look at the food; check the network."
    why = f" Reason: {longest.reason.partition(';')[0]}."
    said = _said(case, words)
    return said + why if len(said + why) <= PHONE_LENGTH else said


def power(case: StationCase) -> Condition:
    """The supply is too weak, or the processor too hot."""
    survey, limits = case.facts.survey, case.limits
    if survey is None or (survey.under_voltage is None and survey.heat_c is None):
        return Condition(active=None)
    if survey.under_voltage:
        words = (
            "its power supply is too weak: readings and card at risk. Use a stronger one and a "
            "short, thick cable."
        )
        return Condition(active=True, subject="weak", text=_said(case, words))
    if survey.heat_c is not None and survey.heat_c >= limits.hot_c - case.deadband("power"):
        heat = case.wording.temperature(survey.heat_c)
        words = f"its computer is {heat} hot and slows down. Give it shade and air."
        return Condition(active=True, subject="hot", text=_said(case, words))
    return Condition(active=False)


def restart(case: StationCase) -> Condition:
    """The daemon crashes again and again, or was away while food was in a cooker's care."""
    survey, limits = case.facts.survey, case.limits
    if survey is None or survey.absence is None:
        return Condition(active=None)
    absence = survey.absence
    if absence.restarts > limits.restarts:
        words = (
            f"restarted itself {absence.restarts} times within an hour. Check its power supply; "
            "'journalctl -u noonpot' says more."
        )
        return Condition(active=True, subject="often", text=_said(case, words))
    if not case.facts.cooking or not _missed(case, absence):
        return Condition(active=False)
    gap = "long" if absence.gap_s is None else f"{absence.gap_s:.0f}"
    return Condition(active=True, subject=f"away-{gap}", text=_said(case, _away(case, absence)))


def _missed(case: StationCase, absence: Absence) -> bool:
    """Whether the food may have changed much meanwhile; what nobody knows counts as much."""
    if absence.gap_s is None:
        return True
    return absence.gap_s >= case.limits.absence_s and absence.ago_s <= case.limits.shown_s


def _away(case: StationCase, absence: Absence) -> str:
    gap = ", nobody knows how long"
    if absence.gap_s is not None:
        until = f", until {case.clock(absence.ago_s)}" if case.facts.clock_trusted else ""
        gap = f" for about {span(absence.gap_s)}{until}"
    return (
        f"was off{gap}. Count that time as unsafe for the food, and check it with a second "
        "thermometer."
    )


def span(seconds: float) -> str:
    """A stretch of time for people.

    >>> span(42), span(3600), span(5460), span(90_000)
    ('42 s', '60 min', '91 min', '25 h')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 3 * HOUR_S:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / HOUR_S:.0f} h" if seconds < 3 * DAY_S else f"{seconds / DAY_S:.0f} days"


def _days(days: float) -> str:
    return "less than a day" if days < 1 else span(days * DAY_S)


def _said(case: StationCase, words: str) -> str:
    return f"station {case.facts.station}: {words}"


RULES = {"clock": clock, "storage": storage, "link": link, "power": power, "restart": restart}

# Numbers without another word are our choice: long enough that what mends itself bothers nobody,
# short enough that a person still can act.
POLICIES = {
    "clock": AlarmPolicy(
        on_delay_s=300,  # the network, and with it the time, comes some minutes after the power
        off_delay_s=0,  # set is set
        re_alarm_s=None,
        expires_s=14_400,
        priority=Priority.LOW,
    ),
    "storage": AlarmPolicy(
        on_delay_s=20,  # two writes of the usual 10 s
        off_delay_s=60,
        re_alarm_s=86_400,
        expires_s=14_400,
        priority=Priority.MEDIUM,
        deadband=20.0,
    ),
    "link": AlarmPolicy(
        on_delay_s=120,  # a router or broker that is started anew is back by then
        off_delay_s=60,
        re_alarm_s=None,
        expires_s=1800,  # by the channel that was off it comes late, if at all
        priority=Priority.MEDIUM,
    ),
    "power": AlarmPolicy(
        on_delay_s=10,
        off_delay_s=600,  # the supply gives way whenever the load grows: that is one occurrence
        re_alarm_s=86_400,
        expires_s=14_400,
        priority=Priority.MEDIUM,
        deadband=5.0,
    ),
    "restart": AlarmPolicy(
        on_delay_s=0,
        off_delay_s=0,
        re_alarm_s=None,
        expires_s=14_400,  # 4 h: FDA Food Code 3-501.19, then food without heat is discarded
        priority=Priority.HIGH,
    ),
}
