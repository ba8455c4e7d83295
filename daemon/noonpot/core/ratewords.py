"""Parts of the report of a cooker: its profile, what a rebuild did, and what to cook in it."""

from collections.abc import Iterator, Mapping, Sequence

from noonpot.core.markup import Markup, join
from noonpot.core.profile import QUANTITIES, Change, Profile
from noonpot.core.profilewords import change_report, doubts, number_words
from noonpot.core.recommendation import SKIES, Cell
from noonpot.core.reportframe import bullets, figure, paragraph, section, table
from noonpot.core.seasonadvice import recommended
from noonpot.core.seasonpicture import FULL, SLIM, fields
from noonpot.core.seasonwords import Basis, basis_lines, no_promise, sky_words
from noonpot.core.wording import Wording

NOTHING = (
    "No cook tells anything of it yet. Watch some, with a probe in the pot and one in the food: "
    "each that is ended makes this report longer."
)


def profile_section(known: Profile | None, wording: Wording) -> Markup:
    """The profile with its intervals."""
    if known is None:
        return section("What kind of cooker it is", paragraph(NOTHING))
    rows = [
        (QUANTITIES[name].words, *number_words(name, number, wording))
        for name, number in known.numbers.items()
    ]
    return section(
        "What kind of cooker it is",
        paragraph(
            f"From {known.hours:.0f} hours that tell something. The truth lies between low and "
            "high in 9 cases of 10.",
            kind="quiet",
        ),
        # the words stand last, where a phone may break them
        table(
            ["value", "low", "high", "of what"],
            [(v, low, high, words) for words, v, low, high in rows],
        ),
        bullets(doubts(known)),
        whole=True,
    )


def rebuilt_section(
    changed: Mapping[str, Change], before: Profile | None, after: Profile | None
) -> Markup | None:
    """What a rebuild did, None without one."""
    if not changed or before is None or after is None:
        return None
    first, *rest = change_report(dict(changed), before, after)
    return section("What the rebuild did", paragraph(first), bullets(rest), whole=True)


def foods_section(cells: Sequence[Cell], basis: Basis | None, wording: Wording) -> Markup | None:
    """The table of foods as a picture and in sentences, None when nobody asked for it."""
    if not cells or basis is None:
        return None
    return section(
        "What to cook in it, month by month",
        *(paragraph(line) for line in basis_lines(basis, wording)),
        paragraph("Numbers are the chance in percent that it gets done before the sun is lost."),
        *(_drawn([c for c in cells if c.sky == sky], basis, sky) for sky in SKIES),
        bullets(_advice(cells, basis)),
        paragraph(no_promise(wording), kind="loud"),
    )


def _drawn(cells: Sequence[Cell], basis: Basis, sky: str) -> Markup:
    """The table of one sky, so that a sheet ends between two of them and not within one."""
    told = f"{sky_words(sky)}: chances of foods by months, told in words in the list below"
    wide, narrow = (fields(cells, basis, width, told) for width in (FULL, SLIM))
    return figure(wide, narrow, f"{sky_words(sky)}, put in at a good hour of the 15th.")


def _advice(cells: Sequence[Cell], basis: Basis) -> Iterator[Markup]:
    """Each food with the months that are good for it, and what to mind."""
    foods = list(dict.fromkeys(cell.food for cell in cells))
    found = {(cell.food, cell.month, cell.sky): cell for cell in cells}
    for food, said in zip(foods, recommended(foods, found), strict=True):
        care = basis.cautions.get(food)
        yield join(said, f" Care: {care}" if care else None)
