"""Plans for the page, in a process of its own: ``python -m noonpot.app.pageplan``.

A plan takes a second or two of all that the processor has, and some memory; the process that serves
the page stays small and quick.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from noonpot.core.moment import utc
from noonpot.errors import NoonpotError, RequestError

PATIENCE_S = 30.0
WRONG = 2
NO_PLAN = "this cannot be planned; ask for another day, time or amount"


class PlanProcess:
    """Has plans made for the station of a configuration file whose data lie in a folder."""

    def __init__(self, config: Path, data: Path, now: Callable[[], datetime]) -> None:
        self._config = config
        self._data = data
        self._now = now

    def plan(self, question: Mapping[str, object]) -> Sequence[Mapping[str, object]]:
        """A plan for each cooker asked for. Raises RequestError when there is none."""
        order = {
            "config": str(self._config),
            "data": str(self._data),
            "now": self._now().isoformat(),
            "question": question,
        }
        try:
            done = subprocess.run(
                [sys.executable, "-m", "noonpot.app.pageplan"],
                input=json.dumps(order).encode(),
                capture_output=True,
                check=False,
                timeout=PATIENCE_S,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )
        except subprocess.TimeoutExpired:
            raise RequestError(
                503, f"no plan within {PATIENCE_S:.0f} s; try again when the station has less to do"
            ) from None
        except OSError as error:
            raise RequestError(503, f"no plan can be made: {error.strerror}") from error
        if done.returncode != 0:
            words = done.stderr.decode(errors="replace").strip()
            raise RequestError(400, words if done.returncode == WRONG and words else NO_PLAN)
        plans: Sequence[Mapping[str, object]] = json.loads(done.stdout)
        return plans


def main(order: str) -> int:
    """Answer one question, on standard output; returns the exit code."""
    # Not above: whoever has plans made here shall not carry all this.
    from noonpot.app.planning import Planner, Question
    from noonpot.core.planjson import plan_json
    from noonpot.settings.reading import load

    os.nice(10)  # measuring goes first
    asked = json.loads(order)
    said = asked["question"]
    said["turn_every_min"] = said.pop("turn_every", None)
    try:
        settings = replace(load(Path(asked["config"]), secrets=False), data=Path(asked["data"]))
        wish, plans = Planner(settings).plans(Question(**said), utc(asked["now"]))
    except NoonpotError as error:
        print(error, file=sys.stderr)  # noqa: T201
        return WRONG
    json.dump([plan_json(answer, wish) for answer in plans], sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.stdin.read()))
