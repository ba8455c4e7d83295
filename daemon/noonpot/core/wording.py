"""The sentences of the alarms: what, which cooker, the number, until when, what to do."""

from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from noonpot.core.faultwords import WORDS
from noonpot.core.readings import Fault
from noonpot.core.units import in_unit

PHONE_LENGTH = 200
MINUTE_S = 60.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class Wording:
    """How this household reads: °C or °F, its time zone, and how far its compass is off.

    ``declination_deg`` is what the compass shows too little, east positive [degrees], None when it
    is not known.
    """

    units: str = "C"
    timezone: tzinfo = UTC
    declination_deg: float | None = None

    def temperature(self, temp_c: float) -> str:
        """A temperature for people, in whole degrees of their unit."""
        return f"{in_unit(temp_c, self.units):.0f} °{self.units}"

    def clock(self, at: datetime) -> str:
        """A time of day for people."""
        return at.astimezone(self.timezone).strftime("%H:%M")

    def day_and_clock(self, at: datetime) -> str:
        """A day and a time of day for people, such as "3 Jun 03:02"."""
        local = at.astimezone(self.timezone)
        return f"{local.day} {MONTHS[local.month - 1]} {local:%H:%M}"

    def bearing(self, azimuth_deg: float) -> str:
        """Where to point, by the map and, if known, by the compass."""
        text = f"{azimuth_deg % 360:.0f}° true"
        if self.declination_deg is not None:
            text += f" ({(azimuth_deg - self.declination_deg) % 360:.0f}° by compass)"
        return text

    def preheated(self, cooker: str, pot_c: float, loading_c: float, food: str) -> str:
        """The pot is hot enough."""
        return (
            f"{cooker}: pot {self.temperature(pot_c)}, hot enough for {food} "
            f"({self.temperature(loading_c)}). Put it in; mind the hot pot and the glare."
        )

    def turn(
        self,
        cooker: str,
        misaim_deg: float,
        gain: float,
        azimuth_deg: float,
        tilt_deg: float,
        saved_s: float | None = None,
    ) -> str:
        """Turning is worth the walk. ``gain`` is the share of light won, 0.15 = 15 %; ``saved_s``
        how much earlier the food is done [s].
        """
        sooner = f", done {saved_s / 60:.0f} min sooner" if saved_s and saved_s >= MINUTE_S else ""
        return (
            f"{cooker}: sun is {misaim_deg:.0f}° off. Turn to {self.bearing(azimuth_deg)}, tilt "
            f"{tilt_deg:.0f}°: {100 * gain:.0f} % more light{sooner}. "
            "Do not look into the mirrors."
        )

    def done(self, cooker: str, food: str, core_c: float, hold_s: float, *, hazardous: bool) -> str:
        """The core held its target."""
        held = f" for {hold_s / 60:.0f} min" if hold_s >= 60 else ""
        check = " Check with a second thermometer." if hazardous else ""
        return (
            f"{cooker}: {food} is done, core {self.temperature(core_c)} held{held}. "
            f"Take it out with gloves.{check}"
        )

    def probe(self, cooker: str, faults: list[Fault]) -> str:
        """Probes that cannot be trusted, and the cure of the first."""
        first = faults[0]
        others = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        return f"{cooker}: probe {first.probe}{others}: {WORDS[first.kind].phrase}."[:PHONE_LENGTH]

    def no_news(self, cooker: str, since: datetime) -> str:
        """No trustworthy reading at all."""
        return (
            f"{cooker}: no trustworthy reading since {self.clock(since)}. Look at the food; check "
            "power, cables and 'noonpot probes'."
        )
