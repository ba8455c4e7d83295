"""The lines of many stations as text for a terminal."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from noonpot.core.rules.prospects import percent
from noonpot.core.sighting import Chance, Stand
from noonpot.core.stationline import Line, State
from noonpot.core.wording import Wording

HEAD = ("station", "cooker", "state", "cooks", "pot", "core", "chance", "done about", "waits")
NOT_KNOWN = "-"
MOST_SENTENCES = 20
NEAR = timedelta(hours=12)


def report(found: Sequence[Line], now: datetime, wording: Wording) -> Iterator[tuple[str, bool]]:
    """A table with a line for each, and what their alarms say. With each text comes whether it is
    old; what is not of now also stands in brackets, with its age.
    """
    yield f"{summary(found)}. At {wording.clock(now)}.", False
    if found:
        rows = [HEAD, *(_cells(line, now, wording) for line in found)]
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        yield "", False
        for row, line in zip(rows, [None, *found], strict=True):
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
            yield "  ".join(cells).rstrip(), line is not None and not line.live
    told = [(line, one) for line in found for one in line.alarms]
    if told:
        yield "", False
    for line, one in told[:MOST_SENTENCES]:
        since = _time(one.said.since, now, wording)
        old = "" if line.live else ", not of now"
        told_of = f"{line.key} {one.alarm} ({one.said.priority}, since {since}{old})"
        yield f"{told_of}: {one.said.text}", not line.live
    if len(told) > MOST_SENTENCES:
        yield f"and {len(told) - MOST_SENTENCES} more", False


def news(line: Line, now: datetime, wording: Wording) -> str:
    """One line by itself, when something has changed in it."""
    _, _, state, *cells = _cells(line, now, wording)
    names = ("", "pot ", "core ", "chance ", "done about ", "waits: ")
    parts = [f"{name}{cell}" for name, cell in zip(names, cells, strict=True) if cell != NOT_KNOWN]
    return f"{wording.clock(now)} {line.key} {state}" + (": " if parts else "") + ", ".join(parts)


def summary(found: Sequence[Line]) -> str:
    """How many there are, and how they stand.

    >>> summary([])
    'no station'
    """
    stations = {line.station: line for line in found}
    cookers = sum(bool(line.cooker) for line in found)
    if not stations:
        return "no station"
    parts = [f"{_many(len(stations), 'station')}, {_many(cookers, 'cooker')}"]
    counts = [
        (len({line.station for line in found if line.state is state}), state)
        for state in (State.OFFLINE, State.SILENT, State.UNKNOWN)
    ]
    parts += [f"{count:,} {state}" for count, state in counts if count]
    waiting = sum(len(line.alarms) for line in found)
    parts.append(f"{_many(waiting, 'alarm')} {'waits' if waiting == 1 else 'wait'} for an answer")
    return "; ".join(parts)


def state_key(line: Line) -> tuple[object, ...]:
    """What must differ for a line to be told again; a temperature that moves is no news."""
    stand = line.stand
    cook = None if stand is None else (stand.cooking, stand.food, stand.loaded_at, stand.emptied)
    alarms = tuple((one.alarm, one.said.state) for one in line.alarms)
    return (line.state, cook, alarms, line.answered, line.problems)


def _cells(line: Line, now: datetime, wording: Wording) -> tuple[str, ...]:
    stand, chance = line.stand, line.chance
    values = [
        _temperature(stand.pot_c if stand else None, wording),
        _temperature(stand.core_c if stand else None, wording),
        percent(chance.p_done) if chance else NOT_KNOWN,
        _done(chance, now, wording),
    ]
    if not line.live:
        values = [f"({value})" if value != NOT_KNOWN else value for value in values]
    return (
        line.station,
        line.cooker or NOT_KNOWN,
        _state(line, now, wording),
        _cook(stand),
        *values,
        _waits(line),
    )


def _state(line: Line, now: datetime, wording: Wording) -> str:
    """Whether it can be heard, since when, and how old the numbers are if they are not of now."""
    since = "" if line.since is None else f" since {_time(line.since, now, wording)}"
    if line.live:
        return f"{line.state}{since}"
    age = "" if line.as_of is None else f", {span((now - line.as_of).total_seconds())} old"
    was = "was " if line.state is State.ONLINE else ""
    return f"{was}{line.state}{since}{age}"


def _cook(stand: Stand | None) -> str:
    if stand is None or not stand.cooking:
        return NOT_KNOWN
    food = stand.food or "food"
    if stand.emptied:
        return f"{food}, taken out"
    if stand.loaded_at is None:
        return f"{food}, not in yet"
    return food if stand.mass_kg is None else f"{food} {stand.mass_kg:g} kg"


def _waits(line: Line) -> str:
    parts = [f"{one.alarm} ({one.said.priority})" for one in line.alarms]
    parts += [f"{line.answered} answered"] if line.answered else []
    parts += [*line.problems]
    return ", ".join(parts) or NOT_KNOWN


def _done(chance: Chance | None, now: datetime, wording: Wording) -> str:
    if chance is None or chance.done_p50 is None:
        return NOT_KNOWN
    return _time(chance.done_p50, now, wording)


def span(seconds: float) -> str:
    """How long, in one unit.

    >>> span(40), span(720), span(7300), span(200_000)
    ('40 s', '12 min', '2 h', '2 days')
    """
    if seconds < 0:
        return "an unknown time"
    for size_s, unit, most in ((1, "s", 90), (60, "min", 90), (3600, "h", 36)):
        if seconds / size_s < most:
            return f"{seconds / size_s:.0f} {unit}"
    return f"{seconds / 86_400:.0f} days"


def _time(at: datetime, now: datetime, wording: Wording) -> str:
    """The time of day, with its day when that may be another one."""
    return wording.clock(at) if abs(at - now) < NEAR else wording.day_and_clock(at)


def _temperature(temp_c: float | None, wording: Wording) -> str:
    return NOT_KNOWN if temp_c is None else wording.temperature(temp_c)


def _many(count: int, thing: str) -> str:
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def ignored(counts: Mapping[str, int]) -> str:
    """What was heard and not shown, as a sentence; "" when there was nothing of the kind.

    >>> ignored({"heard": 9, "shown": 7, "malformed": 2})
    '2 messages ignored: 2 malformed'
    """
    left = {name: counts.get(name, 0) for name in ("malformed", "oversized", "strange", "crowded")}
    total = sum(left.values())
    if not total:
        return ""
    kinds = ", ".join(f"{count:,} {name}" for name, count in left.items() if count)
    return f"{_many(total, 'message')} ignored: {kinds}"
