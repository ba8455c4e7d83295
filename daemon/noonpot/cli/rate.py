"""``noonpot rate``: what a cooker can do, by the published tests and by all its cooks."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from enum import StrEnum
from itertools import combinations
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import machine, ratereporting, rating
from noonpot.app.rating import Rater
from noonpot.app.seasons import AIR_C, Season, cell_json, table
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.cli.writing import write
from noonpot.core.comparewords import comparison_json, comparison_lines
from noonpot.core.comparison import Comparison, compared, scores
from noonpot.core.meritwords import merit_report
from noonpot.core.powerwords import power_report
from noonpot.core.profilewords import change_report, profile_report
from noonpot.core.ratejson import merit_json, power_json, profile_json
from noonpot.core.seasonwords import table_lines
from noonpot.core.testguide import merit_guide, power_guide
from noonpot.core.wording import Wording
from noonpot.errors import CookError
from noonpot.settings.reading import load


class Test(StrEnum):
    """The published tests."""

    POWER = "power"
    MERIT = "merit"


def rate(  # noqa: PLR0913, PLR0917  a rating has many sides
    cooker: Annotated[str, typer.Argument(help="Name of the cooker.")],
    test: Annotated[
        Test | None,
        typer.Option(help="Rate it by cooking power or figures of merit; guides a test as well."),
    ] = None,
    recording: Annotated[
        list[Path] | None,
        typer.Option(help="A recording instead of the stored cooks; any number."),
    ] = None,
    # what follows the first value of --recording A B C reaches us as arguments
    more: Annotated[list[Path] | None, typer.Argument(hidden=True)] = None,
    since: Annotated[
        str | None, typer.Option(help="It was rebuilt on this day: 2026-06-03.")
    ] = None,
    foods: Annotated[
        bool, typer.Option("--foods", help="The table: foods, months, skies. Takes a minute.")
    ] = False,
    food: Annotated[
        list[str] | None, typer.Option(help="Only this food in the table; any number.")
    ] = None,
    air_c: Annotated[float, typer.Option(help="The air of all days of the table, °C.")] = AIR_C,
    report: Annotated[
        Path | None,
        typer.Option(help="Write all of it as a page (HTML); --foods adds the table."),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option(help="Write the table of foods as a picture (SVG).")
    ] = None,
    against: Annotated[
        str | None, typer.Option(help="Compare it with this cooker, on days when both cooked.")
    ] = None,
    setups: Annotated[
        bool, typer.Option("--setups", help="Compare set-ups, as notes name them.")
    ] = False,
    config: ConfigOption = DEFAULT_CONFIG,
    as_json: JsonOption = False,
) -> None:
    """What a cooker can do: its profile, ratings by the published tests, what to cook in it.

    A note marks a rebuild: noonpot cook mark box note rebuilt
    Another names a set-up: noonpot cook mark box note set-up: bag
    """
    if not -40 <= air_c <= 60:
        raise CookError(f"--air-c is {air_c:g}, but must be -40 to 60 °C")
    now = machine.system_clock().moment().at
    if recording:
        wording = Wording()
        rater = rating.recorded([*recording, *(more or [])], cooker, since, now, UTC)
    else:
        settings = load(config, secrets=False)
        wording = Wording(settings.units, settings.timezone)
        rater = rating.stored(settings, cooker, since, now)
    if report is not None or picture is not None:
        season = rater.season(food, air_c) if foods or food or picture is not None else None
        _write(rater, season, (report, picture), wording, now)
        return
    if foods or food:
        _season(rater, food, air_c, wording, now, as_json=as_json)
        return
    if against is not None or setups:
        _compare(_comparisons(rater, against, config, now), as_json=as_json)
        return
    if as_json:
        print(json.dumps(_body(rater, test), ensure_ascii=False))
        return
    for line in _lines(rater, test, wording, now):
        print(line)


def _write(
    rater: Rater,
    season: Season | None,
    files: tuple[Path | None, Path | None],
    wording: Wording,
    now: datetime,
) -> None:
    """The report and the picture, where they are asked for."""
    report, picture = files
    cells = [] if season is None else table(season, rater.sun, now.year)
    if picture is not None and season is not None:
        write("--picture", picture, ratereporting.svg(season, cells))
    if report is not None:
        write("--report", report, ratereporting.html(rater, wording, now, season, cells))


def _season(
    rater: Rater,
    names: list[str] | None,
    air_c: float,
    wording: Wording,
    now: datetime,
    *,
    as_json: bool,
) -> None:
    season = rater.season(names, air_c)
    cells = table(season, rater.sun, now.year)
    if as_json:
        for cell in cells:
            print(json.dumps({"cooker": rater.spec.name, **cell_json(cell)}))
        return
    for line in table_lines(rater.spec.name, cells, season.basis, wording):
        print(line)


def _comparisons(
    rater: Rater, against: str | None, config: Path, now: datetime
) -> list[Comparison]:
    """The cooker against another, or each of its set-ups against each other."""
    if against is not None:
        other = rating.stored(load(config, secrets=False), against, None, now)
        found = scores([*other.sides(), *rater.sides()])
        return [compared(found, against, rater.spec.name)]
    found = scores(rater.sides("set-up"))
    names = sorted({score.side for score in found})
    return [compared(found, *pair) for pair in combinations(names, 2)]


def _compare(found: list[Comparison], *, as_json: bool) -> None:
    if not found and not as_json:
        print("Not enough cooks yet: two set-ups must be named in notes, such as set-up: bag")
    for one in found:
        if as_json:
            print(json.dumps(comparison_json(one), ensure_ascii=False))
            continue
        for line in comparison_lines(one):
            print(line)


def _body(rater: Rater, test: Test | None) -> object:
    name = rater.spec.name
    if test is Test.POWER:
        return power_json(name, rater.power())
    if test is Test.MERIT:
        return merit_json(name, rater.merit())
    return profile_json(name, rater.profile, rater.changes)


def _lines(rater: Rater, test: Test | None, wording: Wording, now: datetime) -> Iterator[str]:
    name = rater.spec.name
    if test is Test.POWER:
        rated = rater.power()
        yield from power_report(name, rated)
        if not all(rated.whole.values()):
            yield ""
            yield from power_guide(rater.spec, rater.place, rater.guide_tables(now), now, wording)
        return
    if test is Test.MERIT:
        found = rater.merit()
        yield from merit_report(name, found, wording)
        if not found.stagnations or not found.warmings:
            yield ""
            yield from merit_guide(rater.spec, rater.place, rater.guide_tables(now), now, wording)
        return
    yield from _profile(rater, wording)


def _profile(rater: Rater, wording: Wording) -> Iterator[str]:
    name, known = rater.spec.name, rater.profile
    if known is None:
        yield (
            f"{name}: no cook tells anything of it yet. Watch some, with a probe in the pot, or "
            f"test it: noonpot rate {name} --test power"
        )
        return
    yield from profile_report(name, known, wording)
    if rater.changes and rater.profile_before is not None:
        yield ""
        yield from change_report(dict(rater.changes), rater.profile_before, known)
    yield ""
    power = rater.power().power_w
    yield (
        f"Cooking power: {f'{power.value:.0f} W' if power else 'not known yet'}. The whole rating: "
        f"noonpot rate {name} --test power"
    )
