"""``noonpot probes``: what answers, which one is which, and how true each one is."""

import json
import threading
from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

import typer

from noonpot.app import calibrating, finding, machine
from noonpot.app.buses import opened
from noonpot.cli.calibrate import calibrate, compare
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.core.calibration import Calibration
from noonpot.core.faultwords import WORDS
from noonpot.core.readings import FaultKind, Measured, Role
from noonpot.core.station import ProbeSpec
from noonpot.core.wording import Wording
from noonpot.engine.identify import Seen, survey, warm_one
from noonpot.errors import CookError
from noonpot.ports import Bus, Clock
from noonpot.settings.reading import load

app = typer.Typer(invoke_without_command=True)
app.command()(calibrate)
app.command()(compare)


@app.callback()
def probes(
    context: typer.Context,
    config: ConfigOption = DEFAULT_CONFIG,
    identify: Annotated[bool, typer.Option(help="Tell which one you warm in your hand.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List all probes that answer, with what they show now."""
    if context.invoked_subcommand is not None:
        source = context.get_parameter_source("config")
        if source is not None and source.name == "COMMANDLINE":
            word = context.invoked_subcommand
            raise CookError(f"--config belongs behind {word}: noonpot probes {word} … --config …")
        return
    settings = load(config, secrets=False)
    named = {(p.bus, p.address): p for p in settings.station.probes}
    clock = machine.system_clock()
    known = calibrating.last_calibrations(settings, clock)
    with opened(str(config), settings.buses, finding.surroundings(settings, clock)) as buses:
        if identify:
            light = {b for (b, _), p in named.items() if p.role == "irradiance"}
            _identify({n: b for n, b in buses.items() if n not in light} or buses, clock)
            return
        for one in survey(buses):
            spec = named.pop((one.bus, one.address), None)
            name = spec.name if spec else None
            if spec is not None:
                one = _corrected(one, spec, known)  # noqa: PLW2901  the same one, made true
            if as_json:
                print(json.dumps(_body(one, name)))
            else:
                words = shown(one, settings.units, spec.role if spec else None)
                print(f"{name or 'new':12} {one.bus} {one.address}: {words}")
        for spec in named.values():
            if as_json:
                print(json.dumps({"probe": spec.name, "fault": FaultKind.NOT_ANSWERING}))
            else:
                print(f"{spec.name:12} {spec.bus} {spec.address}: does not answer")


def _corrected(seen: Seen, spec: ProbeSpec, known: Mapping[str, Calibration]) -> Seen:
    """What a probe shows, made true by its calibration."""
    if not isinstance(seen.outcome, Measured):
        return seen
    value = calibrating.true_c(known, spec, seen.outcome.value)
    return replace(seen, outcome=replace(seen.outcome, value=value))


def _body(seen: Seen, name: str | None) -> Mapping[str, object]:
    """One probe for a machine; ``value`` in °C or W/m²."""
    value = fault = None
    if isinstance(seen.outcome, Measured):
        value = seen.outcome.value
    else:
        fault = seen.outcome.kind
    return {
        "bus": seen.bus,
        "address": seen.address,
        "probe": name,
        "value": value,
        "fault": fault,
    }


def _identify(buses: Mapping[str, Bus], clock: Clock) -> None:
    print("Keep still: learning how warm each probe is now.")
    told = False
    for round_ in warm_one(buses, clock, threading.Event()):
        if round_.rises and not told:
            told = True
            print("Now warm one probe in your hand. Ctrl-C ends.")
        if round_.warmed is not None:
            print(f"That is {round_.warmed.address} on bus {round_.warmed.bus}.")


def shown(seen: Seen, units: str, role: Role | None = None) -> str:
    """What a probe shows, in words; what one is that has no role yet, its description says."""
    if isinstance(seen.outcome, Measured):
        if role is Role.IRRADIANCE or (role is None and "irradiance" in seen.description):
            return f"{seen.outcome.value:.0f} W/m²"
        return Wording(units).temperature(seen.outcome.value)
    return f"{seen.outcome.kind}: {WORDS[seen.outcome.kind].phrase}"
