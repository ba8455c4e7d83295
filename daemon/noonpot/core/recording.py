"""A cook as text: the recording format, read and written. One recording holds one cooker.

The header comes first, then the line of column names and the rows. An empty cell is no reading.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from noonpot.core.cook import EventKind
from noonpot.core.detail import MOST_SHOWN, detail_text, parse_detail, quoted
from noonpot.core.header import Header, header_lines, parse_header, parse_number
from noonpot.core.moment import iso, utc
from noonpot.core.names import meant
from noonpot.core.orders import LAST_YEAR
from noonpot.core.readings import Role
from noonpot.errors import RecordingError

VALUES = {
    Role.POT: "pot_c",
    Role.CORE: "core_c",
    Role.AMBIENT: "ambient_c",
    Role.IRRADIANCE: "irradiance_wm2",
}
COLUMNS = ("time", *VALUES.values(), "event", "detail")
EVENTS = (
    EventKind.AIM,
    EventKind.LOAD,
    EventKind.UNLOAD,
    EventKind.LID,
    EventKind.NOTE,
    EventKind.SPOT,
)
FIRST_YEAR = 1900  # no recording is older, and no sun has to be computed for one that says so
# The numbers that the detail of an event must tell, and those that it may.
NEEDED = {EventKind.AIM: ("azimuth", "elevation"), EventKind.SPOT: ("core_c",)}
OPTIONAL = {EventKind.LOAD: ("mass_kg", "start_c", "target_c")}


@dataclass(frozen=True, slots=True)
class Row:
    """What was measured at one moment [°C; W/m²], a missing role being no reading, or happened."""

    at: datetime
    values: Mapping[Role, float] = field(default_factory=dict)
    event: EventKind | None = None
    detail: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise ValueError(f"time {self.at.isoformat()} has no time zone; give it in UTC")
        if self.event is not None and self.event not in EVENTS:
            raise ValueError(f"event {self.event} is not recorded; {meant(self.event, EVENTS)}")


@dataclass(frozen=True, slots=True)
class Recording:
    """A header and rows in the order of time."""

    header: Header
    rows: Sequence[Row]


def parse_recording(text: str) -> Recording:
    """The recording written in this text.

    Raises RecordingError; its sentence names the line, the value and the cure.
    """
    lines = text.removeprefix("\ufeff").split("\n")
    body = next((i for i, line in enumerate(lines) if not line.startswith("#")), len(lines))
    header = parse_header(lines[:body])
    reader = csv.reader((line + "\n" for line in lines[body:]), strict=True)
    columns: list[str] = []
    rows: list[Row] = []
    try:
        for cells in reader:
            if not cells:  # a blank line
                continue
            if not columns:
                columns = _columns(cells)
                continue
            row = _row(columns, cells)
            if rows and row.at < rows[-1].at:
                raise ValueError(
                    f"time {iso(row.at)} is earlier than {iso(rows[-1].at)} above it; "
                    "put the rows in the order of time"
                )
            rows.append(row)
    except csv.Error as error:
        raise RecordingError(
            f"line {body + reader.line_num}: {error}; a cell that holds quotes stands in quotes, "
            'and each quote in it is written twice: ""'
        ) from None
    except ValueError as error:
        raise RecordingError(f"line {body + reader.line_num}: {error}") from None
    if not columns:
        raise RecordingError(
            f"line {body + 1}: the column names are missing; write {','.join(COLUMNS)}"
        )
    return Recording(header, rows)


def first_lines(header: Header) -> Iterator[str]:
    """All lines above the rows, without line ends."""
    yield from header_lines(header)
    yield ",".join(COLUMNS)


def row_line(row: Row) -> str:
    """One row as a line without line end; its time is written to the second.

    Raises ValueError for a detail that cannot be written, see ``detail_text``.
    """
    values = [str(row.values[role]) if role in row.values else "" for role in VALUES]
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow(
        [iso(row.at), *values, row.event or "", detail_text(row.detail)]
    )
    return line.getvalue()


def format_recording(recording: Recording) -> str:
    """The whole recording as text, which ``parse_recording`` reads back."""
    lines = [*first_lines(recording.header), *map(row_line, recording.rows)]
    return "\n".join(lines) + "\n"


def _columns(cells: Sequence[str]) -> list[str]:
    columns = [cell.strip() for cell in cells]
    for column in columns:
        if column not in COLUMNS:
            word = column[:MOST_SHOWN]
            raise ValueError(f"column {quoted(column)} is unknown; {meant(word, COLUMNS)}")
        if columns.count(column) > 1:
            raise ValueError(f"column {column} stands twice; keep one of the two")
    if "time" not in columns:
        raise ValueError(f"column time is missing among {', '.join(columns)}; add it")
    return columns


def _row(columns: Sequence[str], cells: Sequence[str]) -> Row:
    if len(cells) != len(columns):
        raise ValueError(
            f"has {len(cells)} cells for {len(columns)} columns; "
            "an empty cell keeps its comma, a cell with a comma in it stands in quotes"
        )
    cell = dict(zip(columns, (c.strip() for c in cells), strict=True))
    values = {
        role: parse_number(column, text, ", or leave the cell empty for no reading")
        for role, column in VALUES.items()
        if (text := cell.get(column, ""))
    }
    event = _event(cell.get("event", ""))
    return Row(_time(cell["time"]), values, event, _detail(event, cell.get("detail", "")))


def _time(text: str) -> datetime:
    try:
        at = utc(text)
    except ValueError:
        raise ValueError(
            f"time {quoted(text)} is not a time with its zone; write it like 2016-06-03T07:24:00Z"
        ) from None
    if not FIRST_YEAR <= at.year < LAST_YEAR:
        raise ValueError(
            f"time {quoted(text)} is not between the years {FIRST_YEAR} and {LAST_YEAR}; correct it"
        )
    return at


def _event(name: str) -> EventKind | None:
    if name and name not in EVENTS:
        raise ValueError(f"event {quoted(name)} is unknown; {meant(name[:MOST_SHOWN], EVENTS)}")
    return EventKind(name) if name else None


def _detail(event: EventKind | None, text: str) -> dict[str, str]:
    detail = parse_detail(text)
    if event is None and detail:
        raise ValueError(f"detail {quoted(text)} stands without an event; name the event before it")
    needed = NEEDED.get(event, ()) if event else ()
    for key in needed:
        if key not in detail:
            raise ValueError(f"{event} lacks {key}; write {key}= and a number in its detail")
    for key in (*needed, *(OPTIONAL.get(event, ()) if event else ())):
        if key in detail:
            parse_number(f"{key} of {event}", detail[key])
    return detail
