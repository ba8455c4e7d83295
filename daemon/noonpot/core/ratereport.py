"""The report of a cooker as a page: what kind it is, how tests rate it, and what to cook in it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from noonpot.core.markup import Inside, Markup, tag
from noonpot.core.merit import Merit
from noonpot.core.profile import Change, Profile
from noonpot.core.ratewords import NOTHING, foods_section, profile_section, rebuilt_section
from noonpot.core.rating import CookingPower
from noonpot.core.recommendation import Cell
from noonpot.core.reportframe import bullets, document, paragraph, section
from noonpot.core.reportwords import CAUTIONS, day
from noonpot.core.seasonadvice import advised, surest
from noonpot.core.seasonwords import Basis
from noonpot.core.station import CookerSpec
from noonpot.core.testwords import merit_section, power_section
from noonpot.core.wording import Wording


@dataclass(frozen=True, slots=True)
class RateReport:
    """All that is told of one cooker; ``cells`` is empty and ``basis`` None where no table of foods
    was asked for.
    """

    cooker: CookerSpec
    made_at: datetime
    wording: Wording
    profile: Profile | None
    power: CookingPower
    merit: Merit
    profile_before: Profile | None = None
    changes: Mapping[str, Change] = field(default_factory=dict)
    cells: Sequence[Cell] = ()
    basis: Basis | None = None


def page(report: RateReport) -> str:
    """The whole report as HTML."""
    name, words = report.cooker.name, report.wording
    head = [
        tag("h1", f"What {name} can do"),
        paragraph(
            f"{day(report.made_at, words)} · opening {report.cooker.aperture_m2:g} m²", kind="quiet"
        ),
        paragraph(_summary(report), kind="lead"),
        _advice(report),
    ]
    sections: list[Inside] = [
        profile_section(report.profile, words),
        rebuilt_section(report.changes, report.profile_before, report.profile),
        power_section(name, report.power),
        merit_section(name, report.merit, words),
        foods_section(report.cells, report.basis, words),
        section("What these numbers cannot tell", bullets(_limits(report)), whole=True),
        section("Before anybody touches or eats", bullets(CAUTIONS), whole=True),
    ]
    made = report.made_at.astimezone(words.timezone)
    foot = f"Made by Noonpot on {made:%Y-%m-%d} at {made:%H:%M}, times of {words.timezone}."
    return document(f"What {name} can do, {made:%Y-%m-%d}", head, sections, foot)


def _summary(report: RateReport) -> str:
    known, power = report.profile, report.power.power_w
    if known is None:
        return NOTHING
    hottest = report.wording.temperature(known.numbers["stagnation_c"].value)
    told = f"Known from {known.cooks} cook{'' if known.cooks == 1 else 's'}: "
    told += f"empty in full sun it comes to about {hottest}"
    if power is None:
        return f"{told}. Its cooking power is not known yet."
    guess = "" if report.power.measured else ", by an estimate"
    return f"{told}, and its cooking power is {power.value:.0f} W{guess}."


def _advice(report: RateReport) -> Markup | None:
    """One food for this month, where a table was asked for."""
    month = report.made_at.astimezone(report.wording.timezone).month
    best = surest(report.cells, month)
    return None if best is None else paragraph(advised(best, report.wording), kind="lead")


def _limits(report: RateReport) -> Iterator[str]:
    yield (
        "The numbers are those of a simple model: a pot, and a wall behind it. They count light "
        "and loss where the pot probe hangs."
    )
    yield "What people did not tell is not in it: turns, open lids, wind, dirty glass."
    yield (
        "The figures of the published tests compare cookers. They promise nothing for one day of "
        "yours, and nobody has certified them."
    )
    if not (report.power.measured and report.merit.measured):
        yield (
            "Where no sensor saw the light, a clear sky was reckoned for hours that the pot tells "
            "to have been clear. That is an estimate, not a test."
        )
    if report.cells:
        yield (
            "The table knows the sun of the place, but not its weather: how often a sky is clear, "
            "thin or broken is for you to judge. Trees and houses are left out of it."
        )
