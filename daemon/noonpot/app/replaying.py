"""A recording through the same watch as the daemon's, told as JSON lines."""

import json
from collections.abc import Iterator, Mapping
from pathlib import Path

from noonpot.core.forecast import Forecast
from noonpot.core.moment import iso
from noonpot.core.payloads import alarm_payload, forecast_payload
from noonpot.core.policy import DEFAULT_POLICIES, RuleLimits
from noonpot.core.recording import parse_recording
from noonpot.core.wording import Wording
from noonpot.declination import declination
from noonpot.engine.daylight import Daylight
from noonpot.engine.replayer import Replayed, Replayer, limits_for, station_of
from noonpot.engine.watch import Household
from noonpot.errors import RecordingError
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from noonpot.suntable import SunTables

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


class Forgetful:
    """A place for sun tables that keeps nothing: a replay needs each day once."""

    def sun_day(self, key: str) -> bytes | None:
        """Nothing is ever there."""

    def keep_sun_day(self, key: str, body: bytes) -> None:
        """And nothing stays."""


def lines(path: Path, every_s: float) -> Iterator[str]:
    """What the watch says of a recording, one JSON object a line.

    Raises RecordingError when the file cannot be read.
    """
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
    station = station_of(recording)
    begun = recording.rows[0].at
    house = Household(
        station=station,
        foods=read_foods(supplied("foods.toml")),
        policies=DEFAULT_POLICIES,
        limits=limits_for(recording, RuleLimits()),
        wording=Wording(declination_deg=declination(station.place, begun).degrees),
    )
    daylight = Daylight(station.place, SunTables(Forgetful()))
    for said in Replayer(recording, house, daylight, every_s).run():
        yield json.dumps(_line(said), ensure_ascii=False)


def _line(replayed: Replayed) -> Mapping[str, object]:
    said = replayed.said
    if isinstance(said, Forecast):
        body = forecast_payload("", "", said)
        return {"time": iso(replayed.at), "type": "forecast", **{k: body[k] for k in FORECAST_KEYS}}
    body = alarm_payload("", said, said.since)
    return {"time": iso(replayed.at), "type": "alarm", **{k: body[k] for k in ALARM_KEYS}}
