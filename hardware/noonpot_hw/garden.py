"""A simulated garden: the weather over it, the cookers in it, and what a person does to them.

It moves in fixed steps from its opening on, so that whoever looks, seldom or often, sees the same.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from noonpot.core.cook import Aim, Event, EventKind
from noonpot.core.station import Place
from noonpot.core.sun import (
    DayTable,
    angle_between,
    horizon_elevation,
    light_share,
    solar_date,
)
from noonpot.core.water import boiling_point_c, standard_pressure_pa
from noonpot.ports import SunTable
from noonpot_hw.cooker_physics import LONGEST_STEP_S, Cooker, Outside, cooker
from noonpot_hw.food_physics import DenseLoad, Load, Steam, WetLoad
from noonpot_hw.garden_options import CookerOptions, GardenOptions
from noonpot_hw.materials import material_of
from noonpot_hw.weather import Weather

STEP_S = LONGEST_STEP_S
STEPS_A_LOOK = 6
"""Steps between two looks at sun and weather."""
LID_OPEN_S = 60.0
"""How long a lid stays open when nothing else is said, and to put food in or out [s]."""
SKY_VIEW = 0.8
"""Share of the scattered light that a tilted aperture amid mirrors receives (chosen, no source)."""
LEAST_KG, MOST_KG = 0.05, 20.0


@dataclass(slots=True)
class Stand:
    """A cooker where it stands: covered until somebody begins to cook, then facing its aim."""

    options: CookerOptions
    cooker: Cooker
    outside: Outside
    aim: Aim | None = None
    food: str = ""


class Garden:
    """Weather and cookers, advanced in steps of ``STEP_S``.

    Raises SunTableError, at opening or in ``advance``, when the sun of a day cannot be had; the
    garden then stays where it is.
    """

    def __init__(
        self, options: GardenOptions, place: Place, sun: SunTable, start: datetime
    ) -> None:
        self.options = options
        self._place = place
        self._sun = sun
        self._start = start
        self._table: tuple[date, DayTable] | None = None
        self._weather = Weather(
            options.seed,
            options.plan,
            ambient_c=options.ambient_c,
            wind_ms=options.wind_ms,
            longitude=place.longitude,
        )
        self.steps = 0
        self.stands: dict[str, Stand] = {}
        self._look(0)
        air = Outside(0.0, self.ambient_c, 0.0)
        self.stands = {
            o.name: Stand(o, cooker(o.kind, o.pot, o.aperture_m2, air.ambient_c), air)
            for o in options.cookers
        }

    @property
    def ambient_c(self) -> float:
        """Temperature of the air in the shade [°C]."""
        return self._weather.ambient_c

    @property
    def ghi_wm2(self) -> float:
        """Global horizontal irradiance [W/m²]."""
        return self._light.ghi

    def advance(self, elapsed_s: float) -> None:
        """Live on until so many seconds after the opening; the past is left alone."""
        while (self.steps + 1) * STEP_S <= elapsed_s:
            if (self.steps + 1) % STEPS_A_LOOK == 0:
                self._look(self.steps + 1)  # first of all: it may fail, and then nothing has moved
            for stand in self.stands.values():
                stand.cooker.step(stand.outside, STEP_S)
            self.steps += 1

    def happen(self, event: Event) -> None:
        """Let an event happen to its cooker; events of other cookers and mere words do nothing.

        Raises CookError when a number in its detail is none.
        """
        stand = self.stands.get(event.cooker)
        if stand is None:
            return
        match event.kind:
            case EventKind.START:
                stand.aim = self._towards_the_sun()
                stand.food = event.detail.get("food", "")
            case EventKind.AIM:
                to = self._towards_the_sun()
                stand.aim = Aim(
                    _amount(event, "azimuth", to.azimuth_deg),
                    _amount(event, "elevation", to.elevation_deg),
                )
            case EventKind.LID:
                stand.cooker.open_lid(_amount(event, "duration_s", LID_OPEN_S))
            case EventKind.LOAD:
                stand.aim = stand.aim or self._towards_the_sun()
                stand.cooker.open_lid(LID_OPEN_S)
                stand.food = event.detail.get("food", stand.food)
                stand.cooker.load = self._load(stand.food, event)
            case EventKind.UNLOAD:
                stand.cooker.open_lid(LID_OPEN_S)
                stand.cooker.load = None
            case EventKind.STOP:
                stand.aim = stand.cooker.load = None
        stand.outside = self._felt(stand)

    def _look(self, step: int) -> None:
        """Look at sun and weather at the beginning of a step."""
        when = self._start + timedelta(seconds=step * STEP_S)
        day = solar_date(when, self._place.longitude)
        if self._table is None or self._table[0] != day:
            self._table = day, self._sun.day(self._place, day)
        self._sky = self._table[1].at(when)
        self._weather.step(when, STEPS_A_LOOK * STEP_S)
        self._light = self._weather.light(self._sky)
        for stand in self.stands.values():
            stand.outside = self._felt(stand)

    def _felt(self, stand: Stand) -> Outside:
        light, sky = self._light, self._sky
        on_aperture = 0.0
        if stand.aim is not None:
            misaim = angle_between(
                stand.aim.azimuth_deg, stand.aim.elevation_deg, sky.azimuth_deg, sky.elevation_deg
            )
            hidden = sky.elevation_deg <= horizon_elevation(self._place.horizon, sky.azimuth_deg)
            beam = 0.0 if hidden else light.dni
            on_aperture = beam * light_share(misaim, stand.options.acceptance_deg)
            on_aperture += SKY_VIEW * light.dhi
        return Outside(on_aperture, self._weather.ambient_c, self._weather.wind_ms)

    def _towards_the_sun(self) -> Aim:
        return Aim(self._sky.azimuth_deg, max(0.0, self._sky.elevation_deg))

    def _load(self, food: str, event: Event) -> Load:
        material = material_of(food)
        mass = min(MOST_KG, max(LEAST_KG, _amount(event, "mass_kg", material.usual_kg)))
        elevation = self._place.elevation_m
        boiling = boiling_point_c(elevation)
        start = min(boiling, _amount(event, "start_c", self.ambient_c))
        if material.dense:
            return DenseLoad(material, mass, start, boiling)
        return WetLoad(material, mass, start, Steam(boiling, standard_pressure_pa(elevation)))


def _amount(event: Event, key: str, usual: float) -> float:
    given = event.number(key)
    return usual if given is None else given
