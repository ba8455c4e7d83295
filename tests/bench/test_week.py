"""One day of the week in short: one cooker, three faults, each told by its name and no more."""

from pathlib import Path

import numpy as np

from bench.measured import MeasuredDay
from bench.week_day import lived
from bench.week_faults import KINDS
from noonpot.core.sun import DayTable
from simday import HILL, JUNE, SimpleSun

SEED = "short"
FAULTS = ((1.9, "noisy"), (2.4, "pulled-out"), (3.0, "lid-open"))
"""Hours after the morning: the chicken goes in after some hour and a half."""


def clear_day(table: DayTable) -> MeasuredDay:
    """A day without a cloud, a row a minute."""
    minutes = np.arange(1440.0)
    rows = np.arange(len(table.ghi)) * table.step_s / 60
    ghi, dni, dhi = (np.interp(minutes, rows, c) for c in (table.ghi, table.dni, table.dhi))
    flat = np.full(1440, 1.5)
    return MeasuredDay("clear", HILL, table.start_s, ghi, dni, dhi, flat + 20.0, flat, table)


def test_three_faults_of_a_short_day_are_named_and_nothing_else_is(tmp_path: Path) -> None:
    print(f"seed {SEED}")
    kinds = {kind.name: kind for kind in KINDS}
    dates = [(hour, kinds[name], "box") for hour, name in FAULTS]
    day = clear_day(SimpleSun().day(HILL, JUNE))
    report = lived(day, [], SEED, tmp_path, ["box"], dates, ["chicken"], hours=3.2)
    named = [(fault.kind.name, fault.raised_s is not None) for fault in report.faults]
    assert named == [(name, True) for _, name in FAULTS], report
    assert report.false == []
