"""Transient conduction as the exact series has it, written out here to test ours.

A body of one temperature is put into surroundings of another; its surface takes heat by a film. The
share of the first difference that is left is the sum over n of C_n exp(-z_n² Fo) at the middle.
F. P. Incropera, D. P. DeWitt and others, Fundamentals of Heat and Mass Transfer, 6th edition,
sections 5.5 and 5.6: plane wall (eq. 5.39), cylinder (5.47) and sphere (5.48). Bi = h L / k and
Fo = a t / L², where L is the radius, or half the thickness of a wall.
"""

from collections.abc import Callable
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq  # type: ignore[import-untyped]
from scipy.special import j0, j1  # type: ignore[import-untyped]

Floats = NDArray[np.float64]

TERMS = 60


class Shape(StrEnum):
    WALL = "plane wall"
    CYLINDER = "cylinder"
    SPHERE = "sphere"


ROOTS_OF: dict[Shape, Callable[[float, float], float]] = {
    Shape.WALL: lambda z, biot: z * np.sin(z) - biot * np.cos(z),
    Shape.CYLINDER: lambda z, biot: z * j1(z) - biot * j0(z),
    Shape.SPHERE: lambda z, biot: (1 - biot) * np.sin(z) - z * np.cos(z),
}
COEFFICIENTS: dict[Shape, Callable[[Floats], Floats]] = {
    Shape.WALL: lambda z: 4 * np.sin(z) / (2 * z + np.sin(2 * z)),
    Shape.CYLINDER: lambda z: 2 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2),
    Shape.SPHERE: lambda z: 4 * (np.sin(z) - z * np.cos(z)) / (2 * z - np.sin(2 * z)),
}


def terms(shape: Shape, biot: float) -> tuple[Floats, Floats]:
    """The roots z_n and the coefficients C_n, each of shape (TERMS,)."""
    function = ROOTS_OF[shape]
    grid = np.linspace(1e-4, (TERMS + 1) * np.pi, 200 * TERMS)
    values = function(grid, biot)  # type: ignore[arg-type]
    at = np.flatnonzero(np.diff(np.sign(values)) != 0)[:TERMS]
    roots = np.array([brentq(function, grid[i], grid[i + 1], args=(biot,)) for i in at])
    return roots, COEFFICIENTS[shape](roots)


def left_in_the_middle(shape: Shape, biot: float, fourier: float) -> float:
    """The share of the first difference of temperature that is left in the middle [-]."""
    roots, coefficients = terms(shape, biot)
    return float(coefficients @ np.exp(-(roots**2) * fourier))


def fourier_until(shape: Shape, biot: float, left: float) -> float:
    """The Fourier number at which so much is left in the middle."""
    roots, coefficients = terms(shape, biot)

    def beyond(fourier: float) -> float:
        return float(coefficients @ np.exp(-(roots**2) * fourier)) - left

    return float(brentq(beyond, 1e-3, 1e4))
