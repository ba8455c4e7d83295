"""Light traced through mirrors and glass: which area of sunlight a collector lets in.

Frame of a collector: x to the right, y up along its tilted front, z out of it, towards the aim.
Lengths in metres, directions as unit vectors, many rays together: shape (rays, 3).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float, float]
BOUNCES = 5
SUN_DISC = 0.006
"""Spread of the rays: half the disc of the sun and some haze [radians]."""
WAVES = 0.008
"""How far mirrors of cardboard and foil are from flat [radians] (our choice)."""
RAYS = 72
"""Along each side of the square beam: the tables then waver by two or three percent."""


def through_glass(cosine: Floats, sheets: int, index: float = 1.526, loss: float = 0.012) -> Floats:
    """Transmittance of parallel sheets for light that is not polarised: Fresnel and Stokes, as in
    Duffie and Beckman (from memory). ``loss`` is what one sheet absorbs on the straight way.
    """
    outside = np.clip(cosine, 1e-3, 1)
    inside = np.sqrt(1 - (1 - outside**2) / index**2)
    across = ((outside - index * inside) / (outside + index * inside)) ** 2
    along = ((inside - index * outside) / (inside + index * outside)) ** 2
    more = 2 * sheets - 1
    passed = (1 - across) / (1 + more * across) + (1 - along) / (1 + more * along)
    return np.asarray(np.exp(-loss * sheets / inside) * passed / 2)


class Quad:
    """A flat convex four-sided mirror or window between four ``points``, shape (4, 3); only its
    front, the side that ``front`` points to, works.
    """

    def __init__(self, points: Floats, *, mirror: bool, front: Point) -> None:
        normal = np.cross(points[1] - points[0], points[2] - points[0])
        normal /= np.linalg.norm(normal)
        if normal @ np.array(front) < 0:
            points, normal = points[::-1], -normal
        self.corners, self.normal, self.mirror = points, normal, mirror
        self.edges = [np.cross(normal, points[(i + 1) % 4] - points[i]) for i in range(4)]

    def hit(self, origin: Floats, direction: Floats) -> tuple[Floats, Floats]:
        """Way to the plane [m], infinite for rays that miss, and cosine, negative on the front."""
        cosine = direction @ self.normal
        with np.errstate(divide="ignore", invalid="ignore"):
            way = ((self.corners[0] - origin) @ self.normal) / cosine
        point = origin + np.where(np.isfinite(way), way, 0)[:, None] * direction
        inside = np.isfinite(way) & (way > 1e-6)
        for corner, edge in zip(self.corners, self.edges, strict=True):
            inside &= (point - corner) @ edge > -1e-9
        return np.where(inside, way, np.inf), np.asarray(cosine)


@dataclass(frozen=True, slots=True)
class Collector:
    """Mirrors round a window, or round a clear ball with the pot in it.

    ``sheets`` of glass are in the window; ``ball_m`` is the radius of the ball, 0 without one;
    ``reach_m`` half the width of the beam that hits everything; ``mirror`` what a mirror returns.
    """

    quads: tuple[Quad, ...]
    sheets: int
    reach_m: float
    mirror: float
    ball_m: float = 0.0

    def area_m2(self, right_deg: float, up_deg: float) -> float:
        """Area of the light that gets in from so far off the axis, times transmittance [m²]."""
        rng = np.random.default_rng(int(1000 * (right_deg + 90) + up_deg) + 1)
        origin, direction = self._beam(right_deg, up_deg, rng)
        weight = np.full(len(origin), (2 * self.reach_m / RAYS) ** 2)
        caught = 0.0
        for _ in range(BOUNCES):
            way, which, cosine = self._first_hit(origin, direction)
            if self.ball_m:
                to_ball = self._way_to_ball(origin, direction)
                inside = to_ball < way
                point = origin[inside] + to_ball[inside, None] * direction[inside]
                slant = -np.einsum("ij,ij->i", point / self.ball_m, direction[inside])
                caught += float(weight[inside] @ through_glass(slant, 1, 1.4, 0.02))
                which[inside] = -1
            bounced = np.zeros(len(origin), bool)
            for i, quad in enumerate(self.quads):
                front = (which == i) & (cosine < 0)
                if quad.mirror:
                    bounced |= front
                else:
                    caught += float(weight[front] @ through_glass(-cosine[front], self.sheets))
            normal = np.array([quad.normal for quad in self.quads])[which[bounced]]
            origin = origin[bounced] + way[bounced, None] * direction[bounced]
            direction = _reflected(direction[bounced], normal, rng)
            weight = weight[bounced] * self.mirror
        return caught

    def _beam(
        self, right_deg: float, up_deg: float, rng: np.random.Generator
    ) -> tuple[Floats, Floats]:
        """A square beam, one ray somewhere in each of its small squares."""
        sun = np.array([np.tan(np.radians(right_deg)), np.tan(np.radians(up_deg)), 1.0])
        sun /= np.linalg.norm(sun)
        across = np.cross((0, 1, 0), sun)
        across /= np.linalg.norm(across)
        grid = np.arange(RAYS) / RAYS
        a, b = (x.ravel() for x in np.meshgrid(grid, grid))
        a, b = ((x + rng.random(RAYS**2) / RAYS - 0.5) * 2 * self.reach_m for x in (a, b))
        origin = sun * 3 + a[:, None] * across + b[:, None] * np.cross(sun, across)
        direction = -sun + rng.normal(0, SUN_DISC, origin.shape)
        direction /= np.linalg.norm(direction, axis=1)[:, None]
        return origin + np.array([0, 0, 0.1]), direction

    def _first_hit(
        self, origin: Floats, direction: Floats
    ) -> tuple[Floats, NDArray[np.int64], Floats]:
        """Way to the nearest quad, its number (-1 for none), cosine there; each shape (rays,)."""
        way = np.full(len(origin), np.inf)
        which = np.full(len(origin), -1)
        cosine = np.zeros(len(origin))
        for i, quad in enumerate(self.quads):
            to_quad, slant = quad.hit(origin, direction)
            nearer = to_quad < way
            way[nearer], which[nearer], cosine[nearer] = to_quad[nearer], i, slant[nearer]
        return way, which, cosine

    def _way_to_ball(self, origin: Floats, direction: Floats) -> Floats:
        """Way to the ball round the origin of the frame [m], infinite for rays that miss it."""
        middle = np.einsum("ij,ij->i", origin, direction)
        root = middle**2 - np.einsum("ij,ij->i", origin, origin) + self.ball_m**2
        way = np.where(root > 0, -middle - np.sqrt(np.maximum(root, 0)), np.inf)
        return np.where(way > 1e-6, way, np.inf)


def _reflected(direction: Floats, normal: Floats, rng: np.random.Generator) -> Floats:
    along = np.einsum("ij,ij->i", direction, normal)[:, None]
    new = direction - 2 * along * normal + rng.normal(0, WAVES, direction.shape)
    return np.asarray(new / np.linalg.norm(new, axis=1)[:, None])
