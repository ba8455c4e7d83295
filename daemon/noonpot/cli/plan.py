"""``noonpot plan``: will it cook, and when must it go in."""

import json
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import machine
from noonpot.app.planning import Planner, Question
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.core.planjson import plan_json
from noonpot.core.planwords import Telling, compared, told
from noonpot.core.wording import Wording
from noonpot.declination import declination
from noonpot.settings.reading import load


def plan(  # noqa: PLR0913, PLR0917  a question has many sides
    cooker: Annotated[
        str, typer.Argument(help="Name of the cooker; leave it out to compare them all.")
    ],
    food: Annotated[
        str | None, typer.Argument(help="What is cooked, a name of the food table.")
    ] = None,
    mass_kg: Annotated[float | None, typer.Option(help="How much food, kg.")] = None,
    start_c: Annotated[
        float | None,
        typer.Option(
            help="Its temperature when it goes in, °C. As usual: that of the air; 5 for food that "
            "can make people ill."
        ),
    ] = None,
    sky: Annotated[
        str | None,
        typer.Option(
            help="clear, thin, broken, overcast, or percent of a clear day's light such as 70%, or "
            "typical: as skies come, which is usual."
        ),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option(help="A weather file (CSV), forecast or past years; see docs/weather.md."),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(help="The day: 2026-06-03, today or tomorrow. As usual: the next daylight."),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(help="When the food goes in, such as 10:30. As usual: at its best time."),
    ] = None,
    meal: Annotated[
        str | None, typer.Option(help="When it must be done, such as 18:00. As usual: whenever.")
    ] = None,
    turn_every: Annotated[
        float | None,
        typer.Option(help="Minutes from turn to turn. As usual: as the past cooks, or 60."),
    ] = None,
    left: Annotated[
        bool, typer.Option("--left", help="Aimed once, when the food goes in, then left alone.")
    ] = False,
    air_c: Annotated[
        float | None,
        typer.Option(help="The air of the day, °C. As usual: what the weather file says, or 20."),
    ] = None,
    config: ConfigOption = DEFAULT_CONFIG,
    as_json: JsonOption = False,
) -> None:
    """Will it cook? The chance, when to load it at the latest, and when to give up on the sun.

    noonpot plan box bread --mass-kg 0.6 --sky clear --meal 18:00

    Times are those of the station's time zone, as in the configuration.
    """
    settings = load(config, secrets=False)
    now = machine.system_clock().moment().at
    question = Question(
        food=cooker if food is None else food,
        cooker=None if food is None else cooker,
        mass_kg=mass_kg,
        start_c=start_c,
        air_c=air_c,
        sky=sky,
        weather=weather,
        on=on,
        at=at,
        meal=meal,
        turn_every_min=turn_every,
        left=left,
    )
    wish, plans = Planner(settings).plans(question, now)
    if as_json:
        for answer in plans:
            print(json.dumps(plan_json(answer, wish), ensure_ascii=False))
        return
    place = settings.station.place
    compass = declination(place, wish.day.time_of(0))
    wording = Wording(settings.units, settings.timezone, compass.degrees)
    telling = Telling(wording, now.astimezone(settings.timezone).date())
    if len(plans) > 1:
        for line in compared(plans, telling):
            print(line)
        print()
    for line in told(max(plans, key=lambda p: p.chosen.chance), wish, telling):
        print(line)
