"""Simulated cookers as a bus: physics behind probes, at the speed of whichever clock is given."""

import random
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress

from noonpot.core.cook import Event
from noonpot.core.names import meant
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError, SunTableError
from noonpot.ports import Bus, Clock, Found, Surroundings
from noonpot_hw.garden import Garden
from noonpot_hw.garden_options import garden_options

AMBIENT, IRRADIANCE = "ambient", "irradiance"


class SimulatedBus:
    """The probes in a simulated garden: ``<cooker>/pot``, ``<cooker>/core``, ``ambient`` and
    ``irradiance``. A look at any of them first lets the garden live up to the present moment.
    """

    def __init__(self, garden: Garden, clock: Clock) -> None:
        self._garden = garden
        self._clock = clock
        self._opened_s = clock.moment().mono_s
        self._lock = threading.Lock()
        self._probes: dict[str, str] = {}
        for cooker in garden.stands:
            self._probes[f"{cooker}/pot"] = f"air in the pot of {cooker}"
            self._probes[f"{cooker}/core"] = f"middle of the food in {cooker}"
        self._probes |= {AMBIENT: "air in the shade", IRRADIANCE: "global horizontal irradiance"}

    def scan(self) -> Sequence[Found]:
        """All probes of the garden."""
        return [Found(address, f"simulated, {what}") for address, what in self._probes.items()]

    def read(self, address: str) -> Measured | Defect:
        """What the probe shows now [°C; W/m²]."""
        if address not in self._probes:
            return Defect(
                FaultKind.NOT_ANSWERING,
                f"there is no {address!r} in the garden; {meant(address, self._probes)}",
            )
        with self._lock:
            try:
                self._catch_up()
            except SunTableError as error:
                return Defect(FaultKind.DRIVER_ERROR, str(error))
            return Measured(self._shown(address))

    def notice(self, event: Event) -> None:
        """Let the event happen in the garden. Raises CookError when a number of it is none."""
        with self._lock:
            with suppress(SunTableError):  # then the garden stands still, and every read says why
                self._catch_up()
            self._garden.happen(event)

    def close(self) -> None:
        """A garden holds nothing that must be given back."""

    def _catch_up(self) -> None:
        self._garden.advance(self._clock.moment().mono_s - self._opened_s)

    def _shown(self, address: str) -> float:
        garden = self._garden
        if address == IRRADIANCE:
            return garden.ghi_wm2
        cooker, _, role = address.partition("/")
        if address == AMBIENT:
            true_c = garden.ambient_c
        elif role == "pot":
            true_c = garden.stands[cooker].cooker.air_c
        else:
            true_c = garden.stands[cooker].cooker.core_c
        # Noise belongs to the moment, not to the look: seldom or often, everyone sees the same.
        seed = f"{garden.options.seed}/{address}/{garden.steps}"
        noise = random.Random(seed)
        return true_c + noise.gauss(0.0, garden.options.noise_c)


def open_bus(options: Mapping[str, object], surroundings: Surroundings) -> Bus:
    """The bus behind a ``[[bus]]`` section with ``driver = "simulated"``.

    Options: see ``garden_options``. Raises BusError for a wrong option, or when the sun of the day
    cannot be had.
    """
    try:
        wanted = garden_options(options)
        start = surroundings.clock.moment().at
        garden = Garden(wanted, surroundings.place, surroundings.sun, start)
    except (ValueError, SunTableError) as error:
        raise BusError(f"simulated: {error}") from None
    return SimulatedBus(garden, surroundings.clock)
