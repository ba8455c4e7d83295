"""The sections [food.NAME], in the configuration and in foods.toml."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

from pydantic import Field, PlainValidator

from noonpot.core.foods import Food
from noonpot.core.lethality import POULTRY, TABLES, Curve, Lethality
from noonpot.core.names import is_name
from noonpot.errors import ConfigError
from noonpot.settings.files import parse
from noonpot.settings.schema import NAME, Section, Text
from noonpot.settings.words import Wants, named, said, shown, validated

GERM = {"d_min": (1e-3, 1e3), "ref_c": (50.0, 121.0), "z_k": (3.0, 20.0), "log": (1.0, 12.0)}
"""The numbers of a germ, each with its least and its most."""


def _lethality(written: object) -> Lethality:
    """A table by its name, or a germ by its numbers. Raises ValueError when it is neither."""
    if isinstance(written, str) and written in TABLES:
        return TABLES[written]
    if not isinstance(written, dict) or written.keys() != GERM.keys():
        raise ValueError
    for key, (least, most) in GERM.items():
        number = written[key]
        is_number = isinstance(number, int | float) and not isinstance(number, bool)
        if not is_number or not least <= number <= most:
            raise ValueError
    return Curve(**written)


class FoodSection(Section):
    """[food.NAME], here and in foods.toml."""

    target_c: Annotated[
        float,
        Field(ge=30, le=100),
        Wants("30 to 100 °C in the middle of the food", "convert °F by (°F - 32) / 1.8"),
    ]
    hold_s: Annotated[
        float,
        Field(ge=0, le=36_000),
        Wants("0 to 36000 seconds at the target", "say for how long it must stay there"),
    ] = 0.0
    loading_pot_c: Annotated[
        Annotated[float, Field(ge=30, le=250)] | None,
        Wants("30 to 250 °C in the pot", "leave it out for food that heats up with the pot"),
    ] = None
    safe_c: Annotated[
        Annotated[float, Field(ge=54, le=100)] | None,
        Wants("54 to 100 °C", "leave it out only for food that is safe to eat raw"),
    ] = None
    lethality: Annotated[
        Lethality,
        PlainValidator(_lethality),
        Wants(
            f"{', '.join(map(shown, TABLES))} or {{ d_min = …, ref_c = …, z_k = …, log = … }}",
            "foods.toml explains them",
        ),
    ] = POULTRY
    spoils: Annotated[
        bool, Wants("true or false", "false only for what does not go bad lukewarm, such as water")
    ] = True
    wet: Annotated[bool, Wants("true or false", "true for food that cooks in water")] = False
    overdone_s: Annotated[
        Annotated[float, Field(ge=60, le=36_000)] | None,
        Wants(
            "60 to 36000 seconds that it may stay in the hot pot once it is done",
            "leave it out for an hour",
        ),
    ] = None
    source: Annotated[
        Text,
        Wants("a text in quotes", 'say where the numbers come from, or "my own experience"'),
    ]
    caution: Annotated[
        str, Wants("a text in quotes", "say what no thermometer can tell, or leave it out")
    ] = ""


def food_sections(file: dict[str, object], mistakes: list[str]) -> dict[str, Food]:
    """The foods in a file by their names; what is wrong is added to the mistakes."""
    foods = {}
    for name, table in named(file, "food", mistakes).items():
        section = validated(FoodSection, f"food.{said(name)}.", table, mistakes)
        if not is_name(name):
            mistakes.append(f"food.{said(name)} is not a name; write it in {NAME.what}")
        elif section:
            try:
                foods[name] = Food(name=name, **dict(section))
            except ValueError as error:
                mistakes.append(f"food.{name}.{error}")
    return foods


def read_foods(path: Path) -> Mapping[str, Food]:
    """The foods in a file of their own, by name.

    Raises ConfigError with all mistakes that were found.
    """
    mistakes: list[str] = []
    file = parse(path)
    foods = food_sections(file, mistakes)
    mistakes.extend(
        f"{said(key)} is not a section here; write [food.NAME] above each food"
        for key in file
        if key != "food"
    )
    if mistakes:
        raise ConfigError(str(path), mistakes)
    return foods
