"""A recording through the same watch as the daemon's, told as JSON lines."""

import json
import logging
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path

from noonpot.app.daytables import day_tables
from noonpot.core.forecast import Forecast
from noonpot.core.learning import learn
from noonpot.core.moment import iso
from noonpot.core.payloads import alarm_payload, forecast_payload
from noonpot.core.policy import RuleLimits
from noonpot.core.recording import Recording, parse_recording
from noonpot.core.rules import DEFAULT_POLICIES
from noonpot.core.station import Place
from noonpot.core.sun import DayTable, solar_date
from noonpot.core.wording import Wording
from noonpot.declination import declination
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.replayer import Replayed, Replayer, believed, limits_for, station_of
from noonpot.errors import RecordingError, SunTableError
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from noonpot.suntable import SunTables

log = logging.getLogger(__name__)

FORECAST_KEYS = (
    "target_c",
    "p_done",
    "done_p10",
    "done_p50",
    "done_p90",
    "clear_sky_index",
    "misaim_deg",
)
ALARM_KEYS = ("alarm", "cooker", "state", "priority", "text")


def lines(path: Path, every_s: float, history: Sequence[Path] = ()) -> Iterator[str]:
    """What the watch says of a recording, one JSON object a line, after it has learned from earlier
    recordings of the same cooker.

    Raises RecordingError when a file cannot be read.
    """
    replayer, _ = prepared(read(path), every_s, history)
    for said in replayer.run():
        yield json.dumps(_line(said), ensure_ascii=False)


def prepared(
    recording: Recording, every_s: float, history: Sequence[Path] = ()
) -> tuple[Replayer, Household]:
    """A recording ready to be played, by a household that has learned from earlier ones.

    Raises RecordingError when a file of the history cannot be read.
    """
    past = sorted((believed(read(h)) for h in history), key=lambda earlier: earlier.rows[0].at)
    station = station_of(recording)
    place, begun = station.place, recording.rows[0].at
    sun = day_tables()
    foods = read_foods(supplied("foods.toml"))
    tables = _tables(sun, recording, past)
    cooker = station.cookers[0]
    house = Household(
        station=station,
        foods=foods,
        policies=DEFAULT_POLICIES,
        limits=limits_for(recording, RuleLimits()),
        wording=Wording(declination_deg=declination(place, begun).degrees),
        knowledge={cooker.name: learn(past, cooker, tables, foods)},
    )
    return Replayer(recording, house, Daylight(place, sun), every_s), house


def read(path: Path) -> Recording:
    """The recording in a file, at least one row long. Raises RecordingError."""
    try:
        recording = parse_recording(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise RecordingError(f"{path}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise RecordingError(f"{path}: byte {error.start} is no UTF-8; is this text?") from error
    except RecordingError as error:
        raise RecordingError(f"{path}: {error}") from error
    if not recording.rows:
        raise RecordingError(f"{path}: there is no row below the column names")
    return recording


def _tables(sun: SunTables, recording: Recording, past: Sequence[Recording]) -> list[DayTable]:
    """The tables of the days of the past; that of the recording's own first day is left in the
    memory of ``sun``, so that one start of its helper does for all at the same place.
    """
    today = _day(recording)
    by_place: dict[Place, set[date]] = {}
    for earlier in past:
        by_place.setdefault(earlier.header.place, set()).add(_day(earlier))
    here = by_place.pop(recording.header.place, set()) - {today}
    wanted = [(place, sorted(days)) for place, days in by_place.items()]
    wanted.append((recording.header.place, [*sorted(here), today]))  # what is last is kept longest
    try:
        return [table for place, days in wanted for table in sun.days(place, days)]
    except SunTableError as error:
        log.warning("%s", error)
        return []


def _day(recording: Recording) -> date:
    return solar_date(recording.rows[0].at, recording.header.place.longitude)


def _line(replayed: Replayed) -> Mapping[str, object]:
    said = replayed.said
    if isinstance(said, Forecast):
        body = forecast_payload("", "", said)
        return {"time": iso(replayed.at), "type": "forecast", **{k: body[k] for k in FORECAST_KEYS}}
    body = alarm_payload("", said, said.since)
    return {"time": iso(replayed.at), "type": "alarm", **{k: body[k] for k in ALARM_KEYS}}
