"""Food as heat sees it: wet food of one temperature, or dense food in shells that conduct.

Both take heat from the pot's wall and from the air in the pot, and give off steam. No food gets
hotter than boiling water while it is moist.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from noonpot.core.water import saturation_pressure_pa
from noonpot_hw.materials import WATER_CP, Material

LATENT = 2256.5e3
"""Heat of evaporation of water at 100 °C [J/kg], IAPWS-95."""
SHELLS = 10
# The last kelvins below boiling, in which a moist crumb spends ever more of its heat on steam
# (cores come to rest 1 to 3 K below boiling: common practice, no source).
STEAMING_K = 3.0
NEVER_DRIER = 0.1
"""Share of wet food that stays to the end, so that the last of it still has some heat capacity."""


class Given(NamedTuple):
    """Heat that a load took from wall and air, and gave away as steam [W]."""

    from_wall_w: float
    from_air_w: float
    steam_w: float


class Load(Protocol):
    """What is in the pot."""

    @property
    def core_c(self) -> float:
        """Temperature in its middle [°C]."""

    @property
    def stored_j(self) -> float:
        """Heat above 0 °C [J]."""

    def step(self, wall_c: float, air_c: float, seconds: float, *, lid_open: bool) -> Given:
        """Live through some seconds between a wall and air of these temperatures [°C]."""


@dataclass(slots=True)
class Steam:
    """How readily water leaves the pot, by the law of Stefan: diffusion through standing air grows
    with -ln(1 - vapour pressure / air pressure), without bound towards boiling.

    ``pressure_pa`` of the air [Pa]; ``leak_kg_s`` through a closed lid [kg/s]: 17 g an hour at
    90 °C at sea level, a lid that fits (chosen, no source).
    """

    boiling_c: float
    pressure_pa: float
    leak_kg_s: float = 4e-6

    def rate(self, temp_c: float, *, lid_open: bool) -> float:
        """Evaporation of a wet surface of this temperature [kg/s]."""
        share = min(0.99, saturation_pressure_pa(max(0.0, temp_c)) / self.pressure_pa)
        return -math.log(1 - share) * self.leak_kg_s * (5 if lid_open else 1)


class WetLoad:
    """Food that boils, stirred by its own convection: one temperature."""

    def __init__(self, material: Material, mass_kg: float, start_c: float, steam: Steam) -> None:
        self.core_c = start_c
        self.water_kg = mass_kg * material.water
        self._least_kg = NEVER_DRIER * mass_kg
        self._dry_j_k = mass_kg * (material.capacity - material.water * WATER_CP)
        self._steam = steam
        # A heap as deep as wide; water at a wall: 150 W/(m² K), in air: 10 (common practice).
        self._wet_m2 = 0.06 * math.cbrt(mass_kg) ** 2

    @property
    def _capacity(self) -> float:
        return self._dry_j_k + self.water_kg * WATER_CP

    @property
    def stored_j(self) -> float:
        """Heat above 0 °C [J]."""
        return self._capacity * self.core_c

    def step(self, wall_c: float, air_c: float, seconds: float, *, lid_open: bool) -> Given:
        """Live through some seconds between a wall and air of these temperatures [°C]."""
        from_wall = 150 * self._wet_m2 * (wall_c - self.core_c)
        from_air = 10 * self._wet_m2 * (air_c - self.core_c)
        heat = (from_wall + from_air) * seconds
        lost_kg = self._steam.rate(self.core_c, lid_open=lid_open) * seconds
        room = (self._steam.boiling_c - self.core_c) * self._capacity
        lost_kg = max(lost_kg, (heat - room) / LATENT)  # what cannot warm it boils it away
        lost_kg = max(0.0, min(lost_kg, self.water_kg - self._least_kg))
        carried = lost_kg * WATER_CP * self.core_c
        self.water_kg -= lost_kg
        self.core_c += (heat - lost_kg * LATENT) / self._capacity
        return Given(from_wall, from_air, (lost_kg * LATENT + carried) / seconds)


class DenseLoad:
    """Food that stays in place: spheres of equal shells, heat conducted from one to the next.

    ``wall_film`` and ``air_film`` are the heat that its surface takes from the wall, mostly as
    radiation, and from the air [W/(m² K)]; still air gives 8 to 15 in all (common practice).
    """

    def __init__(
        self,
        material: Material,
        mass_kg: float,
        start_c: float,
        boiling_c: float,
        *,
        wall_film: float = 8.0,
        air_film: float = 8.0,
    ) -> None:
        self.shells_c = [start_c] * SHELLS
        self._material = material
        self._boiling_c = boiling_c
        self._films = wall_film, air_film
        self._pieces = max(1, round(mass_kg / (material.piece_kg or mass_kg)))
        volume = mass_kg / self._pieces / material.density
        self.radius_m = math.cbrt(3 * volume / (4 * math.pi))
        thick = self.radius_m / SHELLS
        faces = [4 * math.pi * (i * thick) ** 2 for i in range(SHELLS + 1)]
        masses = [mass_kg / self._pieces * ((i + 1) ** 3 - i**3) / SHELLS**3 for i in range(SHELLS)]
        self._surface_m2 = faces[-1]
        self._skin_m = thick / 2
        self._widths = [face / thick for face in faces[1:-1]]
        self._capacities = [m * material.capacity for m in masses]
        self._water = [m * material.water for m in masses]
        self._longest_s = self._stable_s()

    @property
    def core_c(self) -> float:
        """Temperature of the innermost shell, about as large as the tip of a probe [°C]."""
        return self.shells_c[0]

    @property
    def stored_j(self) -> float:
        """Heat above 0 °C [J]; what left as steam is not in it."""
        shells = zip(self._capacities, self.shells_c, strict=True)
        return self._pieces * sum(capacity * temp for capacity, temp in shells)

    def step(
        self,
        wall_c: float,
        air_c: float,
        seconds: float,
        *,
        lid_open: bool,  # noqa: ARG002 - what cannot flow boils no faster in an open pot
    ) -> Given:
        """Live through some seconds between a wall and air of these temperatures [°C]."""
        parts = math.ceil(seconds / self._longest_s)
        wall_w = air_w = steam_w = 0.0
        for _ in range(parts):
            part = self._part(wall_c, air_c, seconds / parts)
            wall_w += part.from_wall_w
            air_w += part.from_air_w
            steam_w += part.steam_w
        each = self._pieces / parts
        return Given(wall_w * each, air_w * each, steam_w * each)

    def _part(self, wall_c: float, air_c: float, seconds: float) -> Given:
        """One step of one piece, short enough to be stable."""
        temps, skin_c = self.shells_c, self.shells_c[-1]
        wall_film, air_film = self._films
        film = wall_film + air_film
        inwards = self._surface_m2 / (film * self._skin_m / self._conductivity(skin_c) + 1)
        from_wall = inwards * wall_film * (wall_c - skin_c)
        from_air = inwards * air_film * (air_c - skin_c)
        gains = [0.0] * SHELLS
        gains[-1] = from_wall + from_air
        for i, width in enumerate(self._widths):
            inner, outer = temps[i], temps[i + 1]
            flow = width * self._conductivity((inner + outer) / 2) * (outer - inner)
            gains[i] += flow
            gains[i + 1] -= flow
        steam_j = sum(self._warm(i, gain * seconds) for i, gain in enumerate(gains))
        return Given(from_wall, from_air, steam_j / seconds)

    def _warm(self, shell: int, heat_j: float) -> float:
        """Give heat to a shell; returns what of it left as steam [J].

        Towards boiling the heat capacity rises without bound, as ever more of the heat turns water
        into steam; a shell that has none left gets hotter than that, as a crust does.
        """
        temp, capacity = self.shells_c[shell], self._capacities[shell]
        least_c, most_j = self._boiling_c - STEAMING_K, self._water[shell] * LATENT
        steam_j = 0.0
        if heat_j > 0 and temp > least_c and most_j > 0:
            share = min(1.0, (temp - least_c) / STEAMING_K)
            beyond_j = heat_j - (self._boiling_c - temp) * capacity
            steam_j = min(most_j, max(share * heat_j, beyond_j))
            self._water[shell] -= steam_j / LATENT
        self.shells_c[shell] = temp + (heat_j - steam_j) / capacity
        return steam_j

    def _conductivity(self, temp_c: float) -> float:
        """Conductivity with vapour in the pores [W/(m K)]. The cube follows the saturation pressure
        between 20 °C and boiling within 0.06 of its value at boiling.
        """
        moist = min(1.0, temp_c / self._boiling_c)
        return self._material.conductivity * (1 + self._material.vapour * moist * moist * moist)

    def _stable_s(self) -> float:
        """The longest stable step [s]: no shell may give away more than it has."""
        most = self._conductivity(self._boiling_c)
        faces = [0.0, *(most * w for w in self._widths), self._surface_m2 * sum(self._films)]
        return min(c / (faces[i] + faces[i + 1]) for i, c in enumerate(self._capacities))
