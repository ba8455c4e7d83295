"""The four collectors of this kitchen, and tables of how much light each lets in.

Widths, lengths and angles are scenarios of our own.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.mirror_kitchen.rays import Collector, Quad

Floats = NDArray[np.float64]
STEP_DEG = 5.0
OFF_AXIS_DEG = np.arange(-85.0, 86.0, STEP_DEG)
AIM_STEP_DEG = 10.0


def box(
    width: float,
    height: float,
    sheets: int,
    mirror: float,
    flaps: dict[str, tuple[float, float]],
    corners: float = 0.0,
) -> Collector:
    """A window in z = 0 with flaps: side -> length [m], angle above the glass [degrees].

    ``corners`` is how much wider a flap is at its outer end, on each side, over its length.
    """
    w, h = width / 2, height / 2
    window = np.array([(-w, -h, 0), (w, -h, 0), (w, h, 0), (-w, h, 0)])
    quads = [Quad(window, mirror=False, front=(0, 0, 1))]
    sides = {
        "top": ((-w, h), (w, h), (0, 1)),
        "bottom": ((-w, -h), (w, -h), (0, -1)),
        "left": ((-w, -h), (-w, h), (-1, 0)),
        "right": ((w, -h), (w, h), (1, 0)),
    }
    for side, (length, angle_deg) in flaps.items():
        first, last, (x, y) = sides[side]
        out, up = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
        rise = length * np.array([x * out, y * out, up])
        along = corners * length * out * np.array([abs(y), abs(x), 0])
        a, b = np.array([*first, 0.0]), np.array([*last, 0.0])
        flap = np.array([a, b, b + rise + along, a + rise - along])
        quads.append(Quad(flap, mirror=True, front=(-x * up, -y * up, out)))
    longest = max(length for length, _ in flaps.values())
    return Collector(tuple(quads), sheets, (width + height) / 4 + longest, mirror)


def panel() -> Collector:
    """Four mirrors and a floor round a bag or bowl that is open to all sides."""
    b, z = 0.17, -0.15
    shapes = [([(-b, -b, z), (b, -b, z), (b, b, z), (-b, b, z)], (0, 0, 1))]
    for s in (-1, 1):
        wing = [
            (s * b, -b, z),
            (s * b, b, z),
            (s * 0.43, b * 1.3, 0.13),
            (s * 0.43, -b * 1.1, 0.13),
        ]
        shapes.append((wing, (-s, 0, 1)))
    back = [(-b, b, z), (b, b, z), (b * 1.4, 0.45, 0.10), (-b * 1.4, 0.45, 0.10)]
    lip = [(-b, -b, z), (b, -b, z), (b * 1.3, -0.34, 0.08), (-b * 1.3, -0.34, 0.08)]
    shapes += [(back, (0, -1, 1)), (lip, (0, 1, 1))]
    quads = tuple(Quad(np.array(corners), mirror=True, front=front) for corners, front in shapes)
    return Collector(quads, 1, 0.62, 0.78, ball_m=0.13)


DESIGNS: dict[str, Callable[[], Collector]] = {
    "tin": lambda: box(0.46, 0.44, 2, 0.80, {"top": (0.44, 72.0)}),
    "iron": lambda: box(
        0.54, 0.48, 2, 0.80, {"top": (0.46, 70.0), "left": (0.30, 62.0), "right": (0.30, 62.0)}
    ),
    "panel": panel,
    "deep": lambda: box(
        0.40, 0.40, 1, 0.85, dict.fromkeys(("top", "bottom", "left", "right"), (0.52, 63.0)), 0.6
    ),
}


@dataclass(frozen=True, slots=True, eq=False)
class Catch:
    """What collectors let in [m²]: ``beam`` by kind and angles off the axis (right, up), ``sky``
    and ``ground`` of light from everywhere, by kind and elevation of the aim.
    """

    beam: Floats
    sky: Floats
    ground: Floats


def traced() -> Catch:
    """The tables of all designs, in their order. All are alike on the right and on the left."""
    beams, skies, grounds = [], [], []
    middle = len(OFF_AXIS_DEG) // 2
    for build in DESIGNS.values():
        design = build()
        half = [[design.area_m2(x, y) for y in OFF_AXIS_DEG] for x in OFF_AXIS_DEG[middle:]]
        beam = np.array([*half[:0:-1], *half])
        sky, ground = _from_everywhere(beam)
        beams.append(beam)
        skies.append(sky)
        grounds.append(ground)
    return Catch(np.array(beams), np.array(skies), np.array(grounds))


def _from_everywhere(beam: Floats) -> tuple[Floats, Floats]:
    """Areas for even light from the sky and from the ground: means over directions, each weighed
    by its solid angle.
    """
    right, up = np.meshgrid(np.radians(OFF_AXIS_DEG), np.radians(OFF_AXIS_DEG), indexing="ij")
    x, y = np.tan(right), np.tan(up)
    length = np.sqrt(1 + x**2 + y**2)
    solid = (1 + x**2) * (1 + y**2) / length**3 * np.radians(STEP_DEG) ** 2
    aims = np.radians(np.arange(0, 90 + AIM_STEP_DEG, AIM_STEP_DEG))[:, None, None]
    height = y / length * np.cos(aims) + np.sin(aims) / length
    light = beam * solid / np.pi
    sky, ground = ((light * side).sum((1, 2)) for side in (height > 0, height < 0))
    return sky, ground
