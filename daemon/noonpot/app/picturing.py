"""The forecast of one moment of a recorded cook, drawn."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from noonpot.app.replaying import prepared, read
from noonpot.core.cook import EventKind
from noonpot.core.forecast import Forecast
from noonpot.core.picture import Curve, Picture, svg
from noonpot.core.readings import Role
from noonpot.core.recording import Recording
from noonpot.errors import CookError
from noonpot.settings.ask import system_timezone

EVERY_S = 600.0


def picture(path: Path, at: datetime | None, history: Sequence[Path] = ()) -> str:
    """The last forecast of a recording up to ``at``, of the whole one without, as an SVG text.

    Raises RecordingError when a file cannot be read, CookError when there is no forecast.
    """
    whole = read(path)
    rows = [row for row in whole.rows if at is None or row.at <= at]
    if not rows:
        raise CookError(f"--until {at}: {path} begins later, at {whole.rows[0].at}")
    replayer, household = prepared(replace(whole, rows=rows), EVERY_S, history)
    forecasts = [r.said for r in replayer.run() if isinstance(r.said, Forecast)]
    if not forecasts:
        raise CookError(f"{path}: nothing was loaded, so there is no forecast to draw")
    last = forecasts[-1]
    loads = [row.at for row in rows if row.event is EventKind.LOAD]
    drawn = Picture(
        title=_title(whole),
        pot=[(t, v) for t, v in _curve(whole, Role.POT) if t <= last.at],
        core=[(t, v) for t, v in _curve(whole, Role.CORE) if loads[-1] <= t <= last.at],
        later=[(t, v) for t, v in _curve(whole, Role.CORE) if t > last.at],
        forecast=last,
    )
    return svg(drawn, replace(household.wording, timezone=ZoneInfo(system_timezone())))


def _curve(recording: Recording, role: Role) -> Curve:
    return [(row.at, row.values[role]) for row in recording.rows if role in row.values]


def _title(recording: Recording) -> str:
    foods = [row.detail["food"] for row in recording.rows if "food" in row.detail]
    return f"{recording.header.cooker}: {foods[-1]}" if foods else recording.header.cooker
