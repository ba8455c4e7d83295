"""What the probes of one cooker showed, thinned for drawing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from noonpot.core.readings import Role


@dataclass(frozen=True, slots=True)
class Curve:
    """The lines of a cooker between two times.

    ``times_s`` are Unix times [s], rising; ``values`` has as many for each role [°C; W/m²], None
    where there is nothing, so that a line breaks at a gap. Peaks survive: of all readings that fall
    together the smallest and the largest stay. ``every_s`` is 0 when every reading was looked at;
    of a range with too many, one round in so many seconds was; it is 600 or more where old readings
    are only there as ten-minute values [s].
    """

    cooker: str
    since: datetime
    until: datetime
    times_s: Sequence[int]
    values: Mapping[Role, Sequence[float | None]]
    every_s: int = 0
