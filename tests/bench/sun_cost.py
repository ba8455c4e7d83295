"""What the day table of the sun costs: python tests/bench/sun_cost.py

The daemon has it computed once a day by a helper process (``noonpot.suntable``). Nothing was
promised about its time, but a first start with simulated cookers and a first replay wait for it.
"""

import json
import sys
from datetime import timedelta
from functools import partial
from pathlib import Path

from bench.bare_sun import ROWS, sun_and_sky
from bench.budgets import free
from bench.figures import section, timed_figure
from bench.processes import run, timed
from noonpot.suntable import STEP_S, compute
from simday import HILL, JUNE

HELPERS, CALLS = 3, 10
BARE = Path(__file__).with_name("bare_sun.py")


def main() -> None:
    """Measure and print the table."""
    spot = (HILL.latitude, HILL.longitude, HILL.elevation_m)
    helper, bare, tables, calls = [], [], [], []
    for number in range(HELPERS):
        order = {"latitude": spot[0], "longitude": spot[1], "elevation_m": spot[2]}
        day = JUNE + timedelta(days=number)
        told = json.dumps({**order, "days": [day.isoformat()]})
        helper.append(run([sys.executable, "-m", "noonpot.suntable", told]))
        bare.append(run([sys.executable, BARE, *map(str, spot)]))
    table = compute(HILL, JUNE)
    assert (len(table.ghi), table.step_s) == (ROWS, STEP_S), "the floor has other rows"
    sun_and_sky(*spot)
    for _ in range(CALLS):
        tables.append(timed(partial(compute, HILL, JUNE)))
        calls.append(timed(partial(sun_and_sky, *spot)))
    print(
        section(
            "The sun of a day",
            [
                timed_figure(free("a day table from its helper process", " s", 2), helper, bare),
                timed_figure(free("of this, the table itself", " ms", 1), tables, calls),
            ],
            f"Floor: pvlib's position of the sun and its clear sky for the same {ROWS} times "
            "(`tests/bench/bare_sun.py`), in a fresh process and in one where pvlib is loaded. "
            "The helper runs with a lower priority, so other work weighs more on it.",
        )
    )


if __name__ == "__main__":
    main()
