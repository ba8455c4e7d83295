"""``noonpot demo``: a simulated day in the terminal."""

from typing import Annotated

import typer


def demo(
    rate: Annotated[float, typer.Option(help="How many times faster than life.")] = 150.0,
    seed: Annotated[int, typer.Option(help="Which day: the same number, the same clouds.")] = 1,
    page: Annotated[bool, typer.Option("--page/--no-page", help="Show it on a page, too.")] = True,
) -> None:
    """Watch two simulated cookers through a day, all parts running."""
    from noonpot.app.demo import play

    play(rate, seed, page=page)
