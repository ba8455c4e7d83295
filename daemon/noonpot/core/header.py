"""The header of a recording: which cooker, where it stood, and what else holds for all rows.

Lines ``# key: value``, ``# format: noonpot-recording 1`` before all others. ``horizon`` lists what
hides the sun as corners ``azimuth/elevation``, separated by blanks [degrees].
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from noonpot.core.detail import MOST_SHOWN, quoted
from noonpot.core.station import Place
from noonpot.errors import RecordingError

FORMAT = "noonpot-recording 1"


@dataclass(frozen=True, slots=True)
class Header:
    """What holds for the whole recording; ``others`` are header lines of any other name."""

    place: Place
    cooker: str = "cooker"
    aperture_m2: float | None = None
    acceptance_deg: float | None = None
    others: Mapping[str, str] = field(default_factory=dict)


def header_lines(header: Header) -> Iterator[str]:
    """The lines of a header, without line ends."""
    place = header.place
    entries: dict[str, object] = {"format": FORMAT, "cooker": header.cooker}
    entries["latitude"] = place.latitude
    entries["longitude"] = place.longitude
    entries["elevation_m"] = place.elevation_m
    if place.horizon:
        entries["horizon"] = " ".join(f"{azimuth}/{height}" for azimuth, height in place.horizon)
    if header.aperture_m2 is not None:
        entries["aperture_m2"] = header.aperture_m2
    if header.acceptance_deg is not None:
        entries["acceptance_deg"] = header.acceptance_deg
    for key, value in {**entries, **header.others}.items():
        yield f"# {key}: {value}"


def parse_header(lines: Sequence[str]) -> Header:
    """The header that these lines tell; one without a colon is a remark.

    Raises RecordingError; its sentence names the line.
    """
    entries: dict[str, str] = {}
    numbers: dict[str, int] = {}
    for number, line in enumerate(lines, start=1):
        key, colon, value = (part.strip() for part in line.removeprefix("#").partition(":"))
        if key in entries:
            raise RecordingError(
                f"line {number}: {key[:MOST_SHOWN]} is given twice; keep one of the two"
            )
        if colon and key:
            entries[key], numbers[key] = value, number
    if numbers.get("format") != 1 or entries.pop("format") != FORMAT:
        raise RecordingError(
            f"line 1: this is no recording that can be read; it must be '# format: {FORMAT}'"
        )
    try:
        return _header(entries)
    except ValueError as error:  # its sentence begins with the name of what is wrong
        wrong = (n for key, n in numbers.items() if str(error).startswith(key.removesuffix("_m")))
        raise RecordingError(f"line {next(wrong, 1)}: {error}") from None


def parse_number(name: str, text: str, cure: str = "") -> float:
    """The finite number of this text. Raises ValueError whose sentence ends with the cure.

    >>> parse_number("pot_c", " 98.5 ")
    98.5
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError(
            f"{name} {quoted(text)} is not a number; write it in digits with a decimal point{cure}"
        )
    return value


def _header(entries: dict[str, str]) -> Header:
    place = Place(
        _needed(entries, "latitude"),
        _needed(entries, "longitude"),
        _needed(entries, "elevation_m"),
        tuple(_corner(text) for text in entries.pop("horizon", "").split()),
    )
    cooker = entries.pop("cooker", "") or "cooker"
    aperture_m2 = _wanted(entries, "aperture_m2")
    acceptance_deg = _wanted(entries, "acceptance_deg")
    return Header(place, cooker, aperture_m2, acceptance_deg, entries)


def _needed(entries: dict[str, str], key: str) -> float:
    if key not in entries:
        raise ValueError(f"{key} is missing in the header; add '# {key}: …'")
    return parse_number(key, entries.pop(key))


def _wanted(entries: dict[str, str], key: str) -> float | None:
    return parse_number(key, entries.pop(key)) if key in entries else None


def _corner(text: str) -> tuple[float, float]:
    azimuth, _, elevation = text.partition("/")
    return parse_number("horizon azimuth", azimuth), parse_number("horizon elevation", elevation)
