"""What no section shows by itself: how the sections of a file fit together."""

from collections.abc import Iterator
from itertools import combinations

from noonpot.core.names import meant
from noonpot.core.stationfacts import OWN
from noonpot.settings.alarms import NoNewsAlarm
from noonpot.settings.draft import SECTIONS, Draft
from noonpot.settings.garden import PollSection, ProbeTable
from noonpot.settings.words import shown, wants


def misfits(draft: Draft) -> Iterator[str]:
    """A sentence for each thing that does not fit. Whatever only follows from another mistake is
    not said.
    """
    yield from _missing_sections(draft)
    yield from _twice(draft)
    if OWN in _names(draft, "cooker"):
        yield (
            f"cooker.{OWN} has a name that is kept for the alarms of the station itself; "
            "choose another"
        )
    if draft.poll:
        yield from _rhythm(draft.poll, draft)
    yield from _probes(draft)
    if draft.mqtt and (draft.mqtt.username is None) != (draft.mqtt.password_file is None):
        missing = "username" if draft.mqtt.username is None else "password_file"
        yield f"mqtt.{missing} is missing; give both username and password_file, or neither"


def _missing_sections(draft: Draft) -> Iterator[str]:
    for kind in ("station", "bus", "cooker", "probe"):
        if draft.file.get(kind) in (None, []):
            yield f"{SECTIONS[kind]} is missing; 'noonpot init' asks for all that it needs"


def _names(draft: Draft, kind: str) -> list[str]:
    """The names given in sections [[kind]], right or wrong: a wrong section still can be meant."""
    tables = draft.file.get(kind)
    found = tables if isinstance(tables, list) else []
    names = [table.get("name") for table in found if isinstance(table, dict)]
    return [name for name in names if isinstance(name, str)]


def _twice(draft: Draft) -> Iterator[str]:
    for kind in ("bus", "cooker", "probe"):
        names = _names(draft, kind)
        for name in sorted({name for name in names if names.count(name) > 1}):
            yield f"{kind}.{name} is there {names.count(name)} times; give each a name of its own"


def _rhythm(poll: PollSection, draft: Draft) -> Iterator[str]:
    for key, value in (("commit_s", poll.commit_s), ("hang_s", poll.hang_s)):
        if value < poll.interval_s:
            yield (
                f"poll.{key} is {value:g}, but must not be below poll.interval_s, "
                f"{poll.interval_s:g}; raise it"
            )
    no_news = draft.alarms.get("no-news")
    if isinstance(no_news, NoNewsAlarm) and no_news.after_s is not None:
        least = 3 * poll.interval_s  # three readings may be lost (common practice, no source)
        if no_news.after_s < least:
            yield (
                f"alarm.no-news.after_s is {no_news.after_s:g}, but must be at least three times "
                f"poll.interval_s, {least:g}; raise it"
            )


def _probes(draft: Draft) -> Iterator[str]:
    cookers = _names(draft, "cooker")
    sentences = [
        sentence
        for probe in draft.probes
        for sentence in _one_probe(probe, _names(draft, "bus"), cookers)
    ]
    yield from sentences
    for one, two in combinations(draft.probes, 2):
        if (one.bus, one.address) == (two.bus, two.address):
            yield (
                f"probe.{one.name} and probe.{two.name} both have the address "
                f"{shown(one.address)} on bus {shown(one.bus)}; 'noonpot probes' lists them"
            )
    tables = draft.file.get("probe")
    all_right = isinstance(tables, list) and len(tables) == len(draft.probes) and not sentences
    if all_right:
        watched = {probe.cooker for probe in draft.probes if probe.role == "pot"}
        for cooker in draft.cookers:
            if cooker.name not in watched:
                yield (
                    f"cooker.{cooker.name} has no probe in its pot; add a [[probe]] with "
                    f'role = "pot" and cooker = {shown(cooker.name)}'
                )


def _one_probe(probe: ProbeTable, buses: list[str], cookers: list[str]) -> Iterator[str]:
    where = f"probe.{probe.name}."
    if buses and probe.bus not in buses:
        yield (
            f"{where}bus is {shown(probe.bus)}, but there is no such [[bus]]; "
            f"{meant(probe.bus, buses)}"
        )
    if probe.cooker is None:
        if probe.role in ("pot", "core"):
            yield (
                f"{where}cooker is missing; a {probe.role} probe needs "
                f"{wants(ProbeTable, 'cooker').what}"
            )
    elif cookers and probe.cooker not in cookers:
        yield (
            f"{where}cooker is {shown(probe.cooker)}, but there is no such [[cooker]]; "
            f"{meant(probe.cooker, cookers)}"
        )
    if probe.role == "irradiance" and "max_rate_c_per_s" in probe.model_fields_set:
        yield f"{where}max_rate_c_per_s is for temperatures, not for irradiance; delete the line"
