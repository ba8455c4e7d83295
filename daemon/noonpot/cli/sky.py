"""``noonpot aim``: where to point a cooker, now or before one leaves it."""

import json
from dataclasses import replace
from typing import Annotated

import typer

from noonpot.app import machine
from noonpot.app.pointing import Pointer
from noonpot.cli.away import leave
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption, moment_of
from noonpot.core.moment import iso
from noonpot.settings.reading import load


def aim(
    cooker: Annotated[str | None, typer.Argument(help="Name of the cooker; all without.")] = None,
    at: Annotated[str | None, typer.Option(help="Another time, like 2026-06-03T18:00:00Z.")] = None,
    away: Annotated[
        str | None,
        typer.Option(help="The best aim for an absence: 3h, 90min, or 11:00-15:00 of today."),
    ] = None,
    config: ConfigOption = DEFAULT_CONFIG,
    as_json: JsonOption = False,
) -> None:
    """Where to point now, until when it holds, and the shadow of an upright peg as a compass."""
    settings = load(config, secrets=False)
    now = machine.system_clock().moment()
    when = moment_of(at, now.at)
    now = replace(now, at=when, mono_s=now.mono_s + (when - now.at).total_seconds())
    pointer = Pointer(settings, now)
    if away is not None:
        leave(pointer, cooker, away, when, settings.timezone, as_json=as_json)
        return
    for name, advice, compass in pointer.advice(cooker):
        if advice is None:
            print(
                json.dumps({"cooker": name, "sun": None})
                if as_json
                else f"{name}: the sun is lost."
            )
            continue
        if as_json:
            body = {
                "cooker": name,
                "time": iso(when),
                "azimuth_true_deg": round(advice.azimuth_true_deg, 1),
                "azimuth_magnetic_deg": round(advice.azimuth_magnetic_deg, 1),
                "elevation_deg": round(advice.elevation_deg, 1),
                "shadow_azimuth_deg": round(advice.shadow.azimuth_deg, 1),
                "shadow_length": round(advice.shadow.length, 2),
                "holds_until": iso(advice.holds_until),
                "misaim_deg": None
                if advice.present is None
                else round(advice.present.misaim_deg, 1),
            }
            print(json.dumps(body))
            continue
        local = settings.timezone
        print(
            f"{name}: point to {advice.azimuth_true_deg:.0f}° true, "
            f"{advice.azimuth_magnetic_deg:.0f}° by compass, tilt {advice.elevation_deg:.0f}° "
            f"above the horizon; good until {advice.holds_until.astimezone(local):%H:%M}."
        )
        print(
            f"  An upright peg of 1 m throws a shadow of {advice.shadow.length:.2f} m towards "
            f"{advice.shadow.azimuth_deg:.0f}°. Do not look into sun or mirrors."
        )
        print(
            f"  Aimed ahead, at {advice.ahead.azimuth_deg:.0f}° true and tilt "
            f"{advice.ahead.elevation_deg:.0f}°, it is good until "
            f"{advice.ahead_until.astimezone(local):%H:%M}."
        )
        if advice.present is not None:
            print(f"  It points {advice.present.misaim_deg:.0f}° beside the sun now.")
        if compass:
            print(f"  {compass}")
