"""``noonpot probes calibrate`` and ``compare``: how true the probes are."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from enum import StrEnum
from statistics import median
from typing import Annotated

import typer

from noonpot.app import calibrating, finding, machine
from noonpot.app.buses import opened
from noonpot.app.calibrating import Dip, Look
from noonpot.app.ears import DaemonEar, OwnEar
from noonpot.app.hearing import INBOX
from noonpot.cli.cooks import tell
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.core.bath import Bath, Rest, boiling_bath, ice_bath
from noonpot.core.calibration import Calibration, calibrated, place_of, point
from noonpot.core.calibrationletter import detail_of
from noonpot.core.cook import EventKind
from noonpot.core.station import ProbeSpec
from noonpot.core.stationfacts import OWN
from noonpot.core.units import degrees, in_unit
from noonpot.errors import CookError
from noonpot.ports import Clock
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader

EVERY_S = 20.0
LARGE_K = 2.0
AGREE_K = 0.5
"""Two sound DS18B20 may differ by as much, each within its ±0.5 K (its data sheet) [K]."""
SAFE_C = 63.0  # where food safety is decided: FDA Food Code 3-401.11
CAUTION = (
    "Boiling water, steam and hot pots burn; glass that goes from ice to boiling water breaks. "
    "Keep the cable's plug and its joints dry."
)


class Which(StrEnum):
    """One bath of the two."""

    ICE = "ice"
    BOILING = "boiling"


def calibrate(
    name: Annotated[str, typer.Argument(help="Name of the probe.")],
    pressure_hpa: Annotated[
        float | None,
        typer.Option(help="Air pressure by a barometer on the spot, hPa; else by the elevation."),
    ] = None,
    only: Annotated[
        Which | None, typer.Option(help="One bath only: corrects near its temperature.")
    ] = None,
    forget: Annotated[
        bool, typer.Option("--forget", help="Go by what the probe shows, uncorrected.")
    ] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Make a probe true: in ice water, then in boiling water."""
    settings, clock = load(config, secrets=False), machine.system_clock()
    (probe,) = calibrating.thermometers(settings, [name])
    place = settings.station.place
    pressure_pa = None if pressure_hpa is None else 100 * pressure_hpa
    baths = {
        Which.ICE: ice_bath(),
        Which.BOILING: boiling_bath(place.elevation_m, pressure_pa),
    }
    if not (settings.data / INBOX).is_dir():
        raise CookError(f"{settings.data} keeps nothing yet; start 'noonpot run' once, then do it")
    now = clock.moment().at
    if forget:
        tell(settings, OWN, EventKind.CALIBRATE, detail_of(Calibration(name, place_of(probe), now)))
        return
    with _dip(str(config), settings, [probe], clock) as dip:
        print(CAUTION)
        points = [
            point(bath, _settled(dip, bath, clock, settings.units)[name])
            for which, bath in baths.items()
            if only in (None, which)
        ]
    made = calibrated(name, place_of(probe), clock.moment().at, points)
    for line in _told(made, settings.units):
        print(line)
    tell(settings, OWN, EventKind.CALIBRATE, detail_of(made))


def compare(
    names: Annotated[list[str], typer.Argument(help="Names of two probes or more.")],
    config: ConfigOption = DEFAULT_CONFIG,
    as_json: JsonOption = False,
) -> None:
    """Hold several probes into one bath and see how far they differ."""
    settings, clock = load(config, secrets=False), machine.system_clock()
    probes = calibrating.thermometers(settings, names)
    if len(probes) < 2:
        raise CookError("name at least two probes to compare; 'noonpot probes' lists them")
    known = calibrating.last_calibrations(settings, clock)
    with _dip(str(config), settings, probes, clock) as dip:
        found = _settled(dip, None, clock, settings.units, quiet=as_json)
    true = {p.name: calibrating.true_c(known, p, found[p.name].mean_c) for p in probes}
    middle_c = median(true.values())
    for probe in probes:
        rest, off_k = found[probe.name], true[probe.name] - middle_c
        if as_json:
            body = {
                "probe": probe.name,
                "shown_c": round(rest.mean_c, 3),
                "true_c": round(true[probe.name], 3),
                "from_middle_k": round(off_k, 3),
                "spread_k": round(rest.spread_k, 3),
            }
            print(json.dumps(body))
            continue
        mark = "  <" if abs(off_k) > AGREE_K else ""
        print(
            f"{probe.name:12} {degrees(true[probe.name], settings.units, 2):>10}"
            f"  {off_k:+.2f} K from the middle, steady to {rest.spread_k:.2f} K{mark}"
        )
    if not as_json:
        apart_k = max(true.values()) - min(true.values())
        print(f"They lie {apart_k:.2f} K apart. {_verdict(apart_k)}")


def _verdict(apart_k: float) -> str:
    if apart_k <= AGREE_K:
        return "They agree; whether they are right, only a known bath shows."
    return "That is much: calibrate them, 'noonpot probes calibrate NAME'."


@contextmanager
def _dip(file: str, settings: Settings, probes: Sequence[ProbeSpec], clock: Clock) -> Iterator[Dip]:
    """The probes to listen to: by what the daemon hears when one runs, else by reading them."""
    if calibrating.daemon_runs(settings):
        reader = Reader(settings.data / machine.DATA_FILE, clock, whole=False)
        calibrating.not_cooking(reader, probes)
        yield Dip(DaemonEar(reader, probes, clock), probes, clock, settings.units)
        return
    needed = {probe.bus for probe in probes}
    sections = [section for section in settings.buses if section.name in needed]
    with opened(file, sections, finding.surroundings(settings, clock)) as buses:
        yield Dip(OwnEar(buses, probes, clock), probes, clock, settings.units)


def _settled(
    dip: Dip, bath: Bath | None, clock: Clock, units: str, *, quiet: bool = False
) -> dict[str, Rest]:
    """How each probe has come to rest in a bath, once all have."""
    if not quiet:
        print(_begun(bath, units))
    looks: Mapping[str, Look] = {}
    said_s = float("-inf")
    for looks in dip.looks(bath):
        now_s = clock.moment().mono_s
        settled = not any(look.waits_for for look in looks.values())
        if not quiet and (settled or now_s - said_s >= EVERY_S):
            said_s = now_s
            for name, look in looks.items():
                print(f"  {name}: {_shown(look, units)}")
    return {name: look.rest for name, look in looks.items() if look.rest is not None}


def _begun(bath: Bath | None, units: str) -> str:
    if bath is None:
        return "Put all tips close together into one bath, such as stirred water in a vacuum flask."
    true = degrees(bath.true_c, units, 2)
    return f"\nNow the {bath.name}, {true} (±{2 * bath.doubt_k:.1f} K). {bath.how}"


def _shown(look: Look, units: str) -> str:
    shown = "" if look.shown_c is None else f"{degrees(look.shown_c, units, 2)}, "
    return f"{shown}{'waiting: ' + look.waits_for if look.waits_for else 'at rest'}"


def _told(made: Calibration, units: str) -> Iterator[str]:
    """What came of the baths, in lines for people."""
    yield ""
    for one in made.points:
        yield (
            f"It showed {degrees(one.shown_c, units, 2)} where {degrees(one.true_c, units, 2)} is: "
            f"{abs(one.off_k):.2f} K too {'high' if one.off_k > 0 else 'low'}, steady to "
            f"{one.spread_k:.2f} K."
        )
    if any(abs(one.off_k) > LARGE_K for one in made.points):
        yield "That is a lot for a sound probe. If the bath may have been wrong, do it again."
    for temp_c in (0.0, SAFE_C, made.points[-1].true_c) if len(made.points) > 1 else ():
        yield (
            f"At {in_unit(temp_c, units):.0f} °{units} it is right to ±"
            f"{2 * (made.doubt_k(temp_c) or 0.0):.1f} K, nineteen times in twenty."
        )
    if len(made.points) == 1:
        yield (
            f"One bath corrects all temperatures by {made.offset_k:+.2f} K; that is right to ±"
            f"{2 * made.points[0].doubt_k:.1f} K near it, and not known elsewhere."
        )
