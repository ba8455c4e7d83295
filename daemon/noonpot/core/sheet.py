"""A cook for a spreadsheet: a row a minute, local time, the household's degrees."""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo

from noonpot.core.detail import detail_text
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.core.units import in_unit

# Where a spreadsheet may begin a cell: also in a text, if it splits at another sign than the comma.
# The last four are the same signs in full width, which some take for them.
FORMULA = re.compile(r"""(^|[;,|\t\r\n])([\s"'\\]*)(?=[=+@\uff1d\uff0b\uff20\uff0d-])""")


def sheet(recording: Recording, units: str, timezone: tzinfo) -> str:
    """The table as text. Of each minute the last reading stands there, and all that happened."""
    text = io.StringIO()
    writer = csv.writer(text)
    degrees = f"°{units}"
    writer.writerow(
        [
            f"time ({timezone})",
            *(f"{role} {degrees}" for role in (Role.POT, Role.CORE, Role.AMBIENT)),
            "irradiance W/m²",
            "events",
        ]
    )
    for at, values, events in _minutes(recording.rows):
        cells = [_degrees(values.get(role), units) for role in (Role.POT, Role.CORE, Role.AMBIENT)]
        light = values.get(Role.IRRADIANCE)
        writer.writerow(
            [
                f"{at.astimezone(timezone):%Y-%m-%d %H:%M}",
                *cells,
                "" if light is None else f"{light:.0f}",
                _plain("; ".join(events)),
            ]
        )
    return text.getvalue()


def _minutes(rows: Sequence[Row]) -> Iterator[tuple[datetime, dict[Role, float], list[str]]]:
    at: datetime | None = None
    values: dict[Role, float] = {}
    events: list[str] = []
    for row in rows:
        minute = row.at.replace(second=0, microsecond=0)
        if at is not None and minute != at:
            yield at, values, events
            values, events = {}, []
        at = minute
        values |= row.values
        if row.event is not None:
            events.append(f"{row.event} {detail_text(row.detail)}".strip())
    if at is not None:
        yield at, values, events


def _degrees(temp_c: float | None, units: str) -> str:
    return "" if temp_c is None else f"{in_unit(temp_c, units):.1f}"


def _plain(text: str) -> str:
    """A text of which no spreadsheet takes any part for a formula."""
    return FORMULA.sub(r"\1\2'", text)
