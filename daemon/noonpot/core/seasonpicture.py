"""The table of foods and months as a picture: a panel for each sky, the chance as tone and number.

Tones go from light to dark with the chance, and every field holds its number, so a print in grey
and eyes that do not tell colours apart lose nothing.
"""

from collections.abc import Iterator, Sequence

from noonpot.core.markup import Inside, Markup, tag
from noonpot.core.paper import FAINT, INK, RULE, drawing, text
from noonpot.core.recommendation import SKIES, Cell
from noonpot.core.seasonadvice import recommended
from noonpot.core.seasontones import TONES, number_of, tone_of
from noonpot.core.seasonwords import Basis, sky_words
from noonpot.core.wording import MONTHS

FULL, SLIM = 720.0, 350.0
WIDE = 500.0
ROW, HEAD, GAP = 17.0, 32.0, 14.0
TITLE_ROOM, KEY_ROOM = 28.0, 40.0
LONGEST = 14
"""So many letters of a food fit on a phone."""


def fields(cells: Sequence[Cell], basis: Basis, width: float, label: str) -> Markup:
    """The picture, as wide as this; on a narrow one months are single letters, and no mass is
    told. ``label`` tells it to those who cannot see it.
    """
    parts, height = _whole(cells, basis, width)
    return drawing(width, height, label, *parts)


def titled(cooker: str, cells: Sequence[Cell], basis: Basis) -> str:
    """The same as an SVG file of its own."""
    parts, height = _whole(cells, basis, FULL)
    height += TITLE_ROOM
    drawn = drawing(
        FULL,
        height,
        _label(cells),
        tag("rect", width=FULL, height=height, fill="#ffffff"),
        text(8, 19, f"What to cook in {cooker}", font_size=15, font_weight="bold", fill=INK),
        tag("g", *parts, transform=f"translate(0 {TITLE_ROOM:g})"),
    )
    return drawn.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)


def _label(cells: Sequence[Cell]) -> str:
    foods = list(dict.fromkeys(cell.food for cell in cells))
    found = {(cell.food, cell.month, cell.sky): cell for cell in cells}
    return " ".join(["Foods by months, chance in percent.", *recommended(foods, found)])


def _whole(cells: Sequence[Cell], basis: Basis, width: float) -> tuple[list[Inside], float]:
    foods = list(dict.fromkeys(cell.food for cell in cells))
    parts: list[Inside] = []
    top = 0.0
    for sky in [sky for sky in SKIES if any(cell.sky == sky for cell in cells)]:
        shown = {(cell.food, cell.month): cell for cell in cells if cell.sky == sky}
        parts += _panel(sky, foods, shown, basis, width, top)
        top += HEAD + ROW * len(foods) + GAP
    return [*parts, *_key(width, top)], top + KEY_ROOM


def _panel(
    sky: str,
    foods: Sequence[str],
    shown: dict[tuple[str, int], Cell],
    basis: Basis,
    width: float,
    top: float,
) -> Iterator[Markup]:
    left = 150.0 if width > WIDE else 92.0
    step = (width - left - 2) / 12
    yield text(2, top + 13, sky_words(sky), fill=INK, font_weight="bold")
    for i, month in enumerate(MONTHS):
        named = month if width > WIDE else month[0]
        yield text(left + (i + 0.5) * step, top + HEAD - 5, named, text_anchor="middle")
    for row, food in enumerate(foods):
        y = top + HEAD + ROW * row
        name = food.replace("-", " ")
        if width > WIDE:
            name += f", {basis.masses_kg[food]:.3g} kg"
        elif len(name) > LONGEST:
            name = f"{name[: LONGEST - 1]}…"
        yield text(2, y + 12, name, fill=INK)
        for i in range(12):
            cell = shown.get((food, i + 1))
            if cell is not None:
                yield from _field(cell, left + i * step, y, step)


def _field(cell: Cell, x: float, y: float, step: float) -> Iterator[Markup]:
    tone = tone_of(cell)
    yield tag("rect", x=x + 0.5, y=y + 0.5, width=step - 1, height=ROW - 1, fill=tone.ground)
    style: dict[str, str | float] = {"fill": tone.ink, "font_size": 10.0}
    if cell.verdict == "good":
        style["font_weight"] = "bold"
    yield text(x + step / 2, y + 12, number_of(cell.chance), text_anchor="middle", **style)


def _key(width: float, top: float) -> Iterator[Markup]:
    """What the tones mean, below all."""
    yield text(2, top + 10, "Chance in percent that it gets done. Bold: good.", fill=FAINT)
    step = min((width - 4) / len(TONES), 110.0)
    for i, tone in enumerate(reversed(TONES)):
        x = 2 + i * step
        yield tag("rect", x=x, y=top + 18, width=9, height=11, fill=tone.ground, stroke=RULE)
        yield text(x + 12, top + 28, tone.words, font_size=9.0)
