"""What stands in the garden: the place, the cookers, the probes. Values checked when made."""

from dataclasses import dataclass, field

from noonpot.core.readings import Role


@dataclass(frozen=True, slots=True)
class Place:
    """Where the cookers stand.

    ``horizon`` lists (azimuth, elevation) corners in degrees of what hides the sun: trees, houses;
    between two corners the line is straight, an empty tuple is a free horizon.
    """

    latitude: float
    longitude: float
    elevation_m: float
    horizon: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if not -90 <= self.latitude <= 90:
            raise ValueError(f"latitude {self.latitude} is outside -90 to 90 degrees")
        if not -180 <= self.longitude <= 180:
            raise ValueError(f"longitude {self.longitude} is outside -180 to 180 degrees")
        if not -430 <= self.elevation_m <= 8850:
            raise ValueError(f"elevation {self.elevation_m} m is outside -430 to 8850 m")


@dataclass(frozen=True, slots=True)
class CookerSpec:
    """One cooker as its owner describes it.

    ``acceptance_deg`` is the misaim at which the reflectors give half their light [degrees];
    ``aperture_m2`` the area that faces the sun, mirrors included [m²].
    """

    name: str
    aperture_m2: float = 0.25
    acceptance_deg: float = 30.0


@dataclass(frozen=True, slots=True)
class ProbeSpec:
    """One probe: its name, what it measures, and where it hangs. ``cooker`` is None for ambient
    and irradiance probes that serve all cookers.
    """

    name: str
    role: Role
    bus: str
    address: str
    cooker: str | None = None


@dataclass(frozen=True, slots=True)
class Station:
    """Everything that is watched from one Raspberry Pi."""

    name: str
    place: Place
    cookers: tuple[CookerSpec, ...]
    probes: tuple[ProbeSpec, ...] = field(default=())

    def probes_of(self, cooker: str) -> tuple[ProbeSpec, ...]:
        """The probes that tell about one cooker, shared ones included."""
        return tuple(p for p in self.probes if p.cooker in (cooker, None))
