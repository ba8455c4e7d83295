"""Finished cooks teach what they can about their cooker, in a process of its own.

It takes a second or so a cook and some memory, on a small board much longer: more than a daemon
that watches food should spend. So the daemon runs this module as a program when a cook has ended.
"""

import logging
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from noonpot.app.daytables import day_tables
from noonpot.app.machine import DATA_FILE, system_clock
from noonpot.core.cook import Cook
from noonpot.core.learning import Knowledge, learn
from noonpot.core.sun import solar_date
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.export import export
from noonpot.store.lessons import Lesson, LessonFile
from noonpot.store.reader import Reader

log = logging.getLogger(__name__)

LESSON_FILE = "lessons.json"
TIMEOUT_S = 1800.0
MOST_AT_ONCE = 20
"""So many of the newest cooks of a cooker teach, where none has taught yet."""


def known(settings: Settings) -> dict[str, Knowledge]:
    """What is known of each cooker from its past cooks."""
    lessons = LessonFile(settings.data / LESSON_FILE).read()
    return {name: lesson.knowledge for name, lesson in lessons.items()}


class Teacher:
    """Has finished cooks taught when there are any, and passes on what they taught."""

    def __init__(self, config: Path, settings: Settings, knowledge: dict[str, Knowledge]) -> None:
        self._config = config
        self._settings = settings
        self._knowledge = knowledge

    def teach(self) -> None:
        """Start the process if there is anything new, wait for it, and take up the outcome."""
        settings = self._settings
        cooks = Reader(settings.data / DATA_FILE, system_clock(), whole=False).cooks()
        lessons = LessonFile(settings.data / LESSON_FILE).read()
        if not any(_untaught(cooks, lessons, spec.name) for spec in settings.station.cookers):
            return
        command = [sys.executable, "-m", "noonpot.app.teaching", str(self._config)]
        alone = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
        try:
            done = subprocess.run(
                command, capture_output=True, check=False, timeout=TIMEOUT_S, env=alone
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            log.warning("the past cooks teach nothing: %s", error)
            return
        if done.returncode != 0:
            last = done.stderr.decode(errors="replace").strip().splitlines()[-1:]
            log.warning("the past cooks teach nothing: %s", " ".join(last))
            return
        self._knowledge.update(known(settings))


def _untaught(cooks: Sequence[Cook], lessons: Mapping[str, Lesson], cooker: str) -> list[Cook]:
    last = lessons.get(cooker, Lesson()).last_cook
    ended = [c for c in cooks if c.cooker == cooker and not c.running and c.id > last]
    return ended[-MOST_AT_ONCE:]


def main(config: Path) -> None:
    """Let every cook teach that has not yet, and keep what it taught."""
    os.nice(10)  # measuring goes first
    settings = load(config, secrets=False)
    clock = system_clock()
    reader = Reader(settings.data / DATA_FILE, clock)
    file = LessonFile(settings.data / LESSON_FILE)
    lessons, cooks, now = file.read(), reader.cooks(), clock.moment().at
    sun, place = day_tables(reader), settings.station.place
    for spec in settings.station.cookers:
        fresh = _untaught(cooks, lessons, spec.name)
        if not fresh:
            continue
        days = sorted({solar_date(cook.started_at, place.longitude) for cook in fresh})
        recordings = [export(reader, cook.id, settings.station, now) for cook in fresh]
        before = lessons.get(spec.name, Lesson()).knowledge
        taught = learn(recordings, spec, sun.days(place, days), settings.foods, before)
        lessons[spec.name] = Lesson(fresh[-1].id, taught)
        file.write(lessons)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
