"""The interview of ``noonpot init``, answered by scripts."""

from collections.abc import Sequence
from pathlib import Path

import pytest

from noonpot.core.readings import Role
from noonpot.core.station import CookerSpec, Place, ProbeSpec
from noonpot.errors import ConfigError
from noonpot.settings.ask import FoundProbe, interview, system_timezone
from noonpot.settings.reading import load
from noonpot.settings.values import BusSection, Settings

WIRES = BusSection("wires", "ds18b20")
POT = FoundProbe("wires", "28-0316a2795f01", "DS18B20 thermometer")
CORE = FoundProbe("wires", "28-0316a2795f02", "DS18B20 thermometer")
SHADE = FoundProbe("wires", "28-0316a2795f03", "DS18B20 thermometer")
PLACE = {"Latitude": ["40.015"], "Longitude": ["-105.27"], "Elevation": ["1655"]}
BUT_NAME = (
    ', but must be lower-case letters, digits and single hyphens, such as "box-1"; '
    "messages and files carry this name"
)
BUT_LATITUDE = ", but must be -90 to 90 degrees, north positive; look it up on a map"
BUT_ELEVATION = (
    ", but must be -430 to 8850 metres above the sea; look it up on a map, 1 ft is 0.3048 m"
)
BUT_TIMEZONE = (
    ', but must be a time zone such as "America/Denver", for the times in messages; '
    '"timedatectl list-timezones" lists them'
)
BUT_ROLE = ', but must be "pot", "core", "ambient" or "irradiance"; say what the probe measures'


class Person:
    """Answers by script: to each question that begins so, its answers in turn, then only Enter."""

    def __init__(self, answers: dict[str, list[str]]) -> None:
        self.answers = {begins: list(given) for begins, given in answers.items()}
        self.told: list[str] = []
        self.asked: list[str] = []

    def ask(self, question: str, default: str) -> str:
        self.asked.append(question)
        for begins, given in self.answers.items():
            if question.startswith(begins) and given:
                return given.pop(0)
        assert default, f"nothing to answer to {question!r}"
        return ""


def interviewed(
    folder: Path,
    answers: dict[str, list[str]],
    found: Sequence[FoundProbe] = (POT, CORE, SHADE),
    buses: Sequence[BusSection] = (WIRES,),
) -> tuple[Settings, str, list[str]]:
    """The settings that come of the answers, their text, and what was said on the way."""
    person = Person(PLACE | answers)
    text = interview(person.ask, person.told.append, buses, found, "America/Denver")
    assert not any(person.answers.values()), person.answers
    path = folder / "noonpot.toml"
    path.write_text(text, encoding="utf-8")
    return load(path), text, person.told


def test_enter_at_every_question_but_the_place_makes_a_whole_configuration(tmp_path: Path) -> None:
    settings, _, told = interviewed(tmp_path, {})

    assert settings.station.name == "garden"
    assert settings.station.place == Place(40.015, -105.27, 1655.0)
    assert settings.station.cookers == (CookerSpec("box"),)
    assert settings.station.probes == (
        ProbeSpec("box-pot", Role.POT, "wires", POT.address, "box"),
        ProbeSpec("box-core", Role.CORE, "wires", CORE.address, "box"),
        ProbeSpec("ambient", Role.AMBIENT, "wires", SHADE.address),
    )
    assert settings.buses == (WIRES,)
    assert (settings.units, settings.timezone.key) == ("C", "America/Denver")
    assert settings.mqtt is None
    assert told == [f"Probe {p.address} on wires: DS18B20 thermometer" for p in (POT, CORE, SHADE)]


def test_every_key_it_writes_says_what_it_must_be(tmp_path: Path) -> None:
    _, text, _ = interviewed(tmp_path, {})
    keys = [line for line in text.splitlines() if " = " in line]
    assert len(keys) > 20
    assert all("  # " in line for line in keys)
    assert "latitude = 40.015  # -90 to 90 degrees, north positive" in keys


@pytest.mark.parametrize(
    ("answer", "elevation_m"),
    [
        ("5250 ft", 1600.2),
        ("5,250 feet", 1600.2),
        ("5250'", 1600.2),
        ("1,600", 1600.0),
        ("1600.5 m", 1600.5),
        ("-12", -12.0),
        ("1655,5 m", 1655.5),
    ],
)
def test_an_elevation_may_be_given_in_feet(answer: str, elevation_m: float, tmp_path: Path) -> None:
    settings, _, _ = interviewed(tmp_path, {"Elevation": [answer]})
    assert settings.station.place.elevation_m == pytest.approx(elevation_m)


def test_degrees_may_be_named_in_full_and_a_comma_may_be_decimal(tmp_path: Path) -> None:
    settings, _, _ = interviewed(tmp_path, {"Degrees in": ["fahrenheit"], "Latitude": ["40,5"]})
    assert (settings.units, settings.station.place.latitude) == ("F", 40.5)


def test_a_wrong_answer_gets_the_sentence_of_the_check_and_the_question_again(
    tmp_path: Path,
) -> None:
    answers = {
        "Name of this station": ["Back Yard", "yard"],
        "Latitude": ["139.5", "north", "39.5"],
        "Elevation": ["on a hill", "45,000 ft", "1655"],
        "Time zone": ["Mountain Time", ""],
        "It measures": ["oven", "pot"],
    }

    settings, _, told = interviewed(tmp_path, answers, found=[POT])

    assert settings.station.name == "yard"
    assert told == [
        'name is "Back Yard"' + BUT_NAME,
        "latitude is 139.5" + BUT_LATITUDE,
        'latitude is "north"' + BUT_LATITUDE,
        'elevation_m is "on a hill"' + BUT_ELEVATION,
        "elevation_m is 13716.0" + BUT_ELEVATION,
        'timezone is "Mountain Time"' + BUT_TIMEZONE,
        f"Probe {POT.address} on wires: DS18B20 thermometer",
        'role is "oven"' + BUT_ROLE,
    ]


def test_two_cookers_share_out_their_probes(tmp_path: Path) -> None:
    answers = {
        "Name of the cooker": ["box"],
        "Name of another cooker": ["box", "panel", "none"],
        "Area": ["0,3", "1.1"],
        "Degrees off": ["25", "200", "40"],
        "In which cooker": ["panel", "tent", "box"],
        "Name of the probe": ["left"],
    }

    settings, _, told = interviewed(tmp_path, answers | {"It measures": ["pot", "pot", "core"]})

    assert settings.station.cookers == (
        CookerSpec("box", 0.3, 25.0),
        CookerSpec("panel", 1.1, 40.0),
    )
    assert settings.station.probes == (
        ProbeSpec("left", Role.POT, "wires", POT.address, "panel"),
        ProbeSpec("box-pot", Role.POT, "wires", CORE.address, "box"),
        ProbeSpec("box-core", Role.CORE, "wires", SHADE.address, "box"),
    )
    assert 'name is "box", but that is taken; choose another' in told
    assert 'cooker is "tent", but must be one of box, panel' in told


def test_a_cooker_without_a_pot_probe_brings_the_probes_up_again(tmp_path: Path) -> None:
    settings, _, told = interviewed(
        tmp_path, {"It measures": ["core", "none", "pot", "core"]}, found=[POT, CORE]
    )
    assert [probe.role for probe in settings.station.probes] == [Role.POT, Role.CORE]
    assert "box has no probe in its pot; say again which probe is which" in told


def test_probes_of_one_kind_in_one_cooker_get_names_of_their_own(tmp_path: Path) -> None:
    settings, _, _ = interviewed(tmp_path, {"It measures": ["pot", "core", "core"]})
    assert [probe.name for probe in settings.station.probes] == [
        "box-pot",
        "box-core",
        "box-core-2",
    ]


def test_with_one_probe_no_second_cooker_is_asked_for() -> None:
    person = Person(PLACE)
    interview(person.ask, person.told.append, [WIRES], [POT])
    assert not any("another cooker" in question for question in person.asked)


def test_a_bus_keeps_its_options_and_an_unused_bus_is_left_out(tmp_path: Path) -> None:
    options = {
        "cookers": [{"name": "box", "kind": "box", "aperture_m2": 0.25}],
        "seed": 7,
        "sky": [{"from": "06:00", "sky": "clear"}],
        "quiet": True,
    }
    simulated = BusSection("play", "simulated", options)
    found = [FoundProbe("play", "box/pot", "simulated, air in the pot of box")]

    settings, _, _ = interviewed(tmp_path, {}, found, buses=[WIRES, simulated])

    assert settings.buses == (simulated,)


def test_a_broker_is_written_down_when_there_is_one(tmp_path: Path) -> None:
    settings, _, _ = interviewed(tmp_path, {"Computer of the MQTT broker": ["hub.local"]})
    assert settings.mqtt is not None
    assert settings.mqtt.host == "hub.local"


def test_without_any_probe_there_is_nothing_to_ask() -> None:
    person = Person({})
    with pytest.raises(ConfigError, match="no probe answers; connect one"):
        interview(person.ask, person.told.append, [WIRES], [])


def test_the_time_zone_of_the_computer_is_proposed(tmp_path: Path) -> None:
    link = tmp_path / "localtime"
    link.symlink_to("/usr/share/zoneinfo/America/Denver")
    assert system_timezone(link) == "America/Denver"
    assert system_timezone(tmp_path / "missing") == "UTC"
