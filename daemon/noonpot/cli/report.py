"""``noonpot report``: a cook as a page to print, as a table, and as a picture."""

from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import machine, reporting
from noonpot.app.daytables import station_tables
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption
from noonpot.cli.writing import write
from noonpot.core.sheet import sheet
from noonpot.settings.reading import load
from noonpot.store.export import export
from noonpot.store.reader import Reader


def report(
    cook: Annotated[int, typer.Argument(help="Number of the cook, see 'noonpot cook list'.")],
    out: Annotated[Path | None, typer.Option(help="Write the page (HTML) to this file.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write a table, a row a minute.")] = None,
    png: Annotated[Path | None, typer.Option(help="Write the curves as a picture.")] = None,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Tell a cook: curves, events, forecasts and what came of them, safety, sun and aim."""
    settings, clock = load(config, secrets=False), machine.system_clock()
    reader, now = Reader(settings.data / machine.DATA_FILE, clock), clock.moment().at
    told = reporting.report_of(cook, settings, reader, station_tables(settings, clock), now)
    if png is not None:
        write("--png", png, reporting.png(told))
    if csv is not None:
        recording = export(reader, cook, settings.station, now)
        write("--csv", csv, sheet(recording, settings.units, settings.timezone).encode())
    if out is not None:
        write("--out", out, reporting.html(told).encode())
    elif png is None and csv is None:
        print(reporting.html(told), end="")
