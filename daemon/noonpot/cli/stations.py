"""``noonpot stations``: all stations of a broker, worst first; and their cookers side by side."""

import json
import signal
import sys
import threading
from contextlib import suppress
from datetime import UTC, tzinfo
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import fleetwatching, machine
from noonpot.app.fleetwatching import FleetWatch
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.core.cookerdays import days_json, days_lines
from noonpot.core.moment import iso
from noonpot.core.names import is_name
from noonpot.core.stationjson import line_json
from noonpot.core.stationwords import ignored, news, report
from noonpot.core.wording import Wording
from noonpot.errors import CookError
from noonpot.fleet.listener import BrokerAccess
from noonpot.ports import Clock
from noonpot.settings.reading import load

PAGE_PORT = 8081
LONGEST_DAYS = 366

app = typer.Typer(invoke_without_command=True)


@app.callback()
def stations(  # noqa: PLR0913, PLR0917  a broker has many sides
    context: typer.Context,
    config: ConfigOption = DEFAULT_CONFIG,
    broker: Annotated[
        str | None, typer.Option(help="The broker as host:port, instead of a configuration.")
    ] = None,
    user: Annotated[str | None, typer.Option(help="The name to log in with.")] = None,
    password_file: Annotated[
        Path | None, typer.Option(help="The file that holds the password.")
    ] = None,
    ca: Annotated[
        Path | None,
        typer.Option(help="The certificate of who vouches for the broker; then it is encrypted."),
    ] = None,
    watch: Annotated[bool, typer.Option("--watch", help="Go on, and tell what changes.")] = False,
    page: Annotated[
        bool, typer.Option("--page", help="Go on, and show them on a page of this computer.")
    ] = False,
    port: Annotated[int, typer.Option(help="The port of that page.")] = PAGE_PORT,
    as_json: JsonOption = False,
) -> None:
    """Show all stations of a broker, the worst first."""
    if (word := context.invoked_subcommand) is not None:
        sources = (context.get_parameter_source(name) for name in context.params)
        if any(source is not None and source.name == "COMMANDLINE" for source in sources):
            raise CookError(f"options belong behind {word}: noonpot stations {word} …")
        return
    if not 0 <= port < 65_536:
        raise CookError(f"--port is {port}, but must be 0 to 65535")
    access, wording = _broker(config, broker, user, password_file, ca)
    clock = machine.system_clock()
    with FleetWatch(access, clock) as fleet:
        if page:
            _page(fleet, clock, port, wording.units)
        elif watch:
            _watch(fleet, clock, wording, as_json=as_json)
        else:
            fleet.settle()
            _show(fleet, clock, wording, as_json=as_json)


@app.command()
def compare(
    days: Annotated[int, typer.Option(help="So many days back from now.")] = 7,
    station: Annotated[str, typer.Option(help="Only the cookers of this station.")] = "",
    url: Annotated[
        str | None,
        typer.Option(help="The time-series server, instead of the one in [influx]."),
    ] = None,
    token_file: Annotated[Path | None, typer.Option(help="The file that holds its token.")] = None,
    config: ConfigOption = DEFAULT_CONFIG,
    as_json: JsonOption = False,
) -> None:
    """Hold cookers of all stations side by side, by what a time-series server has of them."""
    # what asks the server is loaded for this alone: the daemon has this module in memory, too
    from noonpot.app import fleetcomparing
    from noonpot.fleet.questions import asked

    if not 1 <= days <= LONGEST_DAYS:
        raise CookError(f"--days is {days}, but must be 1 to {LONGEST_DAYS}")
    if station and not is_name(station):
        raise CookError(f"--station is {station!r}, which is no name of a station")
    if url is None:
        if token_file is not None:
            raise CookError("--token-file belongs to --url; name it as well")
        settings = load(config)
        unit, server = settings.units, fleetcomparing.configured(str(config), settings.influx)
    else:
        unit, server = "C", fleetcomparing.named(url, token_file)
    now = machine.system_clock().moment().at
    found = asked(server.ask, now, days, station)
    if as_json:
        for one in found:
            print(json.dumps(days_json(one)))
        return
    if not found:
        print(f"The server has no reading of a pot in the last {days} days.")
        return
    for text in days_lines(found, unit):
        print(text)


def _broker(
    config: Path,
    broker: str | None,
    user: str | None,
    password_file: Path | None,
    ca: Path | None,
) -> tuple[BrokerAccess, Wording]:
    """The broker, and how to write numbers and times: of the configuration, or of this machine."""
    if broker is not None:
        return fleetwatching.named(broker, user, password_file, ca), Wording(timezone=_zone())
    if user or password_file or ca:
        raise CookError("--user, --password-file and --ca belong to --broker; name it as well")
    settings = load(config)
    access = fleetwatching.configured(str(config), settings.mqtt)
    return access, Wording(settings.units, settings.timezone)


def _show(fleet: FleetWatch, clock: Clock, wording: Wording, *, as_json: bool) -> None:
    now, found = clock.moment().at, fleet.lines()
    if as_json:
        counts = fleet.board.counts
        told = {"time": iso(now), "lines": [line_json(line) for line in found], "counts": counts}
        print(json.dumps(told, ensure_ascii=False))
        return
    for text, old in report(found, now, wording):
        typer.secho(text, dim=old)
    if not found:
        print("A station that runs speaks once a minute; this user must be allowed to hear it.")
    if left := ignored(fleet.board.counts):
        print(f"\n{left}.")


def _watch(fleet: FleetWatch, clock: Clock, wording: Wording, *, as_json: bool) -> None:
    """Tell all, then what changes, until interrupted."""
    problem = ""
    for changed in fleet.changes(_interrupted()):
        now = clock.moment().at
        if fleet.problem != problem:
            problem = fleet.problem
            print(f"{wording.clock(now)} {problem or 'the broker is heard'}", file=sys.stderr)
        for line in changed:
            if as_json:
                told = {"time": iso(now), **line_json(line)}
                print(json.dumps(told, ensure_ascii=False), flush=True)
            else:
                typer.secho(news(line, now, wording), dim=not line.live)


def _interrupted() -> threading.Event:
    """Given with Ctrl-C, or when the service manager says so."""
    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stop.set())
    return stop


def _page(fleet: FleetWatch, clock: Clock, port: int, unit: str) -> None:
    """Only whoever asks for the page loads its server."""
    from noonpot.app.fleetserving import PageServer

    server = PageServer(fleet.board, lambda: fleet.problem, clock, port, unit)
    print(f"The page is at {server.address}", flush=True)
    with suppress(KeyboardInterrupt):
        server.run()


def _zone() -> tzinfo:
    """The zone of this machine."""
    return machine.system_clock().moment().at.astimezone().tzinfo or UTC
