"""How to test a cooker by the published methods: what to load, when to begin, how to turn it."""

from collections.abc import Iterator, Sequence
from datetime import datetime

from noonpot.core.merit import BELOW_BOILING_K, FROM_C, LEAST_WM2, TO_C
from noonpot.core.merit import KG_PER_M2 as MERIT_KG_PER_M2
from noonpot.core.rating import DAYS, OBSERVATIONS
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import DayTable
from noonpot.core.tenminutes import KG_PER_M2
from noonpot.core.testwindow import window
from noonpot.core.water import boiling_point_c
from noonpot.core.wording import Wording

LEAST_LIGHT_WM2 = 450.0
CAUTION = (
    "Care: do not look into sun or mirrors; wear dark glasses, and gloves for pot and glass. Hot "
    "glass may burst when cold water falls on it. Keep children and animals away."
)


def power_guide(
    spec: CookerSpec, place: Place, tables: Sequence[DayTable], now: datetime, wording: Wording
) -> Iterator[str]:
    """The steps of a test of cooking power, a line each. ``tables`` are today's and those of the
    days after it.
    """
    boiling_c = boiling_point_c(place.elevation_m)
    water_kg = KG_PER_M2 * spec.aperture_m2
    yield f"A test of cooking power for {spec.name}, after ASABE S580.1:"
    yield (
        f"  1. Water: {water_kg:.2f} kg, which is {KG_PER_M2:g} kg for each of the "
        f"{spec.aperture_m2:g} m² that face the sun, mirrors included. Take the pots it is used "
        "with, and share the water out among them. Box and water are cold."
    )
    yield (
        "  2. Probe: in the water, 10 mm above the bottom, in the middle. Its cable leaves under "
        "the lid. An air probe hangs in the shade."
    )
    yield f"  3. When: {_when(tables, place, now, LEAST_LIGHT_WM2, wording)}"
    yield (
        "  4. Wind: below 1 m/s at the cooker, so that smoke hardly drifts. Stop when it blows "
        f"more than 2.5 m/s. Note it: noonpot cook mark {spec.name} note wind_ms=0.8"
    )
    yield f"  5. Begin: noonpot cook start {spec.name}"
    yield f"     noonpot cook mark {spec.name} note test=power"
    yield (
        f"     noonpot cook load {spec.name} --food water --mass-kg {water_kg:.2f} "
        f"--target-c {min(TO_C, boiling_c - BELOW_BOILING_K):.0f}"
    )
    yield (
        "  6. Turn it every 15 to 30 min, or when a shadow falls on the pot, and mark each turn. "
        "Keep the lid closed."
    )
    yield (
        f"  7. Go on until {wording.temperature(boiling_c - BELOW_BOILING_K)}, "
        f"{BELOW_BOILING_K:.0f} K below boiling here. Water from 5 K above the air counts."
    )
    yield (
        f"  8. Do so on {DAYS} days or more, until there are {OBSERVATIONS} intervals of ten "
        "minutes. A bright day has about twenty."
    )
    yield CAUTION


def merit_guide(
    spec: CookerSpec, place: Place, tables: Sequence[DayTable], now: datetime, wording: Wording
) -> Iterator[str]:
    """The steps of a test of both figures of merit, a line each."""
    boiling_c = boiling_point_c(place.elevation_m)
    water_kg = MERIT_KG_PER_M2 * spec.aperture_m2
    to_c = min(TO_C, boiling_c - BELOW_BOILING_K)
    yield f"A test of both figures of merit for {spec.name}, after IS 13429:"
    yield (
        "  1. First figure: the empty cooker, lid closed, in the sun. The standard covers the "
        "mirrors and lays the window level; then mark it as aimed at elevation=90. With mirrors "
        "the figure is that of the whole cooker."
    )
    yield f"  2. When: {_when(tables, place, now, LEAST_WM2, wording)}"
    yield f"     noonpot cook start {spec.name}"
    yield "  3. Turn it as usual until the pot has not moved by more than 2 K for ten minutes."
    yield (
        f"  4. Second figure, best on another day: {water_kg:.2f} kg of cold water, "
        f"{MERIT_KG_PER_M2:g} kg for each square metre, shared out among the pots."
    )
    yield (
        f"     noonpot cook load {spec.name} --food water --mass-kg {water_kg:.2f} "
        f"--target-c {to_c:.0f}"
    )
    yield (
        f"  5. Keep the lid closed from {wording.temperature(FROM_C)} to "
        f"{wording.temperature(to_c)}; both figures come out of that."
    )
    yield CAUTION


def _when(
    tables: Sequence[DayTable],
    place: Place,
    now: datetime,
    least_wm2: float,
    wording: Wording,
) -> str:
    today = now.astimezone(wording.timezone).date()
    for table in tables:
        found = window(table, place, now, least_wm2)
        if found is not None:
            day = found.begin.astimezone(wording.timezone).date()
            named = "today" if day == today else f"on {day:%A} {day.day} {day:%B}"
            return (
                f"{named} from {wording.clock(found.begin)} to {wording.clock(found.end)}, under a "
                "clear sky: there the sun stands high enough."
            )
    return (
        f"not these days: within two hours of noon even a clear sky gives less than "
        f"{least_wm2:.0f} W/m²."
    )
