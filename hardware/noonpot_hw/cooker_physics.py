"""A solar cooker as heat: box, wall of the pot, air in the pot, and what is cooked.

Every step moves heat between nodes by the temperatures at its beginning, so what one loses another
gains, to the last joule.
"""

from dataclasses import dataclass
from typing import NamedTuple

from noonpot_hw.food_physics import Load

LONGEST_STEP_S = 5.0
"""Longest step for which the nodes below are stable [s]; the air in the pot is the quickest."""

# The air in a pot, with the probe and the knob of the lid [J/K]: quick enough to dip when the lid
# is lifted (chosen, no source).
AIR_J_K = 120.0
# Inner and outer surface of a 4-litre pot, about 0.15 m², at 8 and 15 W/(m² K): still air without
# and with radiation (common practice).
WALL_TO_AIR_W_K = 1.2
BOX_TO_WALL_W_K = 2.3
# What an open lid lets out [W/K], the pot's and the cooker's; chosen, no source.
OPEN_AIR_W_K = 2.0
OPEN_WALL_W_K = 0.5
OPEN_BOX_W_M2K = 20.0


class Kind(NamedTuple):
    """A way to build a cooker; areas are those of the aperture, mirrors included.

    ``efficiency`` the share of the light that becomes heat, ``on_pot`` the part of that which falls
    on the pot itself. ``loss`` in still air just above ambient [W/(m² K)], ``loss_wind`` and
    ``loss_warmth`` its growth with each m/s and each kelvin [share]. ``capacity`` of the empty
    cooker [J/(m² K)].
    """

    efficiency: float
    on_pot: float
    loss: float
    loss_wind: float
    loss_warmth: float
    capacity: float


# Efficiency 0.35-0.65, loss 4-8 W/(m² K) of the aperture, 3-15 kJ/K: from memory and common
# practice. A box of glass and insulation loses less and is heavier than a pot in a clear cover amid
# mirrors. Growth with wind and warmth: chosen, no source.
KINDS = {
    "box": Kind(0.50, 0.4, 4.0, loss_wind=0.05, loss_warmth=0.0015, capacity=16e3),
    "reflector": Kind(0.55, 0.7, 5.0, loss_wind=0.10, loss_warmth=0.0015, capacity=6e3),
}

# Heat capacity of the empty pot [J/K]: 0.6 kg of aluminium at 900 J/(kg K); 4.5 kg of cast iron at
# 460 (common practice).
POTS = {"light": 540.0, "heavy": 2070.0}


class Outside(NamedTuple):
    """What a cooker feels: light on its aperture [W/m²], ambient [°C], wind [m/s]."""

    light_wm2: float
    ambient_c: float
    wind_ms: float


class Flows(NamedTuple):
    """Heat that came from the sun, went to the surroundings, and left as steam [W]."""

    sun_w: float
    lost_w: float
    steam_w: float


@dataclass(slots=True)
class Cooker:
    """One cooker and the temperatures of its parts [°C]."""

    kind: Kind
    aperture_m2: float
    pot_j_k: float
    box_c: float
    wall_c: float
    air_c: float
    load: Load | None = None
    open_s: float = 0.0

    def open_lid(self, seconds: float) -> None:
        """Open the lids of pot and cooker for a while [s]."""
        self.open_s = max(self.open_s, seconds)

    @property
    def core_c(self) -> float:
        """What a probe in the middle of the pot shows [°C]: the food, or air if there is none."""
        return self.air_c if self.load is None else self.load.core_c

    @property
    def stored_j(self) -> float:
        """Heat above 0 °C in all parts [J]."""
        parts = self._box_j_k * self.box_c + self.pot_j_k * self.wall_c + AIR_J_K * self.air_c
        return parts + (self.load.stored_j if self.load else 0.0)

    def loss_w_k(self, outside: Outside) -> float:
        """Heat lost for each kelvin of the closed cooker above ambient [W/K]."""
        kind = self.kind
        warmth = 1 + kind.loss_warmth * max(0.0, self.box_c - outside.ambient_c)
        return kind.loss * self.aperture_m2 * warmth * (1 + kind.loss_wind * outside.wind_ms)

    def step(self, outside: Outside, seconds: float) -> Flows:
        """Live through some seconds, at most ``LONGEST_STEP_S``."""
        ambient = outside.ambient_c
        lid_open = self.open_s > 0
        self.open_s = max(0.0, self.open_s - seconds)

        sun = self.kind.efficiency * self.aperture_m2 * outside.light_wm2
        to_wall = BOX_TO_WALL_W_K * (self.box_c - self.wall_c)
        to_air = WALL_TO_AIR_W_K * (self.wall_c - self.air_c)
        box_loss = self.loss_w_k(outside) * (self.box_c - ambient)
        wall_loss = air_loss = 0.0
        if lid_open:
            box_loss += OPEN_BOX_W_M2K * self.aperture_m2 * (self.box_c - ambient)
            wall_loss = OPEN_WALL_W_K * (self.wall_c - ambient)
            air_loss = OPEN_AIR_W_K * (self.air_c - ambient)
        wall_gain, air_gain, steam = to_wall - to_air - wall_loss, to_air - air_loss, 0.0
        if self.load is not None:
            given = self.load.step(self.wall_c, self.air_c, seconds, lid_open=lid_open)
            wall_gain -= given.from_wall_w
            air_gain -= given.from_air_w
            steam = given.steam_w

        on_pot = self.kind.on_pot * sun
        self.box_c += (sun - on_pot - to_wall - box_loss) * seconds / self._box_j_k
        self.wall_c += (on_pot + wall_gain) * seconds / self.pot_j_k
        self.air_c += air_gain * seconds / AIR_J_K
        return Flows(sun, box_loss + wall_loss + air_loss, steam)

    @property
    def _box_j_k(self) -> float:
        return self.kind.capacity * self.aperture_m2


def cooker(kind: str, pot: str, aperture_m2: float, temp_c: float) -> Cooker:
    """A cooker of a kind of ``KINDS`` with a pot of ``POTS``, all of one temperature [°C].

    The pot is always as large as a family needs, about 4 litres.
    """
    return Cooker(KINDS[kind], aperture_m2, POTS[pot], temp_c, temp_c, temp_c)
