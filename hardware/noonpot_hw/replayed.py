"""A recording as a bus: its readings come back in the time of the given clock."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from pathlib import Path

from noonpot.core.cook import Event
from noonpot.core.names import meant
from noonpot.core.readings import Defect, FaultKind, Measured, Role
from noonpot.core.recording import VALUES, Recording, parse_recording
from noonpot.errors import BusError, RecordingError
from noonpot.ports import Bus, Clock, Found, Surroundings

HOLD_S = 900.0
"""A reading holds until the next row, but no longer than this: a gap is a gap [s]."""

NO_VALUE = Defect(FaultKind.NOT_ANSWERING, "no value in the recording")
GAP = Defect(FaultKind.NOT_ANSWERING, "a gap in the recording")
ENDED = Defect(FaultKind.NOT_ANSWERING, "the recording has ended")


class ReplayedBus:
    """The probes of a recording: ``pot``, ``core``, ``ambient`` and ``irradiance``.

    The time of its first row is the moment of opening.
    """

    def __init__(self, recording: Recording, cooker: str, clock: Clock) -> None:
        self._cooker = cooker
        self._clock = clock
        self._opened_s = clock.moment().mono_s
        # A row that tells only an event says nothing of the probes.
        self._rows = [row for row in recording.rows if row.values or row.event is None]
        start = recording.rows[0].at
        self._offsets_s = [(row.at - start).total_seconds() for row in self._rows]
        self._recorded = {role for row in self._rows for role in row.values}

    def scan(self) -> Sequence[Found]:
        """The columns of the recording that hold a value anywhere."""
        return [
            Found(role, f"{role} of {self._cooker}, replayed")
            for role in VALUES
            if role in self._recorded
        ]

    def read(self, address: str) -> Measured | Defect:
        """What the probe showed so long after the first row [°C; W/m²]."""
        if address not in VALUES:
            return Defect(
                FaultKind.NOT_ANSWERING,
                f"there is no {address!r} in a recording; {meant(address, VALUES)}",
            )
        elapsed_s = self._clock.moment().mono_s - self._opened_s
        index = bisect_right(self._offsets_s, elapsed_s) - 1
        if index < 0:
            return NO_VALUE
        if elapsed_s > self._offsets_s[-1]:
            return ENDED
        if elapsed_s > self._offsets_s[index] + HOLD_S:
            return GAP
        value = self._rows[index].values.get(Role(address))
        return NO_VALUE if value is None else Measured(value)

    def notice(self, event: Event) -> None:
        """The past takes no notice."""

    def close(self) -> None:
        """The file was closed when it had been read."""


def open_bus(options: Mapping[str, object], surroundings: Surroundings) -> Bus:
    """The bus behind a ``[[bus]]`` section with ``driver = "replayed"``.

    Options: ``file``, the path of a recording, and ``cooker``, what to call its cooker here, by
    default its own name. Raises BusError for a wrong option or an unusable recording.
    """
    known = ("file", "cooker")
    for key in options:
        if key not in known:
            raise BusError(f"replayed: option {key!r} is unknown; {meant(key, known)}")
    file, cooker = options.get("file"), options.get("cooker", "")
    if not isinstance(file, str) or not file:
        raise BusError(f"replayed: file is {file!r}; give the path of a recording")
    if not isinstance(cooker, str):
        raise BusError(f"replayed: cooker is {cooker!r}; give a name in quotes")
    recording = _recording(file)
    return ReplayedBus(recording, cooker or recording.header.cooker, surroundings.clock)


def _recording(file: str) -> Recording:
    try:
        recording = parse_recording(Path(file).read_text(encoding="utf-8"))
    except OSError as error:
        raise BusError(
            f"replayed: cannot read file {file}: {error.strerror}; check the path and its rights"
        ) from None
    except UnicodeDecodeError:
        raise BusError(f"replayed: file {file} is not UTF-8 text; save it as UTF-8") from None
    except RecordingError as error:
        raise BusError(f"replayed: file {file}, {error}") from None
    except ValueError:
        raise BusError(f"replayed: file {file!r} is no file name; give a path") from None
    if not any(row.values for row in recording.rows):
        raise BusError(f"replayed: file {file} holds no reading at all; give another recording")
    return recording
