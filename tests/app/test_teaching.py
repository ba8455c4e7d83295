"""Finished cooks teach: by a real process, from a real store, once each."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from cooks import recorded
from fakes import FakeClock
from noonpot.app.machine import DATA_FILE
from noonpot.app.teaching import LESSON_FILE, Teacher, known
from noonpot.core.cook import Event, EventKind, begin
from noonpot.core.learning import Knowledge, cooker_belief
from noonpot.core.readings import Reading
from noonpot.core.recording import Recording
from noonpot.ports import Batch
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.sqlite import Store
from skies import DAY, hour

CONFIG = """
[station]
name = "garden"
latitude = 0.0
longitude = 0.0
elevation_m = 0
data = "data"
[[bus]]
name = "wires"
driver = "ds18b20"
[[cooker]]
name = "box"
"""
PROBE = """
[[probe]]
name = "box-{role}"
role = "{role}"
bus = "wires"
address = "28-00000000000{number}"
cooker = "box"
"""


@pytest.fixture
def config(tmp_path: Path) -> Path:
    file = tmp_path / "noonpot.toml"
    roles = ("pot", "core", "ambient")
    probes = [PROBE.format(role=role, number=n) for n, role in enumerate(roles)]
    file.write_text(CONFIG + "".join(probes), encoding="utf-8")
    (tmp_path / "data").mkdir()
    return file


def cooked(settings: Settings, recording: Recording, *, stopped: bool = True) -> None:
    """Put a recording into the store of the station as its daemon would have."""
    clock = FakeClock(recording.rows[0].at, 100.0)
    begun = recording.rows[0].at
    cook = begin(Event("box", begun, EventKind.START, {}))
    known_probes = {probe.name for probe in settings.station.probes}

    def mono(at: datetime) -> float:
        return 100.0 + (at - begun).total_seconds()

    samples, events = [], [Event("box", begun, EventKind.START, {})]
    for row in recording.rows:
        for role, value in row.values.items():
            if f"box-{role}" in known_probes:
                samples.append(Reading(f"box-{role}", row.at, mono(row.at), value))
        if row.event is not None:
            events.append(Event("box", row.at, row.event, row.detail))
            cook = cook.after(events[-1])
    end = recording.rows[-1].at
    if stopped:
        cook = cook.after(Event("box", end, EventKind.STOP))
    with Store(settings.data / DATA_FILE, clock) as store:
        store.register(settings.station.probes)
        clock.advance(mono(end) - 100.0)
        store.write(clock.moment(), Batch(samples=samples, events=events, cooks=[cook]))


def taught(config: Path, settings: Settings) -> dict[str, Knowledge]:
    knowledge = known(settings)
    Teacher(config, settings, knowledge).teach()
    return knowledge


def test_a_finished_cook_teaches_about_cooker_food_and_habit(config: Path) -> None:
    settings = load(config)
    cooked(settings, recorded("bread", sensor=False))
    knowledge = taught(config, settings)["box"]
    assert knowledge.cooks == 1
    assert set(knowledge.foods) == {"bread", "any dry food"}  # and what kin may expect
    assert knowledge.habit.every_s == pytest.approx(1800, abs=2)
    spec = settings.station.cookers[0]
    doubt, before = (np.diag(cooker_belief(k, spec).cov) for k in (knowledge, Knowledge()))
    assert doubt[0] < 0.5 * before[0]  # how hot it gets


def test_each_cook_teaches_once_and_a_running_one_not_yet(config: Path) -> None:
    settings = load(config)
    cooked(settings, recorded("bread"))
    assert taught(config, settings)["box"].cooks == 1
    written = (settings.data / LESSON_FILE).stat()
    assert taught(config, settings)["box"].cooks == 1
    assert (settings.data / LESSON_FILE).stat() == written
    cooked(settings, _later(recorded("stew", seed=2)), stopped=False)
    assert taught(config, settings)["box"].cooks == 1
    assert (settings.data / LESSON_FILE).stat() == written


def test_a_damaged_file_of_lessons_is_made_anew(
    config: Path, caplog: pytest.LogCaptureFixture
) -> None:
    settings = load(config)
    cooked(settings, recorded("bread"))
    (settings.data / LESSON_FILE).write_bytes(b'{"version": 1, "cookers": {"box": 7')
    assert taught(config, settings)["box"].cooks == 1
    assert "is damaged" in caplog.text
    assert "teach again" in caplog.text


def test_where_nothing_was_cooked_nothing_is_taught(config: Path) -> None:
    settings = load(config)
    with Store(settings.data / DATA_FILE, FakeClock(hour(9), 0.0)):
        pass
    assert taught(config, settings) == {}
    assert not (settings.data / LESSON_FILE).exists()


def test_what_goes_wrong_is_said_and_what_was_known_stays(
    config: Path, caplog: pytest.LogCaptureFixture
) -> None:
    settings = load(config)
    cooked(settings, recorded("bread"))
    knowledge = {"box": Knowledge(cooks=3)}
    Teacher(config.with_name("gone.toml"), settings, knowledge).teach()
    assert "the past cooks teach nothing" in caplog.text
    assert "gone.toml" in caplog.text
    assert knowledge == {"box": Knowledge(cooks=3)}


def _later(recording: Recording) -> Recording:
    shift = hour(0, day=DAY.replace(day=DAY.day + 1)) - hour(0)
    rows = [replace(row, at=row.at + shift) for row in recording.rows]
    return Recording(recording.header, rows)
