"""What the figures of merit say to a person, line by line."""

from collections.abc import Iterator

from noonpot.core.merit import FROM_C, SECOND_LEAST, TO_C, Merit
from noonpot.core.straightline import Estimate
from noonpot.core.wording import Wording


def merit_report(cooker: str, found: Merit, wording: Wording) -> Iterator[str]:
    """Both figures of merit, with all that must be said beside them."""
    if found.first is None:
        yield (
            f"{cooker}: no first figure of merit yet. The empty cooker must come to rest in sun of "
            "600 W/m² or more, with an air probe, and a sensor of light or a clear sky."
        )
    else:
        grade = f", grade {found.grade} of IS 13429" if found.grade else ""
        guess = (
            ", RECKONED from the profile; it was never seen at rest" if found.first_guessed else ""
        )
        yield (
            f"{cooker}: first figure of merit F1 = {found.first:.3f} m² K/W"
            f"{_interval(found.first_between, 3)}{grade}{guess}"
        )
        for s in found.stagnations:
            yield (
                f"  at rest at {wording.temperature(s.pot_c)} in air of "
                f"{wording.temperature(s.ambient_c)}, "
                f"{s.light_wm2:.0f} W/m²: {s.first:.3f}"
            )
    if found.second is None:
        yield (
            "  No second figure yet: no load of told mass warmed from "
            f"{wording.temperature(FROM_C)} to {wording.temperature(TO_C)} (or 5 K below boiling) "
            "with its lid closed, in good light."
        )
    else:
        enough = "" if found.second >= SECOND_LEAST else f", below the {SECOND_LEAST} asked for"
        yield (
            f"  second figure F2 = {found.second:.2f}{_interval(found.second_between, 2)}{enough}, "
            f"from {len(found.warmings)} load{'' if len(found.warmings) == 1 else 's'}"
        )
    if not found.measured:
        yield (
            "AN ESTIMATE: no sensor of light in some of these. The light is that of a clear sky, "
            "in hours that the pot tells to have been clear."
        )
    yield (
        "In the manner of Mullick, Kandpal and Saxena (1987) and IS 13429: the probe hangs in the "
        "pot and not on its plate; mirrors and wind are not known; the light was not measured in "
        "the plane of the window."
    )


def _interval(between: Estimate | None, places: int) -> str:
    if between is None:
        return ""
    return f" (95 %: {between.low:.{places}f} to {between.high:.{places}f})"
