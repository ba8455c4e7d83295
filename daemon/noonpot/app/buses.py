"""Finds the drivers of the buses among the installed packages and opens them."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from importlib.metadata import EntryPoint, entry_points

from noonpot.core.names import meant
from noonpot.errors import BusError, ConfigError
from noonpot.ports import Bus, BusFactory, Surroundings
from noonpot.settings.values import BusSection

GROUP = "noonpot.probes"


def drivers() -> dict[str, EntryPoint]:
    """All bus drivers that are installed, by name."""
    return {entry.name: entry for entry in entry_points(group=GROUP)}


def open_bus(section: BusSection, surroundings: Surroundings) -> Bus:
    """Open one bus.

    Raises BusError when there is no such driver, or when the driver cannot use the options.
    """
    known = drivers()
    if section.driver not in known:
        raise BusError(
            f'bus.{section.name}.driver is "{section.driver}", but no such driver is installed; '
            f"{meant(section.driver, known)}"
        )
    factory: BusFactory = known[section.driver].load()
    try:
        return factory(section.options, surroundings)
    except BusError as error:
        raise BusError(f"bus.{section.name}: {error}") from error


@contextmanager
def opened(
    file: str, sections: Iterable[BusSection], surroundings: Surroundings
) -> Iterator[dict[str, Bus]]:
    """All buses of a configuration, by name, closed again at the end.

    Raises ConfigError with every bus that cannot be opened.
    """
    buses: dict[str, Bus] = {}
    mistakes: list[str] = []
    for section in sections:
        try:
            buses[section.name] = open_bus(section, surroundings)
        except BusError as error:
            mistakes.append(str(error))
    try:
        if mistakes:
            raise ConfigError(file, mistakes)
        yield buses
    finally:
        for bus in buses.values():
            bus.close()
