"""``noonpot init`` and ``check``: everything before the first cook."""

from itertools import chain
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import checkup, finding, trial
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption
from noonpot.cli.probes import shown
from noonpot.errors import ConfigError, CookError
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
    found = [FoundProbe(s.bus, s.address, f"{s.description}, {shown(s, 'C')}") for s in seen]
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
    print(
        "It is set. Who was signed in must sign in again, and all links for looking are withdrawn."
    )
