"""The safety log of one load in words: what the heat did, and how long the food stood lukewarm."""

from collections.abc import Iterator

from noonpot.core.cookreport import CookReport, LoadTale, SafetyTale
from noonpot.core.lethality import POULTRY, TABLES, Lethality
from noonpot.core.markup import Markup
from noonpot.core.reportframe import pairs, paragraph, section
from noonpot.core.reportwords import clock, span
from noonpot.core.safety import COLD_C, HOT_C, Course
from noonpot.core.safetylog import BLIND_S

SOURCES = {
    "roast": "FDA Food Code 3-401.11(B)(2)",
    "meat": "USDA FSIS-GD-2021-14, 7 log",
    "meat-6.5-log": "USDA FSIS-GD-2021-14, 6.5 log",
    "poultry": "USDA FSIS-GD-2021-14, 7 log",
    "minced": "FDA Food Code 3-401.11(A)(2)",
    "fish": "FDA Food Code 3-401.11(A)(1)",
    "reheated": "FDA Food Code 3-403.11",
    "plants": "FDA Food Code 3-401.13",
    "water": "R. Metcalf and others",
    "milk": "US Pasteurized Milk Ordinance, 21 CFR 1240.61",
}
MOST_FOLD = 100.0


def safety(load: LoadTale, report: CookReport) -> Markup:
    """The part of the report that tells whether the heat did what it must."""
    name = f"Food safety: {load.load.food or 'unknown food'}"
    tale = load.safety
    if tale is None:
        return section(name, paragraph("Too little heat makes nobody ill of it: no log was kept."))
    caution = load.food.caution if load.food else ""
    return section(
        name,
        paragraph(_judged(tale, report), kind=None if _went_well(tale) else "loud"),
        pairs([*_heat(load, tale, report), *_lukewarm(tale, report)]),
        paragraph(caution, kind="loud") if caution else None,
        whole=True,
    )


def _went_well(tale: SafetyTale) -> bool:
    course = tale.last.course
    return tale.watched and course.safe and course.late is None


def _judged(tale: SafetyTale, report: CookReport) -> str:
    """The one sentence that matters."""
    course, words = tale.last.course, report.wording
    if not tale.watched:
        return (
            "No probe was in the food, so nothing is known, and it counts as unsafe. Measure it by "
            "hand, in its coldest spot; in doubt discard it."
        )
    if course.spoiled:
        return (
            "It stood in the danger zone for too long, seen or unseen. Discard it; heat does not "
            "mend it."
        )
    if tale.safe_at is None:
        return (
            "The heat did not do what makes it safe, as far as was measured. Cook it through on "
            "another heat before anybody eats of it, or discard it."
        )
    if course.late is not None:
        below_c, within_s = course.late
        return (
            f"It was cooked, then cooled too slowly: not below {words.temperature(below_c)} within "
            f"{span(within_s)}. Discard it."
        )
    at = clock(tale.again_at or tale.safe_at, report.cook.started_at, words)
    if course.killed < 1.0:
        return (
            f"The heat had done what it must by {at}; after that the food was lukewarm, or a "
            "colder place was found in it. Heat it through again before anybody eats of it."
        )
    return f"By its probe the heat did what it must by {at}. What came later nobody measured."


def _heat(load: LoadTale, tale: SafetyTale, report: CookReport) -> Iterator[tuple[str, str]]:
    course, begun, words = tale.last.course, report.cook.started_at, report.wording
    rule = load.food.lethality if load.food else POULTRY
    unknown = "" if load.food else "unknown food, so as the worst: "
    yield "judged by", f"{unknown}{_rule(rule)}"
    if tale.safe_at is not None:
        again = f", and anew at {clock(tale.again_at, begun, words)}" if tale.again_at else ""
        yield "safe by heat", f"at {clock(tale.safe_at, begun, words)}{again}"
    if course.killed >= MOST_FOLD:
        yield "heat in the end", f"over {MOST_FOLD:.0f} times what it needs"
    elif course.killed >= 1.0:
        yield "heat in the end", f"{course.killed:.1f} times what it needs"
    else:
        share = min(int(course.killed * 100), 99)  # never rounded up to the whole
        yield "heat in the end", f"{share}% of what it needs"


def _lukewarm(tale: SafetyTale, report: CookReport) -> Iterator[tuple[str, str]]:
    words, course = report.wording, tale.last.course
    zone = f"{words.temperature(COLD_C)} to {words.temperature(HOT_C)}"
    yield "danger zone", f"{zone}; {span(tale.last.limit_s)} in it are the limit"
    if tale.before is not None and tale.after is not None:
        yield "in it until safe", _stood(tale.before)
        yield "in it afterwards", _stood(tale.after)
    else:
        yield "in it", _stood(course)
    if tale.last.blind_s is not None and tale.last.blind_s > BLIND_S:
        yield "at the end", f"not seen for {span(tale.last.blind_s)}"
    if course.cooling_s is not None:
        yield "cooling", f"below {words.temperature(HOT_C)} for {span(course.cooling_s)}"


def _stood(course: Course) -> str:
    if course.danger_s <= 0.0:
        return "no time"
    unseen = span(course.unknown_s) if course.unknown_s > 0.0 else "none"
    return f"{span(course.danger_s)}, {unseen} of it unseen"


def _rule(rule: Lethality) -> str:
    name = next((name for name, table in TABLES.items() if table == rule), None)
    return f'the table "{name}", {SOURCES[name]}' if name else "D and z as configured"
