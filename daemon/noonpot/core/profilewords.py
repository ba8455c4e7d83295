"""What the profile of a cooker, and a change of it, say to a person, line by line."""

from collections.abc import Iterator

from noonpot.core.profile import QUANTITIES, Change, Profile
from noonpot.core.straightline import Estimate
from noonpot.core.wording import Wording


def profile_report(cooker: str, known: Profile, wording: Wording) -> Iterator[str]:
    """The profile, a line for each number."""
    yield (
        f"{cooker}, from {known.cooks} cook{'' if known.cooks == 1 else 's'} with "
        f"{known.hours:.0f} hours that tell something (in brackets: true with 90 %):"
    )
    for name, number in known.numbers.items():
        value, low, high = number_words(name, number, wording)
        yield f"  {value:>10} ({low} to {high})  {QUANTITIES[name].words}"
    for line in doubts(known):
        yield f"  {line}"


def doubts(known: Profile) -> Iterator[str]:
    """What must be said beside the numbers."""
    if not known.off_sun:
        yield "It was never seen far off the sun: that angle is a guess, or what you wrote down."
    if not known.measured:
        yield "No sensor saw the sky in some of them: the numbers lean on hours taken for clear."
    yield (
        "Light and loss are counted where the pot probe hangs. A full pot is cooler than the box "
        "around it, so gain and loss may be told a tenth too low."
    )


def number_words(name: str, number: Estimate, wording: Wording) -> tuple[str, str, str]:
    """The number with its unit, and both ends of its interval."""
    if name == "stagnation_c":
        value, low, high = (wording.temperature(t) for t in (number.value, number.low, number.high))
        return value, low, high
    places = 2 if number.high < 2 else 1 if number.high < 20 else 0
    unit = "" if QUANTITIES[name].unit == "of 1" else f" {QUANTITIES[name].unit}"
    if number.high >= 2000:  # joules
        number = Estimate(*(v / 1000 for v in (number.value, number.low, number.high)))
        places, unit = 1, " kJ/K"
    value, low, high = (f"{v:.{places}f}" for v in (number.value, number.low, number.high))
    return f"{value}{unit}", low, high


def change_report(changed: dict[str, Change], before: Profile, after: Profile) -> Iterator[str]:
    """What a rebuild did."""
    yield (
        f"Since it was rebuilt, {after.cooks} cook{'' if after.cooks == 1 else 's'} against "
        f"{before.cooks} before (in brackets: 95 %):"
    )
    for name, change in changed.items():
        ratio = change.ratio
        verdict = "real" if change.real else "may be chance"
        yield (
            f"  {ratio.value - 1:+6.0%} ({ratio.low - 1:+.0%} to {ratio.high - 1:+.0%})  "
            f"{verdict:14}{QUANTITIES[name].words}"
        )
