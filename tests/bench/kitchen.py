"""Cookers and food as physics for the bench, richer than the forecaster's model and apart from it.

Many cooks advance together: every quantity has shape (cooks,), the food (cooks, shells). The box
has tray, air, glass and pot as four masses, losses by radiation, wind and natural convection; food
is a sphere of dough with vapour transport and latent heat, or a stew with a leaking lid.
All numbers are scenarios of our own within the ranges of textbooks.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from bench.measured import MeasuredDay

Floats = NDArray[np.float64]
STEP_S = 5.0
SHELLS = 10
SIGMA = 5.67e-8


@dataclass(frozen=True, slots=True)
class Make:
    """How one cooker is built. ``gain_*`` tabulates aperture gain against misaim [degrees]."""

    name: str
    aperture_m2: float
    optical: float  # absorbed share of the light on the aperture
    gain_deg: tuple[float, ...]
    gain: tuple[float, ...]
    tray_jk: float
    air_jk: float
    glass_jk: float
    glass_m2: float
    pot_jk: float
    wall_wk: float  # conduction through the insulation
    tray_air_wk: float
    air_pot_wk: float
    tray_pot_wk: float
    wind_wk: float  # per (m/s) of wind, on the glass
    direct_pot: float  # share of the light that hits the pot
    acceptance_said: float  # what the owner wrote down


MAKES = (
    Make("box", 0.45, 0.55, (0, 10, 20, 30, 40, 60, 90), (1, 0.86, 0.67, 0.49, 0.36, 0.22, 0.0),
         5200, 900, 4200, 0.25, 900, 0.45, 3.0, 1.6, 1.1, 0.55, 0.25, 30.0),
    Make("panel", 0.50, 0.36, (0, 15, 30, 45, 60, 90), (1, 0.95, 0.8, 0.55, 0.33, 0.0),
         1100, 300, 700, 0.16, 1300, 0.25, 1.6, 1.5, 1.2, 0.8, 0.8, 40.0),
    Make("iron", 0.60, 0.52, (0, 10, 20, 30, 40, 60, 90), (1, 0.88, 0.7, 0.45, 0.32, 0.2, 0.0),
         6500, 1000, 4500, 0.28, 3200, 0.6, 3.6, 2.2, 1.8, 0.6, 0.35, 20.0),
    Make("chest", 0.55, 0.5, (0, 15, 30, 45, 60, 90), (1, 0.93, 0.76, 0.54, 0.36, 0.0),
         14000, 1500, 5500, 0.36, 1400, 0.35, 4.5, 2.4, 2.0, 0.7, 0.15, 35.0),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Plan:
    """One cook to simulate. Times are minutes from the start of the day's arrays."""

    make: Make
    day: MeasuredDay
    food: str  # "bread" or "stew"
    mass_kg: float
    start_c: float
    target_c: float
    start_min: int
    load_min: int
    end_min: int
    aims: tuple[tuple[int, float, float], ...]  # minute, azimuth, elevation
    lids: tuple[int, ...]
    sensor: bool
    ambient_fitted: bool
    seed: int
    boiling_c: float


@dataclass(frozen=True, slots=True, eq=False)
class Cooked:
    """What the probes would have written, a row a minute, and the truth."""

    plan: Plan
    pot_c: Floats
    core_c: Floats
    ambient_c: Floats
    irradiance: Floats
    true_core: Floats
    done_min: float | None = None
    extras: dict[str, float] = field(default_factory=dict)


def _psat(t: Floats) -> Floats:
    """Saturation pressure of water [Pa], Magnus form (from memory)."""
    return 610.94 * np.exp(17.625 * t / (t + 243.04))


def _misaim(az: Floats, el: Floats, a_az: Floats, a_el: Floats) -> Floats:
    az, el, a_az, a_el = (np.radians(x) for x in (az, el, a_az, a_el))
    dot = np.sin(el) * np.sin(a_el) + np.cos(el) * np.cos(a_el) * np.cos(az - a_az)
    return np.asarray(np.degrees(np.arccos(np.clip(dot, -1, 1))))


def absorbed_watts(plan: Plan) -> Floats:
    """Light turned into heat, minute by minute."""
    day, table = plan.day, plan.day.table
    n = len(day.ghi)
    a_az, a_el = np.zeros(n), np.full(n, 45.0)
    for minute, azimuth, elevation in plan.aims:
        a_az[minute:], a_el[minute:] = azimuth, elevation
    miss = _misaim(table.azimuth_deg, table.elevation_deg, a_az, a_el)
    gain = np.interp(miss, plan.make.gain_deg, plan.make.gain)
    glass = 1 - 0.25 * (miss / 90) ** 4
    tilt = (1 + np.sin(np.radians(a_el))) / 2
    isotropic = 0.62 * day.dhi * tilt
    circumsolar = 0.3 * np.clip(day.dni / 900, 0, 1) * day.dhi * gain
    ground = 0.18 * day.ghi * (1 - tilt)
    light = day.dni * gain * glass + isotropic + circumsolar + ground
    return np.asarray(plan.make.aperture_m2 * plan.make.optical * light)


def _food_constants(plan: Plan, rng: np.random.Generator) -> dict[str, float]:
    def spread(sd: float) -> float:
        return float(np.exp(rng.normal(0, sd)))

    if plan.food == "bread":
        rho = 480 * spread(0.12)
        return {
            "c": 2750 * spread(0.05),
            "k": 0.34 * spread(0.1),
            "rho": rho,
            "h": 26 * spread(0.12),
            "vapour": 2.2 * spread(0.2),
            "dry": 0.35 * spread(0.2),
            "wet": 0.0,
            "contact": 0.9 * spread(0.15),
            "leak": 0.0,
        }
    return {
        "c": 3800 * spread(0.04),
        "k": 0.6,
        "rho": 1020,
        "h": 60 * spread(0.15),
        "vapour": 0.0,
        "dry": 0.0,
        "wet": 1.0,
        "contact": 7.0 * spread(0.15),
        "leak": 3e-8 * spread(0.5),
    }


def simulate(  # noqa: PLR0915 - one balance, term by term
    plans: Sequence[Plan],
) -> list[Cooked]:
    """Run all cooks side by side and read their probes with noise, lag and gaps."""
    m = len(plans)
    rngs = [np.random.default_rng(p.seed) for p in plans]
    foods = [_food_constants(p, r) for p, r in zip(plans, rngs, strict=True)]

    def get(read: Callable[[Plan], float]) -> Floats:
        return np.array([read(p) for p in plans], dtype=np.float64)

    wobble = np.array([np.exp(r.normal(0, 0.05, 4)) for r in rngs])
    numbers = [f.name for f in fields(Make) if f.type is float]
    mk = {n: get(lambda p, n=n: float(getattr(p.make, n))) for n in numbers}  # type: ignore[misc]
    food = {k: np.array([f[k] for f in foods]) for k in foods[0]}
    mass, boil = get(lambda p: p.mass_kg), get(lambda p: p.boiling_c)
    pressure = _psat(boil)
    wet = food["wet"] > 0
    n_min = [p.end_min - p.start_min for p in plans]
    longest = max(n_min)
    heat = np.zeros((m, longest))
    ambient, wind = np.zeros((m, longest)), np.zeros((m, longest))
    lid = np.zeros((m, longest))
    loaded_from = get(lambda p: p.load_min - p.start_min)
    for i, p in enumerate(plans):
        sel = slice(p.start_min, p.end_min)
        heat[i, : n_min[i]] = absorbed_watts(p)[sel] * wobble[i, 0]
        ambient[i, : n_min[i]] = p.day.ambient_c[sel]
        gust = np.zeros(n_min[i])
        for j in range(1, n_min[i]):
            gust[j] = 0.93 * gust[j - 1] + rngs[i].normal(0, 0.22)
        wind[i, : n_min[i]] = np.maximum(p.day.wind_ms[sel] * np.exp(gust * 0.6), 0.2) * 0.6
        for minute in (*p.lids, p.load_min):
            lid[i, minute - p.start_min : minute - p.start_min + 2] = 1.0
    # geometry of the loaf: equal-thickness shells of a sphere
    radius = (3 * mass / (4 * np.pi * food["rho"])) ** (1 / 3)
    edge = np.linspace(0, 1, SHELLS + 1)
    shells = (edge[1:] ** 3 - edge[:-1] ** 3)[None, :]
    volume = np.where(wet[:, None], 1 / SHELLS, shells)  # a stew lies in layers
    shell_jk = mass[:, None] * food["c"][:, None] * volume
    face = 4 * np.pi * (edge[1:-1][None, :] * radius[:, None]) ** 2
    link = face / (radius[:, None] / SHELLS)
    surface = 4 * np.pi * radius**2
    tray = ambient[:, 0].copy()
    air, glass, pot = tray.copy(), tray.copy(), tray.copy()
    core = np.repeat(get(lambda p: p.start_c)[:, None], SHELLS, axis=1)
    probe = tray.copy()
    log = {k: np.full((m, longest), np.nan) for k in ("pot", "core")}
    for minute in range(longest):
        amb, w, q, lid_now = ambient[:, minute], wind[:, minute], heat[:, minute], lid[:, minute]
        on = minute >= loaded_from
        for _ in range(int(60 / STEP_S)):
            sky = amb - 12
            to_glass = mk["glass_m2"] * (2.4 * np.maximum(np.abs(air - glass), 0.1) ** 0.25)
            radiant = mk["glass_m2"] * 0.85 * SIGMA * ((tray + 273.15) ** 4 - (glass + 273.15) ** 4)
            glass_out = (
                mk["glass_m2"] * 0.88 * SIGMA * ((glass + 273.15) ** 4 - (sky + 273.15) ** 4)
            )
            glass_out += (mk["glass_m2"] * 4.5 + mk["wind_wk"] * w) * wobble[:, 1] * (glass - amb)
            walls = mk["wall_wk"] * wobble[:, 2] * (tray - amb)
            tray_air, tray_pot = mk["tray_air_wk"] * (tray - air), mk["tray_pot_wk"] * (tray - pot)
            air_pot = mk["air_pot_wk"] * (air - pot)
            open_lid = lid_now * 9.0 * (air - amb) + 0.03 * w * (air - amb)
            into = np.zeros(m)
            skin = core[:, -1]
            # loaf: film at the skin, pot bottom contact, evaporation from the skin
            film = food["h"] * surface * (0.5 * air + 0.5 * pot - skin) + food["contact"] * (
                pot - skin
            )
            dryness = food["dry"] * surface * np.maximum(skin - 55, 0) * 3.0
            stew = food["contact"] * (pot - skin)
            vent = (
                food["leak"]
                * 2.26e6
                * pressure
                * np.minimum(
                    _psat(np.minimum(skin, boil))
                    / np.maximum(pressure - _psat(np.minimum(skin, boil - 0.05)), 300.0),
                    60.0,
                )
                * 1e-3
            )
            gross = np.where(wet, stew, film)
            net = np.where(wet, stew - vent, film - dryness)
            into = np.where(on, gross, 0.0)
            apparent = 1 + np.where(wet[:, None], 0, 1.5) * np.exp(
                -(((core - boil[:, None] + 5) / 5.0) ** 2)
            )
            apparent = np.where(core > boil[:, None] - 0.3, 60.0, apparent)
            conduct = food["k"][:, None] * (
                1 + food["vapour"][:, None] * (_psat(core[:, :-1]) / pressure[:, None]) ** 1.3
            )
            flux = np.where(wet[:, None], 22.0 * np.sqrt(mass)[:, None], conduct * link) * (
                core[:, 1:] - core[:, :-1]
            )
            dcore = np.zeros_like(core)
            dcore[:, :-1] += flux
            dcore[:, 1:] -= flux
            dcore[:, -1] += net
            core = core + on[:, None] * dcore * STEP_S / (shell_jk * apparent)
            share = mk["direct_pot"]
            tray = (
                tray
                + STEP_S * ((1 - share) * q - radiant - walls - tray_air - tray_pot) / mk["tray_jk"]
            )
            air = (
                air
                + STEP_S
                * (
                    tray_air
                    - air_pot
                    - to_glass * (air - glass)
                    - open_lid
                    - 0.5 * np.where(wet | ~on, 0, food["h"] * surface * (air - skin))
                )
                / mk["air_jk"]
            )
            glass = (
                glass + STEP_S * (radiant + to_glass * (air - glass) - glass_out) / mk["glass_jk"]
            )
            pot_food = np.where(
                wet,
                into,
                np.where(
                    on,
                    0.5 * food["h"] * surface * (pot - skin) + food["contact"] * (pot - skin),
                    0.0,
                ),
            )
            pot = pot + STEP_S * (share * q + tray_pot + air_pot - pot_food) / mk["pot_jk"]
            probe = probe + STEP_S / 70.0 * (0.6 * air + 0.4 * pot - probe)
        log["pot"][:, minute], log["core"][:, minute] = probe, core[:, 0]
    return [_read(p, rngs[i], n_min[i], log["pot"][i], log["core"][i]) for i, p in enumerate(plans)]


def _read(plan: Plan, rng: np.random.Generator, n: int, pot: Floats, core: Floats) -> Cooked:
    """The columns of a recording: noise, steps of the converter, gaps, absent probes."""
    pot, core = pot[:n], core[:n].copy()
    loaded = np.arange(n) >= plan.load_min - plan.start_min
    core[~loaded] = np.nan

    def quantise(x: Floats, step: float) -> Floats:
        return np.asarray(np.round(x / step) * step)

    pot_c = quantise(pot + rng.normal(0, 0.3, n) + rng.normal(0, 0.8), 0.25)
    core_c = quantise(core + rng.normal(0, 0.06, n), 0.0625)
    ambient = plan.day.ambient_c[plan.start_min : plan.end_min]
    ambient_c = quantise(ambient + rng.normal(0.8, 0.6) + rng.normal(0, 0.1, n), 0.0625)
    ghi = plan.day.ghi[plan.start_min : plan.end_min]
    irradiance = np.round(ghi * np.exp(rng.normal(0, 0.03)) + rng.normal(0, 3, n)).clip(0)
    for column in (pot_c, core_c):
        column[rng.random(n) < 0.01] = np.nan
        gap = int(rng.integers(0, n))
        column[gap : gap + int(rng.integers(0, 9))] = np.nan
    if not plan.ambient_fitted:
        ambient_c[:] = np.nan
    if not plan.sensor:
        irradiance[:] = np.nan
    reached = np.flatnonzero(core >= plan.target_c)
    done = float(plan.start_min + reached[0]) if len(reached) else None
    return Cooked(plan, pot_c, core_c, ambient_c, irradiance, core, done)
