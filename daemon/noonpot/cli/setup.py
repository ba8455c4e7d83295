"""``noonpot init``, ``check`` and ``probes``: everything before the first cook."""

import json
import threading
from collections.abc import Mapping
from itertools import chain
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import checkup, finding, machine, trial
from noonpot.app.buses import opened
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.core.faultwords import WORDS
from noonpot.core.readings import FaultKind, Measured, Role
from noonpot.core.wording import Wording
from noonpot.engine.identify import Seen, survey, warm_one
from noonpot.errors import ConfigError, CookError
from noonpot.ports import Bus, Clock
from noonpot.settings.ask import FoundProbe, interview, system_timezone
from noonpot.settings.reading import load


def init(
    config: ConfigOption = DEFAULT_CONFIG,
    w1_base: Annotated[Path, typer.Option(help="Where the system lists 1-Wire probes.")] = Path(
        "/sys/bus/w1/devices"
    ),
    simulated: Annotated[bool, typer.Option(help="Use simulated cookers, to try things.")] = False,
) -> None:
    """Write a commented configuration by asking."""
    if config.exists():
        raise ConfigError(str(config), ["there is a file of this name already; choose another"])
    sections, seen = finding.look_around(w1_base, simulated=simulated)
    found = [FoundProbe(s.bus, s.address, f"{s.description}, {_value(s, 'C')}") for s in seen]
    text = interview(
        lambda question, default: typer.prompt(
            question, default=default, show_default=bool(default)
        ),
        print,
        sections,
        found,
        system_timezone(),
    )
    config.write_text(text, encoding="utf-8")
    print(f"Written to {config}. Now try: noonpot check --config {config}")


def check(
    config: ConfigOption = DEFAULT_CONFIG,
    test_alert: Annotated[
        bool, typer.Option(help="Also send a marked alert by every channel.")
    ] = False,
    set_passphrase: Annotated[
        bool, typer.Option("--set-passphrase", help="Only choose the passphrase of the page.")
    ] = False,
) -> None:
    """Try everything: the configuration, probes, store, clock, sun, broker, push and server."""
    if set_passphrase:
        _choose_passphrase(config)
        return
    failed = False
    found = checkup.findings(config)
    for finding_ in chain(found, trial.trials(config)) if test_alert else found:
        failed |= not finding_.good
        print(f"{'good' if finding_.good else 'BAD '}  {finding_.what}: {finding_.words}")
    raise typer.Exit(1 if failed else 0)


def _choose_passphrase(config: Path) -> None:
    from noonpot.app.pagehouse import keyring  # brings along what serves the page

    keys = keyring(load(config, secrets=False))
    passphrase = typer.prompt(
        "New passphrase of the page", hide_input=True, confirmation_prompt=True
    )
    try:
        keys.set_passphrase(passphrase)
    except ValueError as error:
        raise CookError(str(error)) from None
    print("It is set. Who was signed in must sign in again.")


def probes(
    config: ConfigOption = DEFAULT_CONFIG,
    identify: Annotated[bool, typer.Option(help="Tell which one you warm in your hand.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List all probes that answer, with what they show now."""
    settings = load(config, secrets=False)
    named = {(p.bus, p.address): p for p in settings.station.probes}
    clock = machine.system_clock()
    with opened(str(config), settings.buses, finding.surroundings(settings, clock)) as buses:
        if identify:
            light = {b for (b, _), p in named.items() if p.role == "irradiance"}
            _identify({n: b for n, b in buses.items() if n not in light} or buses, clock)
            return
        for one in survey(buses):
            spec = named.pop((one.bus, one.address), None)
            name = spec.name if spec else None
            if as_json:
                print(json.dumps(_body(one, name)))
            else:
                role = spec.role if spec else None
                shown = _value(one, settings.units, role)
                print(f"{name or 'new':12} {one.bus} {one.address}: {shown}")
        for spec in named.values():
            if as_json:
                print(json.dumps({"probe": spec.name, "fault": FaultKind.NOT_ANSWERING}))
            else:
                print(f"{spec.name:12} {spec.bus} {spec.address}: does not answer")


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


def _value(seen: Seen, units: str, role: Role | None = None) -> str:
    """What a probe shows, in words; what one is that has no role yet, its description says."""
    if isinstance(seen.outcome, Measured):
        if role is Role.IRRADIANCE or (role is None and "irradiance" in seen.description):
            return f"{seen.outcome.value:.0f} W/m²"
        return Wording(units).temperature(seen.outcome.value)
    return f"{seen.outcome.kind}: {WORDS[seen.outcome.kind].phrase}"
