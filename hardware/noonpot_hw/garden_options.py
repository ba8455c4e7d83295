"""What a simulated garden can be told, and how it is checked."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from noonpot.core.names import is_name, meant
from noonpot_hw.cooker_physics import KINDS, POTS
from noonpot_hw.weather import SKIES, Change

EXAMPLE = 'cookers = [{name = "box", kind = "box", pot = "light"}]'
SKY_EXAMPLE = '[{from = "06:00", sky = "clear"}, {from = "12:40", sky = "thin-cloud"}]'


@dataclass(frozen=True, slots=True)
class CookerOptions:
    """One simulated cooker: its name, build (``KINDS``), pot (``POTS``), aperture [m²] and
    acceptance [degrees].
    """

    name: str
    kind: str = "box"
    pot: str = "light"
    aperture_m2: float = 0.25
    acceptance_deg: float = 30.0


@dataclass(frozen=True, slots=True)
class GardenOptions:
    """A simulated garden: cookers, seed, planned skies, mean ambient [°C], mean wind [m/s], and the
    noise of its thermometers [°C, standard deviation].
    """

    cookers: Sequence[CookerOptions]
    seed: int = 0
    plan: Sequence[Change] = (Change(0.0, "clear"),)
    ambient_c: float = 25.0
    wind_ms: float = 1.5
    noise_c: float = 0.05


def garden_options(options: Mapping[str, object]) -> GardenOptions:
    """The options of a ``simulated`` bus.

    ``cookers``, a list of tables with ``name`` and, if wanted, ``kind``, ``pot``, ``aperture_m2``,
    ``acceptance_deg``; ``seed``; ``sky``, one word or a list of tables with ``from`` (UTC) and
    ``sky``; ``ambient_c``, ``wind_ms``, ``noise_c``. Raises ValueError with a sentence.
    """
    known = ("cookers", "seed", "sky", "ambient_c", "wind_ms", "noise_c")
    _refuse_unknown(options, known, "option")
    seed = options.get("seed", 0)
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < 2**63:
        raise ValueError(f"seed is {str(seed)[:40]}; give a whole number from 0 on")
    return GardenOptions(
        cookers=_cookers(options.get("cookers")),
        seed=seed,
        plan=_plan(options.get("sky", "clear")),
        ambient_c=_number(options, "ambient_c", 25.0, -30.0, 50.0),
        wind_ms=_number(options, "wind_ms", 1.5, 0.0, 20.0),
        noise_c=_number(options, "noise_c", 0.05, 0.0, 5.0),
    )


def _cookers(given: object) -> Sequence[CookerOptions]:
    cookers = [_cooker(table) for table in _tables(given, f"cookers is {given!r}; write {EXAMPLE}")]
    for name in (names := [c.name for c in cookers]):
        if names.count(name) > 1:
            raise ValueError(f"cooker name {name!r} stands twice; give each its own")
    return cookers


def _cooker(table: Mapping[str, object]) -> CookerOptions:
    _refuse_unknown(table, CookerOptions.__slots__, "cooker option")
    name = table.get("name")
    if not isinstance(name, str) or not is_name(name):
        raise ValueError(f"cooker name is {name!r}; give small letters, digits, single hyphens")
    return CookerOptions(
        name,
        _choice(table, "kind", "box", KINDS),
        _choice(table, "pot", "light", POTS),
        _number(table, "aperture_m2", 0.25, 0.05, 4.0),
        _number(table, "acceptance_deg", 30.0, 2.0, 90.0),
    )


def _plan(given: object) -> Sequence[Change]:
    if isinstance(given, str):
        return (Change(0.0, _choice({"sky": given}, "sky", given, SKIES)),)
    tables = _tables(given, f"sky is {given!r}; write one word or {SKY_EXAMPLE}")
    return [_change(table) for table in tables]


def _change(table: Mapping[str, object]) -> Change:
    _refuse_unknown(table, ("from", "sky"), "sky option")
    at = table.get("from")
    clock = re.fullmatch(r"([01]\d|2[0-3]):([0-5]\d)", at) if isinstance(at, str) else None
    if clock is None:
        raise ValueError(f'sky change from {at!r}; give the time in UTC like "10:40"')
    hours, minutes = clock.groups()
    return Change(3600.0 * int(hours) + 60.0 * int(minutes), _choice(table, "sky", "clear", SKIES))


def _tables(given: object, otherwise: str) -> Sequence[Mapping[str, object]]:
    if not isinstance(given, list) or not given or not all(isinstance(t, Mapping) for t in given):
        raise ValueError(otherwise)
    return given


def _refuse_unknown(given: Mapping[str, object], known: Collection[str], what: str) -> None:
    for key in given:
        if key not in known:
            raise ValueError(f"{what} {key!r} is unknown; {meant(key, known)}")


def _choice(table: Mapping[str, object], key: str, usual: str, choice: Collection[str]) -> str:
    value = table.get(key, usual)
    if not isinstance(value, str) or value not in choice:
        raise ValueError(f"{key} is {value!r}; {meant(str(value), choice)}")
    return value


def _number(
    table: Mapping[str, object], key: str, usual: float, least: float, most: float
) -> float:
    value = table.get(key, usual)
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        raise ValueError(f"{key} is {value!r}; give a number from {least:g} to {most:g}")
    return float(value)
