"""A cook out of the store, as a recording."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.header import Header
from noonpot.core.moment import iso
from noonpot.core.readings import Role
from noonpot.core.recording import EVENTS, Recording, Row
from noonpot.core.station import Station
from noonpot.errors import CookError
from noonpot.store.reader import Reader
from noonpot.store.samples import Value

# The probes of a round are read within this time, though maybe not in one second. [s]
ROUND_S = 1.0
# What a start tells of the food holds for a load that does not.
GIVEN_AT_START = ("food", "target_c")


def export(reader: Reader, cook_id: int, station: Station, now: datetime) -> Recording:
    """The recording of one cook, of a running one until ``now``.

    The readings of a round make one row. Of several core probes the coldest counts; of others that
    measure the same, the cooker's own before a shared one. The recording begins with where the
    cooker pointed at the start, when that is known. Should only roll-ups be left of some of its
    time, which does not happen by itself, the header says so: ``rolled_up: FROM/UNTIL …``.

    Raises CookError when there is no such cook.
    """
    cook = next((cook for cook in reader.cooks() if cook.id == cook_id), None)
    if cook is None:
        raise CookError(f"there is no cook {cook_id}; 'noonpot cook list' shows them all")
    until = cook.stopped_at or now
    told = reader.events_of(cook.cooker, cook.started_at, until)
    rows = [
        *_aim_at_start(reader, cook, told),
        *_event_rows(told),
        *_value_rows(reader.values_of(cook.cooker, cook.started_at, until)),
    ]
    header = _header(cook, station)
    rolled = reader.rolled_up(cook.cooker, cook.started_at, until)
    if rolled:
        told_of = " ".join(f"{iso(begun)}/{iso(ended)}" for begun, ended in rolled)
        header = replace(header, others={"rolled_up": told_of})
    return Recording(header, sorted(rows, key=lambda row: row.at))


def _header(cook: Cook, station: Station) -> Header:
    spec = next((spec for spec in station.cookers if spec.name == cook.cooker), None)
    if spec is None:  # the cooker is no longer in the configuration
        return Header(station.place, cook.cooker)
    return Header(station.place, cook.cooker, spec.aperture_m2, spec.acceptance_deg)


def _aim_at_start(reader: Reader, cook: Cook, told: Sequence[Event]) -> Iterator[Row]:
    aim = reader.aim_before(cook.cooker, cook.started_at)
    aimed = any(e.kind is EventKind.AIM and e.at == cook.started_at for e in told)
    if aim is not None and not aimed:
        yield Row(cook.started_at, event=EventKind.AIM, detail=aim.detail)


def _event_rows(told: Sequence[Event]) -> Iterator[Row]:
    given: Mapping[str, str] = {}
    for event in told:
        if event.kind is EventKind.START:
            given = {key: event.detail[key] for key in GIVEN_AT_START if key in event.detail}
        if event.kind in EVENTS:
            more = given if event.kind is EventKind.LOAD else {}
            yield Row(event.at, event=event.kind, detail={**more, **event.detail})


def _value_rows(values: Sequence[Value]) -> Iterator[Row]:
    round_: dict[int, Value] = {}
    for value in values:
        first = next(iter(round_.values()), value)
        late = (value.at - first.at).total_seconds() > ROUND_S
        if late or value.series in round_:
            yield _row(list(round_.values()))
            round_ = {}
        round_[value.series] = value
    if round_:
        yield _row(list(round_.values()))


def _row(values: Sequence[Value]) -> Row:
    by_role: dict[Role, float] = {}
    for value in sorted(values, key=lambda value: (value.shared, value.series)):
        by_role.setdefault(value.role, value.value)
    cores = [value.value for value in values if value.role is Role.CORE]
    if cores:
        by_role[Role.CORE] = min(cores)
    return Row(values[0].at, by_role)
