"""The table of recommendations for a person: foods by months, under each sky."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from noonpot.core.recommendation import SKIES, Cell
from noonpot.core.seasonadvice import recommended
from noonpot.core.wording import MONTHS, Wording


@dataclass(frozen=True, slots=True)
class Basis:
    """What a table rests on: ``cooks`` watched, the air [°C], how often it is turned [s], the mass
    of each food [kg], and what to mind with some.
    """

    cooks: int
    air_c: float
    every_s: float
    masses_kg: Mapping[str, float]
    cautions: Mapping[str, str] = field(default_factory=dict)


def table_lines(
    cooker: str, cells: Sequence[Cell], basis: Basis, wording: Wording
) -> Iterator[str]:
    """The table for a person: the chance in percent, and below it when to load at the latest."""
    foods = list(dict.fromkeys(cell.food for cell in cells))
    found = {(cell.food, cell.month, cell.sky): cell for cell in cells}
    width = max([len(food) for food in foods] + [4])
    yield (
        f"{cooker}: chance in percent that it gets done before the sun is lost, put in at a good "
        "hour; how long it then takes; and the last hour with a good chance"
    )
    yield from basis_lines(basis, wording)
    for sky in SKIES:
        yield ""
        named = sky_words(sky).lower()
        yield f"{named:<{width + 9}}{''.join(f'{month:>6}' for month in MONTHS)}"
        for food in foods:
            row = [found.get((food, month, sky)) for month in range(1, 13)]
            told = "".join(f"{'' if c is None else f'{c.chance:.0%}':>6}" for c in row)
            yield f"{food:<{width}} {basis.masses_kg[food]:>5.3g} kg{told}"
            takes = [None if c is None else c.takes_s for c in row]
            if any(takes):
                hours = "".join(f"{f'{s / 3600:.1f}h' if s else '-':>6}" for s in takes)
                yield f"{'  takes':<{width + 9}}{hours}"
            latest = [None if c is None else c.latest_at for c in row]
            if any(latest):
                clocks = "".join(f"{wording.clock(at) if at else '-':>6}" for at in latest)
                yield f"{'  in by':<{width + 9}}{clocks}"
    yield ""
    for food, words in zip(foods, recommended(foods, found), strict=True):
        yield words
        if basis.cautions.get(food):
            yield f"  Care: {basis.cautions[food]}"
    yield no_promise(wording)


def basis_lines(basis: Basis, wording: Wording) -> Iterator[str]:
    """What the table rests on."""
    yield (
        f"The day is the 15th of each month, the air {wording.temperature(basis.air_c)} all year, "
        f"the cooker is turned every {basis.every_s / 60:.0f} min. Times are those of "
        f"{wording.timezone}."
    )
    if basis.cooks == 0:
        yield "Nobody has watched it cook yet: these are guesses about any cooker of its size."


def no_promise(wording: Wording) -> str:
    """What nobody may forget beside the table."""
    return (
        "A chance is no promise. Food that can make people ill counts only if its core passes "
        f"{wording.temperature(57)} within 4 h (FDA Food Code 3-501.19). Have a second heat at "
        "hand, and a second thermometer."
    )


def sky_words(sky: str) -> str:
    """What stands above the part of a sky.

    >>> sky_words("clear"), sky_words("thin")
    ('Clear sky', 'Thin cloud')
    """
    return "Clear sky" if sky == "clear" else f"{sky.capitalize()} cloud"
