"""What is to be recommended: a food in its good months, and one food in one month as a sentence."""

from calendar import month_name
from collections.abc import Iterable, Iterator, Mapping, Sequence

from noonpot.core.recommendation import SKIES, Cell
from noonpot.core.wording import MONTHS, Wording


def advised(cell: Cell, wording: Wording) -> str:
    """How a food gets done in one month under one sky, as one sentence.

    >>> from noonpot.core.moment import utc
    >>> at, late = utc("2026-06-15T10:40:00Z"), utc("2026-06-15T13:40:00Z")
    >>> print(advised(Cell("rye-bread", 6, "clear", 0.91, 8000.0, at, late), Wording()))
    In June rye bread gets done 9 days of 10 under a clear sky when it goes in at about 10:40, by \
13:40 at the latest.
    """
    sky = "a clear sky" if cell.sky == "clear" else f"{cell.sky} cloud"
    food = cell.food.replace("-", " ")
    said = f"In {month_name[cell.month]} {food} gets done {_days(cell)} under {sky}"
    if cell.load_at is not None:
        said += f" when it goes in at about {wording.clock(cell.load_at)}"
    if cell.latest_at is not None:
        said += f", by {wording.clock(cell.latest_at)} at the latest"
    return f"{said}."


def _days(cell: Cell) -> str:
    tenths = round(cell.chance * 10)
    if tenths == 10:
        return "nearly every day"
    return f"{tenths} days of 10" if tenths > 1 else "hardly ever"


def surest(cells: Iterable[Cell], month: int) -> Cell | None:
    """What gets done most often in a month under a clear sky; None when nothing is good."""
    good = [c for c in cells if (c.month, c.sky, c.verdict) == (month, "clear", "good")]
    return max(good, key=lambda cell: cell.chance, default=None)


def recommended(foods: Sequence[str], found: Mapping[tuple[str, int, str], Cell]) -> Iterator[str]:
    """Each food with the months for which it can be recommended under a clear sky, and under all
    three.
    """
    for food in foods:
        good = {
            sky: [m for m in range(1, 13) if _is_good(found.get((food, m, sky)))] for sky in SKIES
        }
        always = sorted(set.intersection(*(set(months) for months in good.values())))
        if not good["clear"]:
            yield f"{food}: not to be recommended in any month."
        elif always:
            clear = spans(good["clear"])
            yield f"{food}: {clear} on clear days; {spans(always)} under any of these skies."
        else:
            yield f"{food}: {spans(good['clear'])}, on clear days only."


def _is_good(cell: Cell | None) -> bool:
    return cell is not None and cell.verdict == "good"


def spans(months: Sequence[int]) -> str:
    """Months in words; the year is a ring.

    >>> spans([1, 2, 5, 6, 7, 12])
    'May to Jul, Dec to Feb'
    >>> spans(list(range(1, 13))), spans([3])
    ('all year', 'Mar')
    """
    if len(months) == 12:
        return "all year"
    chosen = set(months)
    told = []
    for begin in months:
        if (begin - 2) % 12 + 1 in chosen:
            continue
        end = begin
        while end % 12 + 1 in chosen:
            end = end % 12 + 1
        first, last = MONTHS[begin - 1], MONTHS[end - 1]
        told.append(first if begin == end else f"{first} to {last}")
    return ", ".join(told)
