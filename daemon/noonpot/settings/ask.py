"""The interview behind ``noonpot init``: questions in, the text of a configuration out."""

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel

from noonpot.errors import ConfigError
from noonpot.settings.garden import USUAL_COOKER, BusTable, CookerTable, ProbeTable, StationSection
from noonpot.settings.links import MqttSection
from noonpot.settings.values import BusSection
from noonpot.settings.words import mistake, wants

Ask = Callable[[str, str], str]
"""Puts a question with its default; the answer may be empty, which means the default."""
Say = Callable[[str], None]
Values = Mapping[str, object]

METRES_PER_FOOT = 0.3048  # exact, by the international yard and pound agreement of 1959
NONE = "none"
HEAD = """\
# What Noonpot watches, and where. After a change: noonpot check --config FILE
# A key that is not here has its usual value; noonpot.example.toml explains them all.
"""


@dataclass(frozen=True, slots=True)
class FoundProbe:
    """A probe that answered: on which bus, at what address, and what can be said of it."""

    bus: str
    address: str
    description: str


def system_timezone(link: Path = Path("/etc/localtime")) -> str:
    """The time zone of this computer by the name it is set to, "UTC" when it has none."""
    return str(link.resolve()).partition("/zoneinfo/")[2] or "UTC"


def interview(
    ask: Ask,
    say: Say,
    buses: Sequence[BusSection],
    found: Sequence[FoundProbe],
    timezone: str = "UTC",
) -> str:
    """A commented configuration made from a person's answers; each is checked at once.

    ``found`` are the probes that answer on ``buses``. Raises ConfigError when there is none.
    """
    if not found:
        raise ConfigError(
            "noonpot init", ["no probe answers; connect one, see 'noonpot probes', and try again"]
        )
    return _Interview(ask, say).text(buses, found, timezone)


class _Interview:
    def __init__(self, ask: Ask, say: Say) -> None:
        self._ask = ask
        self._say = say

    def text(self, buses: Sequence[BusSection], found: Sequence[FoundProbe], timezone: str) -> str:
        """All questions in their order, and what their answers come to."""
        station = self._station(timezone)
        cookers = self._cookers(at_most=len(found))
        probes = self._probes([str(cooker["name"]) for cooker in cookers], found)
        used = {probe["bus"] for probe in probes}
        parts = [HEAD, _section("[station]", StationSection, station)]
        parts += [
            _section("[[bus]]", BusTable, {"name": b.name, "driver": b.driver, **b.options})
            for b in buses
            if b.name in used
        ]
        parts += [_section("[[cooker]]", CookerTable, cooker) for cooker in cookers]
        parts += [_section("[[probe]]", ProbeTable, probe) for probe in probes]
        if host := self._broker():
            parts.append(_section("[mqtt]", MqttSection, {"host": host}))
        return "\n".join(parts)

    def _answer(
        self,
        model: type[BaseModel],
        key: str,
        question: str,
        default: str,
        convert: Callable[[str], object] = str,
        taken: Sequence[object] = (),
        besides: str | None = None,
    ) -> object:
        """Ask until the answer is one that the key may have, and none of the taken ones.

        ``besides`` is an answer that stands for no value.
        """
        while True:
            value = convert(self._ask(question, default).strip() or default)
            fault = None if value == besides else mistake(model, key, value)
            if fault is None and value in taken:
                fault = f"{key} is {json.dumps(value)}, but that is taken; choose another"
            if fault is None:
                return value
            self._say(fault)

    def _station(self, timezone: str) -> Values:
        def ask(
            key: str, question: str, default: str, convert: Callable[[str], object] = str
        ) -> object:
            return self._answer(StationSection, key, question, default, convert)

        return {
            "name": ask("name", "Name of this station", "garden"),
            "latitude": ask("latitude", "Latitude, degrees north", "", number),
            "longitude": ask("longitude", "Longitude, degrees east (west: -)", "", number),
            "elevation_m": ask("elevation_m", "Elevation in metres, or as 5250 ft", "", metres),
            "units": ask("units", "Degrees in messages, C or F", "C", lambda t: t[:1].upper()),
            "timezone": ask("timezone", "Time zone", timezone),
        }

    def _cookers(self, at_most: int) -> list[Values]:
        """At least one cooker, and no more than there are probes for."""
        cookers: list[Values] = []
        question, default = "Name of the cooker", "box"
        while len(cookers) < at_most:
            names = [cooker["name"] for cooker in cookers] or [NONE]
            name = self._answer(CookerTable, "name", question, default, taken=names)
            if name == NONE:
                break
            cookers.append({"name": name, **self._light()})
            question, default = "Name of another cooker", NONE
        return cookers

    def _light(self) -> Values:
        """How much sun a cooker catches."""
        area, half = f"{USUAL_COOKER.aperture_m2:g}", f"{USUAL_COOKER.acceptance_deg:g}"
        return {
            "aperture_m2": self._answer(
                CookerTable,
                "aperture_m2",
                "Area that faces the sun, with mirrors, in square metres",
                area,
                number,
            ),
            "acceptance_deg": self._answer(
                CookerTable,
                "acceptance_deg",
                "Degrees off the sun at which half the light is lost",
                half,
                number,
            ),
        }

    def _probes(self, cookers: list[str], found: Sequence[FoundProbe]) -> list[Values]:
        """Which probe is which, until each cooker has one in its pot."""
        while True:
            probes: list[Values] = []
            for one in found:
                self._say(f"Probe {one.address} on {one.bus}: {one.description}")
                probes += self._probe(one, cookers, probes)
            lacking = _without(cookers, "pot", probes)
            if not lacking:
                return probes
            self._say(f"{lacking[0]} has no probe in its pot; say again which probe is which")

    def _probe(self, one: FoundProbe, cookers: list[str], probes: Sequence[Values]) -> list[Values]:
        """The section of one probe, or nothing when it is not to be used."""
        question = "It measures: pot, core, ambient, irradiance, or none to leave it out"
        guess = next((r for r in ("pot", "core") if _without(cookers, r, probes)), "ambient")
        if "irradiance" in one.description:
            guess = "irradiance"
        role = str(self._answer(ProbeTable, "role", question, guess, besides=NONE))
        if role == NONE:
            return []
        cooker = None
        if role in ("pot", "core"):
            cooker = self._cooker_of(role, cookers, probes)
        names = [probe["name"] for probe in probes]
        usual = f"{cooker}-{role}" if cooker else role
        free = next(n for n in (usual, *(f"{usual}-{i}" for i in range(2, 99))) if n not in names)
        name = self._answer(ProbeTable, "name", "Name of the probe", free, taken=names)
        place = {"cooker": cooker} if cooker else {}
        return [{"name": name, "role": role, "bus": one.bus, "address": one.address, **place}]

    def _cooker_of(self, role: str, cookers: list[str], probes: Sequence[Values]) -> str:
        if len(cookers) == 1:
            return cookers[0]
        guess = (_without(cookers, role, probes) or cookers)[0]
        question = f"In which cooker: {', '.join(cookers)}"
        while (cooker := self._ask(question, guess).strip() or guess) not in cookers:
            self._say(f"cooker is {json.dumps(cooker)}, but must be one of {', '.join(cookers)}")
        return cooker

    def _broker(self) -> str | None:
        question = "Computer of the MQTT broker that carries messages, or none"
        host = self._answer(MqttSection, "host", question, NONE)
        return None if host == NONE else str(host)


def number(text: str) -> object:
    """The number in an answer, with a decimal point or comma; any other text as it is."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return text


def metres(text: str) -> object:
    """An elevation in metres, from metres or feet; any other text as it is.

    >>> metres("5250 ft"), metres("1,600 m"), metres("on a hill")
    (1600.2, 1600.0, 'on a hill')
    """
    parts = re.fullmatch(r"([-+]?[\d.,]+) *(m|ft|feet|')?", text.lower())
    if parts is None:
        return text
    value = number(re.sub(r",(?=\d{3}\b)", "", parts[1]))
    if parts[2] in (None, "m") or not isinstance(value, float):
        return value
    return round(value * METRES_PER_FOOT, 1)


def _without(cookers: list[str], role: str, probes: Sequence[Values]) -> list[str]:
    """The cookers in which no probe measures this yet."""
    have = {probe.get("cooker") for probe in probes if probe["role"] == role}
    return [cooker for cooker in cookers if cooker not in have]


def _section(header: str, model: type[BaseModel], values: Values) -> str:
    """A section as text, each key with what it must be as its comment."""
    lines = [header]
    for key, value in values.items():
        note = f"  # {wants(model, key).what}" if key in model.model_fields else ""
        lines.append(f"{key} = {_toml(value)}{note}")
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    """A value as TOML on one line."""
    match value:
        case dict():
            return "{" + ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in value.items()) + "}"
        case list() | tuple():
            return "[" + ", ".join(_toml(item) for item in value) + "]"
        case _:
            return json.dumps(value, ensure_ascii=False)
