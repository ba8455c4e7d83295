"""°F at the edges: for people who read it. Everything inside is °C."""


def fahrenheit(temp_c: float) -> float:
    """A temperature in °F.

    >>> fahrenheit(100.0)
    212.0
    """
    return temp_c * 9 / 5 + 32


def degrees(temp_c: float, unit: str, decimals: int = 1) -> str:
    """A temperature in the unit ``"C"`` or ``"F"``, with the unit.

    >>> degrees(21.125, "C", 2), degrees(0.0, "F")
    ('21.12 °C', '32.0 °F')
    """
    return f"{in_unit(temp_c, unit):.{decimals}f} °{unit}"


def in_unit(temp_c: float, unit: str) -> float:
    """The temperature in the unit ``"C"`` or ``"F"``.

    >>> in_unit(0.0, "F")
    32.0
    """
    return fahrenheit(temp_c) if unit == "F" else temp_c
