"""When water boils: saturation line of IAPWS-IF97, pressure of the standard atmosphere.

Sources: IAPWS R7-97(2012), Industrial Formulation 1997 for the Thermodynamic Properties of Water
and Steam, region 4, eqs. 29 to 31 and table 34; U.S. Standard Atmosphere, 1976, eqs. 18 and 33a.
"""

import math

LOWEST_K, HIGHEST_K = 273.15, 647.096
LOWEST_PA, HIGHEST_PA = 611.213, 22_064_000.0
LOWEST_M, HIGHEST_M = -1000.0, 11_000.0
LOWEST_STATION_PA, HIGHEST_STATION_PA = 30_000.0, 115_000.0  # Everest to a high on the Dead Sea

# IF97, table 34.
N1, N2, N3, N4, N5 = (
    1167.0521452767,
    -724213.16703206,
    -17.073846940092,
    12020.82470247,
    -3232555.0322333,
)
N6, N7, N8, N9, N10 = (
    14.91510861353,
    -4823.2657361591,
    405113.40542057,
    -0.23855557567849,
    650.17534844798,
)

SEA_LEVEL_PA, SEA_LEVEL_K = 101_325.0, 288.15
LAPSE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6_356_766.0
PRESSURE_EXPONENT = 9.80665 * 0.0289644 / (8.31432 * LAPSE_K_PER_M)  # g0 M / (R* L)


def saturation_temperature_c(pressure_pa: float) -> float:
    """Temperature at which water boils under this absolute pressure [°C].

    Raises ValueError outside 611.213 Pa (0 °C) to 22.064 MPa (the critical point).

    >>> round(saturation_temperature_c(100_000.0), 4)  # IF97 table 36: 372.755919 K
    99.6059
    """
    if not LOWEST_PA <= pressure_pa <= HIGHEST_PA:
        raise ValueError(
            f"pressure {pressure_pa:g} Pa has no boiling point here; "
            f"give {LOWEST_PA:g} to {HIGHEST_PA:g} Pa"
        )
    beta = math.pow(pressure_pa / 1e6, 0.25)
    e = beta**2 + N3 * beta + N6
    f = N1 * beta**2 + N4 * beta + N7
    g = N2 * beta**2 + N5 * beta + N8
    d = 2 * g / (-f - math.sqrt(f**2 - 4 * e * g))
    kelvin = (N10 + d - math.sqrt((N10 + d) ** 2 - 4 * (N9 + N10 * d))) / 2
    return kelvin - 273.15


def saturation_pressure_pa(temp_c: float) -> float:
    """Pressure of the vapour in balance with water of this temperature [Pa].

    Raises ValueError outside 0 °C to 373.946 °C (the critical point).

    >>> round(saturation_pressure_pa(26.85))  # IF97 table 35: 0.353658941e-2 MPa
    3537
    """
    kelvin = temp_c + 273.15
    if not LOWEST_K <= kelvin <= HIGHEST_K:
        raise ValueError(
            f"water of {temp_c:g} °C has no vapour pressure here; "
            f"give 0 to {HIGHEST_K - 273.15:.3f} °C"
        )
    theta = kelvin + N9 / (kelvin - N10)
    a = theta**2 + N1 * theta + N2
    b = N3 * theta**2 + N4 * theta + N5
    c = N6 * theta**2 + N7 * theta + N8
    return math.pow(2 * c / (-b + math.sqrt(b**2 - 4 * a * c)), 4) * 1e6


def standard_pressure_pa(elevation_m: float) -> float:
    """Air pressure of the standard atmosphere at this elevation above the sea [Pa].

    The weather moves the true one by some 20 hPa either way, the boiling point by half a degree.
    Raises ValueError outside -1000 m to 11,000 m.

    >>> round(standard_pressure_pa(1500.0))
    84560
    """
    if not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise ValueError(
            f"elevation {elevation_m:g} m is outside {LOWEST_M:g} to {HIGHEST_M:g} m; give metres"
        )
    geopotential_m = EARTH_RADIUS_M * elevation_m / (EARTH_RADIUS_M + elevation_m)
    cooled = 1 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_K
    return SEA_LEVEL_PA * math.pow(cooled, PRESSURE_EXPONENT)


def boiling_point_c(elevation_m: float, pressure_pa: float | None = None) -> float:
    """Boiling point of water at this elevation, or at a measured pressure [°C].

    ``pressure_pa`` is what a barometer on the spot shows, not the value reduced to sea level that
    weather reports give; where it is given, the elevation does not matter. Salt and sugar raise
    the boiling point of food by less than a degree and are left out. Raises ValueError for an
    elevation or a pressure that no place on earth has.

    >>> round(boiling_point_c(0.0), 2), round(boiling_point_c(1500.0), 2)
    (99.97, 94.98)
    >>> round(boiling_point_c(1500.0, pressure_pa=101_325.0), 2)
    99.97
    """
    if pressure_pa is None:
        return saturation_temperature_c(standard_pressure_pa(elevation_m))
    if not LOWEST_STATION_PA <= pressure_pa <= HIGHEST_STATION_PA:
        raise ValueError(f"no place has an air pressure of {pressure_pa:g} Pa; is it in hPa?")
    return saturation_temperature_c(pressure_pa)
