"""What a bus of real probes is opened with."""

from noonpot.core.station import Place
from noonpot.core.sun import DayTable
from noonpot.ports import Clock, Surroundings


class NoSun:
    """Real thermometers ask for no sun; asking would fail the test."""

    def day(self, *_args: object, **_kwargs: object) -> DayTable:
        raise AssertionError("a thermometer needs no sun")


def surroundings(clock: Clock) -> Surroundings:
    """A garden with a clock."""
    return Surroundings(clock, Place(45.0, 7.0, 300.0), NoSun())
