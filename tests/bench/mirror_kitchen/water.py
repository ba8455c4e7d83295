"""Water: its vapour pressure, its heat of evaporation, its boiling point."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
GAS_VAPOUR = 461.5
"""Gas constant of water vapour [J/(kg K)]."""


def saturation_pa(temp_c: Floats) -> Floats:
    """Saturation pressure over water [Pa], Buck's formula of 1996 (from memory)."""
    t = np.minimum(temp_c, 140.0)
    return np.asarray(611.21 * np.exp((18.678 - t / 234.5) * (t / (257.14 + t))))


def evaporation_j_kg(temp_c: Floats) -> Floats:
    """Heat of evaporation [J/kg], a straight line through the steam tables (from memory)."""
    return 2.501e6 - 2361.0 * temp_c


def boiling_c(pressure_pa: float) -> float:
    """Boiling point [°C]: Buck's formula turned round by bisection."""
    low, high = 60.0, 110.0
    for _ in range(40):
        middle = (low + high) / 2
        if saturation_pa(np.array(middle)) < pressure_pa:
            low = middle
        else:
            high = middle
    return low


def air_pa(elevation_m: float) -> float:
    """Pressure of the standard atmosphere [Pa], barometric formula."""
    return float(101325.0 * (1 - 2.25577e-5 * elevation_m) ** 5.25588)
