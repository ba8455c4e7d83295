"""Four kinds of cookers as parts with heat capacities and conductances, and whom they belong to.

All numbers are scenarios of our own within the ranges of textbooks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
KINDS = ("tin", "iron", "panel", "deep")
PARTS: dict[str, tuple[float, float, float, float, float]] = {
    # for each kind, and how much one built like it differs (standard deviation of the logarithm)
    "scale": (0.86, 0.63, 1.0, 0.55, 0.10),  # light of this one over that of its traced design
    "glass_m2": (0.20, 0.25, 0.24, 0.115, 0.06),
    "single": (0, 0, 1, 1, 0),  # one sheet of glass, or a bag, in place of two
    "tray_m2": (0.55, 0.70, 0.05, 0.60, 0.12),  # tray and lining
    "pot_m2": (0.085, 0.10, 0.085, 0.09, 0),
    "lid_m2": (0.040, 0.050, 0.040, 0.045, 0),
    "pot_sees_glass": (0.25, 0.25, 0.85, 0.20, 0),  # share of its view
    "tray_sees_glass": (0.30, 0.30, 0.5, 0.20, 0),
    "pot_emits": (0.90, 0.88, 0.90, 0.90, 0.03),
    "tray_emits": (0.45, 0.35, 0.6, 0.30, 0.25),
    "stand_wk": (0.8, 0.6, 0.25, 0.5, 0.35),  # from tray to pot by touching [W/K]
    "tray_shell_wk": (1.1, 1.3, 0.5, 1.2, 0.2),
    "shell_out_wk": (1.0, 1.1, 0.4, 1.2, 0.15),
    "shell_jk": (2600, 3500, 800, 2800, 0.25),  # heat capacities [J/K]
    "tray_jk": (1100, 1400, 250, 1000, 0.25),
    "leak_wk": (0.16, 0.18, 0.10, 0.2, 0.35),  # through gaps
    "gape_wk": (9, 11, 3, 9, 0.3),  # when it is open
    "pot_jk": (380, 2200, 420, 480, 0.15),
    "lid_jk": (260, 800, 260, 280, 0.1),
    "rim_wk": (0.5, 0.9, 0.5, 0.5, 0.3),  # from pot to lid
    "outer_jk": (1260, 1570, 260, 970, 0.1),
    "inner_jk": (1260, 1570, 500, 970, 0.1),
    "air_jk": (170, 200, 90, 160, 0),
    "steam_jk": (60, 70, 60, 60, 0),  # of the air in the pot
    "pot_steam_m2": (0.06, 0.07, 0.06, 0.06, 0),
    "lid_steam_m2": (0.04, 0.05, 0.04, 0.045, 0),
    "vent_m3s": (1.8e-5, 0.6e-5, 1.6e-5, 1.8e-5, 0.5),  # steam past the lid [m³/s]
    "to_box": (0.6, 0.6, 0.7, 0.6, 0),  # share of this steam that stays in the box for a while
    "box_air_m3s": (4e-4, 5e-4, 1.5e-4, 4e-4, 0),  # change of the air in the box [m³/s]
    "shelter": (0.35, 0.35, 0.45, 0.4, 0.25),  # wind at the cooker over wind of the station
    "sees_sky": (0.75, 0.75, 0.5, 0.7, 0),  # share of the view of the glass
    "absorbs": (0.86, 0.86, 0.90, 0.84, 0.03),  # share of the light inside
    "to_pot": (0.42, 0.42, 0.58, 0.40, 0.08),  # share of this
    "to_lid": (0.26, 0.28, 0.30, 0.24, 0.1),
    "aperture_m2": (0.40, 0.55, 0.45, 0.36, 0),
}


@dataclass(frozen=True, slots=True, eq=False)
class Cookers:
    """The parts of many cookers side by side, each shape (cooks,); units are those of ``PARTS``."""

    scale: Floats
    glass_m2: Floats
    single: Floats
    tray_m2: Floats
    pot_m2: Floats
    lid_m2: Floats
    pot_sees_glass: Floats
    tray_sees_glass: Floats
    pot_emits: Floats
    tray_emits: Floats
    stand_wk: Floats
    tray_shell_wk: Floats
    shell_out_wk: Floats
    shell_jk: Floats
    tray_jk: Floats
    leak_wk: Floats
    gape_wk: Floats
    pot_jk: Floats
    lid_jk: Floats
    rim_wk: Floats
    outer_jk: Floats
    inner_jk: Floats
    air_jk: Floats
    steam_jk: Floats
    pot_steam_m2: Floats
    lid_steam_m2: Floats
    vent_m3s: Floats
    to_box: Floats
    box_air_m3s: Floats
    shelter: Floats
    sees_sky: Floats
    absorbs: Floats
    to_pot: Floats
    to_lid: Floats

    @classmethod
    def of(cls, parts: Sequence[Mapping[str, float]]) -> "Cookers":
        """One row of parts for each cook."""
        return cls(**{f.name: np.array([float(p[f.name]) for p in parts]) for f in fields(cls)})


@dataclass(frozen=True, slots=True)
class Owner:
    """One cooker, its probes, and how its owner uses both.

    The pot's probe sees the pot's wall, lid and air in the shares ``wall_share``, ``lid_share``
    and what is left; ``waits`` says whether the core's probe hangs in the pot before loading.
    """

    kind: str
    parts: Mapping[str, float]
    wall_share: float
    lid_share: float
    light_probe: bool
    air_probe: bool
    every_s: int
    step_c: float
    noise_c: float
    bias_c: tuple[float, float, float]  # of pot, core, air
    light_gain: float
    pot_lag_s: float
    core_lag_s: float
    habit: str  # "often", "rare" or "mixed": how the cooker is turned
    aim_bias_deg: tuple[float, float]
    tells_aperture: bool
    waits: bool
    mirror: float  # what is left of the shine of its mirrors
    dropout: float  # share of readings that are lost

    @property
    def aperture_told_m2(self) -> float | None:
        """What the owner wrote down."""
        usual = PARTS["scale"][KINDS.index(self.kind)]
        told = self.parts["aperture_m2"] * self.parts["scale"] / usual
        return round(told, 2) if self.tells_aperture else None


def owner(rng: np.random.Generator, number: int) -> Owner:
    """The owner of this number: kinds in turn, habits and probes in other turns, the rest drawn."""
    which, again = number % len(KINDS), number // len(KINDS)
    shift = (again + number) % 4
    parts = _parts(rng, which, bowl=KINDS[which] == "panel" and again % 2 == 1)
    wall_share, lid_share = ((0.75, 0.0), (0.0, 0.1), (0.35, 0.35), (0.1, 0.0))[shift]
    return Owner(
        kind=KINDS[which],
        parts=parts,
        wall_share=wall_share,
        lid_share=lid_share,
        light_probe=shift % 2 == 1,
        every_s=(10, 30, 60, 20)[shift],
        step_c=(0.0625, 0.25, 0.1, 0.0625)[again % 4],
        habit=("often", "often", "rare", "mixed")[again % 4],
        air_probe=bool(rng.random() < 0.65),
        noise_c=float(rng.choice([0.03, 0.08, 0.2, 0.35])),
        bias_c=(rng.normal(0, 0.5), rng.normal(0, 0.5), rng.normal(0, 0.5)),
        light_gain=float(1 + rng.normal(0, 0.03)),
        pot_lag_s=float(rng.uniform(25, 150)),
        core_lag_s=float(rng.uniform(8, 30)),
        aim_bias_deg=(rng.normal(0, 1.5), rng.normal(0, 1.5)),
        tells_aperture=bool(rng.random() < 0.5),
        waits=bool(rng.random() < 0.4),
        mirror=float(rng.uniform(0.88, 1.0)),
        dropout=float(rng.choice([0.0, 0.004, 0.02])),
    )


def _parts(rng: np.random.Generator, which: int, *, bowl: bool) -> dict[str, float]:
    parts = {
        name: float(row[which] * np.exp(rng.normal(0, row[-1]))) for name, row in PARTS.items()
    }
    parts["absorbs"] = min(parts["absorbs"], 0.94)
    parts["pot_emits"] = min(parts["pot_emits"], 0.95)
    if bowl:  # of glass, in place of a bag
        parts.update(outer_jk=1500.0, gape_wk=2.0)
    parts["lid_jk"] = max(parts["lid_jk"], 240.0)
    return parts
