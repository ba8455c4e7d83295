"""What a time-series server should have, told from the file alone, without the code that sends."""

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path

from uplink.victoria import Series

Copy = dict[Series, dict[int, float]]
"""Value by Unix time [ms], by name and tags."""

LINE = re.compile(r"(?P<measurement>\w+),(?P<tags>\S+) .* (?P<at>\d+)")
READINGS = """SELECT probe, role, cooker, value / 16.0, 1000 * ((reading.id >> 10) + wall_s)
    FROM reading JOIN series ON series.id = reading.id & 1023, clock_span"""
EVENTS = "SELECT cooker, kind, detail, 1000 * (tick + wall_s) + id % 1000 FROM event, clock_span"
FORECASTS = """SELECT cooker, cook, forecast.target_c, p_done, p50_s, 1000 * (tick + wall_s)
    FROM forecast JOIN cook ON cook.id = cook, clock_span"""


def truth(path: Path) -> Copy:
    """All rows of a file with one clock span, without those in quarantine."""
    found: Copy = {}

    def add(name: str, value: float, at_ms: int, **tags: str) -> None:
        kept = {key: tag for key, tag in tags.items() if tag}
        labels = {"__name__": name, "station": "garden", **kept}
        found.setdefault(tuple(sorted(labels.items())), {})[at_ms] = value

    with closing(sqlite3.connect(path)) as db:
        assert db.execute("SELECT count(*) FROM clock_span").fetchone() == (1,)
        for probe, role, cooker, value, at_ms in db.execute(READINGS):
            name = "irradiance_w_per_m2" if role == "irradiance" else "temperature_celsius"
            add(name, value, at_ms, probe=probe, role=role, cooker=cooker)
        for cooker, kind, detail, at_ms in db.execute(EVENTS):
            add("event_count", 1, at_ms, cooker=cooker, kind=kind)
            add(
                "event_core_c", float(json.loads(detail)["core_c"]), at_ms, cooker=cooker, kind=kind
            )
            add("event_detail", 0, at_ms, cooker=cooker, kind=kind)  # victoria drops the words
        for cooker, cook, target_c, p_done, p50_s, at_ms in db.execute(FORECASTS):
            add("forecast_cook", cook, at_ms, cooker=cooker)
            add("forecast_target_c", target_c, at_ms, cooker=cooker)
            add("forecast_p_done", p_done, at_ms, cooker=cooker)
            add("forecast_done_p50_s", p50_s, at_ms, cooker=cooker)
    for line in quarantined(path):
        _take_out(found, line)
    return {series: points for series, points in found.items() if points}


def quarantined(path: Path) -> list[str]:
    """The lines that were put aside; each has its reason."""
    with closing(sqlite3.connect(path)) as db:
        rows = db.execute("SELECT line, reason FROM quarantine").fetchall()
    assert {reason for _, reason in rows} <= {"unable to parse a line"}
    return [line for line, _ in rows]


def rows_in(path: Path) -> dict[str, int]:
    """How many rows of each kind there are."""
    with closing(sqlite3.connect(path)) as db:
        return {
            table: db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608
            for table in ("reading", "event", "forecast")
        }


def differences(truth: Copy, copy: Copy) -> list[str]:
    """Every row that is not the same, in words. A forecast may differ in the twelfth digit:
    victoria keeps no more.
    """
    found = []
    for series in truth.keys() | copy.keys():
        name = dict(series)["__name__"]
        there, here = truth.get(series, {}), copy.get(series, {})
        for at_ms in there.keys() | here.keys():
            in_store, on_server = there.get(at_ms), here.get(at_ms)
            if in_store != on_server and not (
                name.startswith("forecast")
                and in_store is not None
                and on_server is not None
                and abs(in_store - on_server) <= 1e-11 * abs(in_store)
            ):
                found.append(f"{series} at {at_ms}: store {in_store}, server {on_server}")
    return sorted(found)


def _take_out(found: Copy, line: str) -> None:
    """The row of a line that was put aside; it must be one of the store."""
    told = LINE.fullmatch(line)
    assert told, line
    tags = {tuple(pair.split("=")) for pair in told["tags"].split(",")}
    gone = 0
    for series, points in found.items():
        name = dict(series)["__name__"]
        if name.startswith(told["measurement"]) and tags == {p for p in series if p[1] != name}:
            gone += points.pop(int(told["at"]), None) is not None
    assert gone, f"no row of the store: {line}"
