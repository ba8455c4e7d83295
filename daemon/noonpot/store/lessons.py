"""What past cooks taught, kept in a file: it can be made anew from the cooks at any time."""

import json
import logging
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from noonpot.core.learning import Knowledge

log = logging.getLogger(__name__)

VERSION = 1
"""A file of another version is not read; its cooks teach again."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """What the cooks of one cooker taught, up to the one with the id ``last_cook``."""

    last_cook: int = 0
    knowledge: Knowledge = field(default_factory=Knowledge)


class LessonFile:
    """A small JSON file beside the data. One process writes it, others may read it meanwhile."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def read(self) -> dict[str, Lesson]:
        """The lessons by cooker; none where there is no file, or one that cannot be read."""
        try:
            body = json.loads(self._path.read_text(encoding="utf-8"))
            if body["version"] != VERSION:
                return {}
            return {name: _lesson(entry) for name, entry in body["cookers"].items()}
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
            log.warning("%s is damaged (%r); the past cooks teach again", self._path, error)
            return {}

    def write(self, lessons: Mapping[str, Lesson]) -> None:
        """Keep the lessons; a reader sees the old file or the new one. Raises OSError."""
        cookers = {name: asdict(lesson) for name, lesson in lessons.items()}
        draft = self._path.with_suffix(".new")
        draft.write_text(json.dumps({"version": VERSION, "cookers": cookers}), encoding="utf-8")
        draft.replace(self._path)


def _lesson(entry: Mapping[str, object]) -> Lesson:
    match entry:
        case {
            "last_cook": int(last),
            "knowledge": {
                "cooks": int(cooks),
                "cooker": learnt,
                "foods": dict(foods),
                "gaps_s": list(gaps),
                "turned": int(turned),
            },
        }:
            return Lesson(
                last,
                Knowledge(
                    cooks=cooks,
                    cooker=None if learnt is None else _normal(learnt),
                    foods={str(food): _normal(pair) for food, pair in foods.items()},
                    gaps_s=tuple(float(gap) for gap in gaps),
                    turned=turned,
                ),
            )
    raise ValueError(f"no lesson: {str(entry)[:60]}")


def _normal(pair: object) -> tuple[list[float], list[list[float]]]:
    match pair:
        case [list(mean), list(cov)] if len(mean) == len(cov) == len(cov[0]):
            return [float(x) for x in mean], [[float(x) for x in row] for row in cov]
    raise ValueError("no mean and covariance")
