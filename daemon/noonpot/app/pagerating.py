"""Ratings for the page, in a process of its own: ``python -m noonpot.app.pagerating``.

A rating takes some seconds of the processor, a table of foods up to half a minute of all its cores;
the process that serves the page stays small and quick.
"""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from noonpot.core.moment import utc
from noonpot.errors import NoonpotError, RequestError

PATIENCE_S = 60
LEFT_S = 5
WRONG = 2
NO_RATING = "this cannot be rated; 'noonpot rate' on the station itself tells more"
LATE, LATER = "not done within", "ask again, or when the station has less to do"
Answer = Mapping[str, object]


class RatingProcess:
    """Has the cookers of a configuration file rated, whose data lie in a folder."""

    def __init__(
        self, config: Path, data: Path, now: Callable[[], datetime], patience_s: float = PATIENCE_S
    ) -> None:
        self._station = {"config": str(config), "data": str(data)}
        self._now = now
        self._patience_s = patience_s

    def rating(self, cooker: str) -> Answer:
        """What its cooks and the published tests say. Raises RequestError when that fails."""
        return self._asked(cooker, None)

    def foods(self, cooker: str, sky: str) -> Answer:
        """All foods in all months under one sky. Raises RequestError when that fails."""
        return self._asked(cooker, sky)

    def _asked(self, cooker: str, sky: str | None) -> Answer:
        now = self._now().isoformat()
        order = {**self._station, "now": now, "cooker": cooker, "sky": sky}
        try:
            # a group of its own, so that whoever reckons for it can be ended with it
            child = subprocess.Popen(
                [sys.executable, "-m", "noonpot.app.pagerating"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                process_group=0,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )
        except OSError as error:
            raise RequestError(503, f"nothing can be rated: {error.strerror}") from error
        with child:
            try:
                said, words = child.communicate(json.dumps(order).encode(), self._patience_s)
            except subprocess.TimeoutExpired:
                with suppress(ProcessLookupError):
                    os.killpg(child.pid, signal.SIGKILL)
                raise RequestError(503, f"{LATE} {self._patience_s:.0f} s; {LATER}") from None
        if child.returncode != 0:
            told = words.decode(errors="replace").strip()
            raise RequestError(503, told if child.returncode == WRONG and told else NO_RATING)
        answer: Answer = json.loads(said)
        return answer


def main(order: str) -> int:
    """Answer one question, on standard output; returns the exit code."""
    # Not above: whoever has cookers rated here shall not carry all this.
    from noonpot.app.rating import stored
    from noonpot.app.seasons import AIR_C, season_json, table
    from noonpot.core.ratejson import profile_json, rating_json
    from noonpot.settings.reading import load

    os.nice(10)  # measuring goes first
    asked = json.loads(order)
    now, sky = utc(asked["now"]), asked["sky"]
    try:
        settings = replace(load(Path(asked["config"]), secrets=False), data=Path(asked["data"]))
        rater = stored(settings, asked["cooker"], None, now)
        if sky is None:
            known = profile_json(rater.spec.name, rater.profile, rater.changes)
            told = rating_json(rater.spec.name, known, rater.power(), rater.merit())
        else:
            season = rater.season(None, AIR_C)
            told = season_json(season, sky, table(season, rater.sun, now.year, [sky]))
    except NoonpotError as error:
        print(error, file=sys.stderr)  # noqa: T201
        return WRONG
    json.dump(told, sys.stdout)
    return 0


def _end_all(*_: object) -> None:
    os.killpg(0, signal.SIGKILL)


if __name__ == "__main__":
    # should nobody be left who waits, this group still comes to its end
    signal.signal(signal.SIGALRM, _end_all)
    signal.alarm(PATIENCE_S + LEFT_S)
    sys.exit(main(sys.stdin.read()))
