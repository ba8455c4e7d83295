"""The published tests in a report: the number, the conditions, and the statement."""

from collections.abc import Iterator, Sequence

from noonpot.core.conditions import BARRING, CONDITIONS
from noonpot.core.markup import Markup, tag
from noonpot.core.merit import KG_NEAR, KG_PER_M2, Merit
from noonpot.core.meritwords import merit_report
from noonpot.core.powerwords import power_statement, power_value
from noonpot.core.rating import CookingPower
from noonpot.core.reportframe import bullets, paragraph, section, table
from noonpot.core.wording import Wording

MET, BROKEN, UNKNOWN = "met", "not met", "not known"


def power_section(cooker: str, rated: CookingPower) -> Markup:
    """Cooking power after ASABE S580.1."""
    value, *rest = [line.strip() for line in power_value(cooker, rated)]
    if rated.power_w is None:
        return section("Cooking power", paragraph(value), bullets(rest))
    of = len(rated.intervals)
    rows = [
        (_state(t.met, t.broken, t.unknown), f"{t.met} of {of}", CONDITIONS[name].words)
        for name, t in rated.conditions.items()
    ]
    rows += [(MET if met else BROKEN, "the whole", words) for words, met in rated.whole.items()]
    return section(
        "Cooking power",
        paragraph(value, kind="lead"),
        *(paragraph(line) for line in rest),
        tag("h3", "Conditions of ASABE S580.1"),
        table(["is", "met in", "condition"], rows),
        _left_out(rated),
        *(paragraph(line) for line in power_statement(rated)),
    )


def _left_out(rated: CookingPower) -> Markup | None:
    if not rated.barred:
        return None
    told = "; ".join(f"{count}: {BARRING[name].words}" for name, count in rated.barred.items())
    return paragraph(
        f"Intervals left out because this was not met, some for several reasons. {told}.",
        kind="quiet",
    )


def merit_section(cooker: str, found: Merit, wording: Wording) -> Markup:
    """Both figures of merit after IS 13429."""
    value, *rest, statement = [line.strip() for line in merit_report(cooker, found, wording)]
    lead = None if found.first is None else "lead"
    return section(
        "Figures of merit",
        paragraph(value, kind=lead),
        *(paragraph(f"{line[:1].upper()}{line[1:]}") for line in rest),
        tag("h3", "Conditions of IS 13429"),
        table(["is", "condition"], _merit_conditions(found)),
        paragraph(statement),
    )


def _merit_conditions(found: Merit) -> Iterator[Sequence[str]]:
    near = [abs(w.kg_per_m2 / KG_PER_M2 - 1) <= KG_NEAR for w in found.warmings]
    water = [w.water for w in found.warmings]
    yield MET if found.stagnations else BROKEN, "the empty cooker came to rest in good light"
    yield MET if found.warmings else BROKEN, "a load of told mass warmed with its lid closed"
    yield _all(water), "plain water"
    yield _all(near), f"{KG_PER_M2:g} kg on each square metre, within a tenth"
    if found.stagnations or found.warmings:
        yield MET if found.measured else BROKEN, "light measured by a sensor"
    else:
        yield UNKNOWN, "light measured by a sensor"
    yield BROKEN, "light measured in the plane of the window"
    yield BROKEN, "probe on the plate of the absorber"
    yield UNKNOWN, "mirrors covered"
    yield UNKNOWN, "wind"


def _all(each: Sequence[bool]) -> str:
    return UNKNOWN if not each else MET if all(each) else BROKEN


def _state(met: int, broken: int, unknown: int) -> str:
    """What is true of all intervals together: broken once is not met.

    >>> _state(3, 0, 0), _state(3, 1, 1), _state(3, 0, 1)
    ('met', 'not met', 'not known')
    """
    if broken:
        return BROKEN
    return UNKNOWN if unknown or not met else MET
