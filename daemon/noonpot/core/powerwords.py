"""What a rating by cooking power says to a person, line by line."""

from collections.abc import Iterator

from noonpot.core.conditions import BARRING, CONDITIONS
from noonpot.core.rating import AT_K, CookingPower

NO_PROMISE = (
    "Like the fuel economy of a car, this compares cookers; it promises nothing for a day of yours."
)
ABOVE_ALL = (
    "The interval counts the scatter of the points. What differs from day to day, such as wind and "
    "dirty glass, comes on top: some 5 % after a dedicated test, 10 % and more after ordinary "
    "cooks."
)


def power_report(cooker: str, rated: CookingPower) -> Iterator[str]:
    """The rating by cooking power, with all that must be said beside it."""
    yield from power_value(cooker, rated)
    if rated.power_w is None:
        return
    yield ""
    yield from _conditions(rated)
    yield from _barred(rated)
    yield ""
    yield from power_statement(rated)


def power_value(cooker: str, rated: CookingPower) -> Iterator[str]:
    """The number with what it rests on, or what is missing for one."""
    n = len(rated.intervals)
    if rated.power_w is None or rated.line is None:
        yield (
            f"{cooker}: no cooking power yet; {n or 'no'} interval{'' if n == 1 else 's'} of ten "
            "minutes could be rated, and a line needs three."
        )
        yield from _barred(rated)
        yield (
            "It takes water or other wet food whose mass was told, an air probe, and a sensor of "
            "light or a clear sky."
        )
        return
    name = "standardised cooking power" if rated.by_the_standard else "cooking power"
    yield (
        f"{cooker}: {name} {rated.power_w.value:.0f} W at {AT_K:.0f} K above the air "
        f"(95 %: {rated.power_w.low:.0f} to {rated.power_w.high:.0f} W)"
    )
    yield (
        f"  Line: {rated.line.intercept:.1f} W {'-' if rated.line.slope < 0 else '+'} "
        f"{abs(rated.line.slope):.3f} W for each kelvin above the air; R² {rated.line.r2:.2f}, "
        f"{n} intervals of {rated.days} day{'' if rated.days == 1 else 's'}, "
        f"{rated.reach_k[0]:.0f} to {rated.reach_k[1]:.0f} K above the air."
    )
    if rated.extrapolated:
        yield f"  No interval reaches {AT_K:.0f} K: the value lies beyond what was measured."
    if not rated.measured:
        yield (
            "  AN ESTIMATE: no sensor of light. Taken are hours that the pot tells to have been "
            "clear, with the light of a clear sky."
        )
    else:
        yield "  The light was measured on level ground and turned towards the beam by reckoning."
    if any(i.to_load != 1 for i in rated.intervals):
        yield (
            "  Loads other than 7 kg on a square metre were brought to it by the heat that the "
            "empty cooker holds."
        )


def power_statement(rated: CookingPower) -> Iterator[str]:
    """By which test it was rated, and what the number cannot promise."""
    yield (
        "Tested by ASABE S580.1."
        if rated.by_the_standard
        else "Rated in the manner of ASABE S580.1, not by it: see what is not met or not known."
    )
    yield ABOVE_ALL
    yield NO_PROMISE


def _conditions(rated: CookingPower) -> Iterator[str]:
    yield "Conditions, in how many of the rated intervals: met / not met / not known"
    for name, tally in rated.conditions.items():
        told = f"{tally.met} / {tally.broken} / {tally.unknown}"
        yield f"  {told:>14}  {CONDITIONS[name].words}"
    yield "Of the whole test:"
    for words, met in rated.whole.items():
        yield f"  {'met' if met else 'not met':>14}  {words}"


def _barred(rated: CookingPower) -> Iterator[str]:
    if rated.barred:
        yield "Left out, because a condition was not met (some for several):"
        for name, count in rated.barred.items():
            yield f"  {count:>14}  {BARRING[name].words}"
