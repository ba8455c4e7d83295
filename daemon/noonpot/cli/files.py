"""``noonpot replay`` and ``noonpot export``: recordings in and out."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, TextIO

import typer

from noonpot.app import machine, picturing, replaying
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, time_of
from noonpot.core.recording import format_recording
from noonpot.errors import CookError
from noonpot.settings.reading import load
from noonpot.store.export import export as export_cook
from noonpot.store.reader import Reader

OutOption = Annotated[Path | None, typer.Option("--out", help="Write to this file instead.")]


def replay(
    recording: Annotated[Path, typer.Argument(help="A recording, as 'noonpot export' writes it.")],
    every: Annotated[float, typer.Option(help="Minutes from one forecast to the next.")] = 10.0,
    history: Annotated[
        list[Path] | None,
        typer.Option(help="An earlier recording of the same cooker, to learn from; any number."),
    ] = None,
    # what follows the first value of --history A B C reaches us as arguments
    earlier: Annotated[list[Path] | None, typer.Argument(hidden=True)] = None,
    out: OutOption = None,
    picture: Annotated[
        bool, typer.Option("--picture", help="Draw the last forecast (SVG) instead.")
    ] = False,
    until: Annotated[
        str | None, typer.Option(help="Draw that of this time, like 2026-06-03T18:00:00Z.")
    ] = None,
) -> None:
    """Let the watch look at a recorded cook again: forecasts and alarms as JSON lines."""
    if every <= 0:
        raise CookError(f"--every is {every:g}, but must be above 0 minutes")
    if earlier and not history:
        raise CookError(f"{earlier[0]}: one recording at a time; earlier ones follow --history")
    past = [*(history or []), *(earlier or [])]
    if picture:
        when = None if until is None else time_of("--until", until)
        drawn = picturing.picture(recording, when, past)
        with _output(out) as stream:
            stream.write(drawn)
        return
    if until is not None:
        raise CookError("--until goes with --picture; cut the recording to hear less of it")
    lines = replaying.lines(recording, every * 60, past)
    with _output(out) as stream:
        for line in lines:
            print(line, file=stream)


def export(
    cook: Annotated[int, typer.Argument(help="Number of the cook, see 'noonpot cook list'.")],
    config: ConfigOption = DEFAULT_CONFIG,
    out: OutOption = None,
) -> None:
    """Write a cook as a recording."""
    settings, clock = load(config, secrets=False), machine.system_clock()
    reader = Reader(settings.data / machine.DATA_FILE, clock)
    recording = export_cook(reader, cook, settings.station, clock.moment().at)
    with _output(out) as stream:
        stream.write(format_recording(recording))


@contextmanager
def _output(path: Path | None) -> Iterator[TextIO]:
    """The file to write to, or standard output."""
    if path is None:
        yield sys.stdout
        return
    try:
        with path.open("w", encoding="utf-8", newline="") as stream:
            yield stream
    except OSError as error:
        raise CookError(f"--out {path}: {error.strerror}") from error
