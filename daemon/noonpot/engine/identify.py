"""Which probe is which: everything on the buses, and the one that somebody warms in a hand."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.ports import Bus, Clock, Signal

BASELINE_ROUNDS = 3
WARMED_BY_C = 1.0
AHEAD_BY_C = 0.5


@dataclass(frozen=True, slots=True)
class Seen:
    """One probe as it is now: where it answers, what it is, and its value or named fault."""

    bus: str
    address: str
    description: str
    outcome: Measured | Defect


@dataclass(frozen=True, slots=True)
class Warming:
    """One round of watching: how much warmer each probe is than at first [K], warmest first,
    and the one that was warmed, once that is clear.
    """

    rises: tuple[tuple[Seen, float], ...]
    warmed: Seen | None


def survey(buses: Mapping[str, Bus]) -> tuple[Seen, ...]:
    """Everything that answers on the buses, read once each."""
    return tuple(
        Seen(name, found.address, found.description, bus.read(found.address))
        for name, bus in buses.items()
        for found in bus.scan()
    )


def warm_one(
    buses: Mapping[str, Bus], clock: Clock, stop: Signal, pause_s: float = 1.0
) -> Iterator[Warming]:
    """Watch all thermometers until one is clearly being warmed, or ``stop`` is given.

    The first rounds are the baseline. The warmed probe is 1 K above its own and half a kelvin
    ahead of every other, so that sun on all of them names none. Yields every round, from the
    first: nobody should warm anything before rises are shown. Pauses ``pause_s`` [s] between.
    """
    first: dict[tuple[str, str], list[float]] = {}
    rounds = 0
    while not stop.is_set():
        seen = survey(buses)
        rounds += 1
        if rounds <= BASELINE_ROUNDS:
            for probe, value in _values(seen):
                first.setdefault((probe.bus, probe.address), []).append(value)
            yield Warming((), None)
        else:
            rises = _rises(seen, {key: median(values) for key, values in first.items()})
            warmed = _clear_leader(rises)
            yield Warming(rises, warmed)
            if warmed is not None:
                return
        clock.wait(stop, pause_s)


def _values(seen: Sequence[Seen]) -> Iterator[tuple[Seen, float]]:
    for probe in seen:
        outcome = probe.outcome
        if isinstance(outcome, Measured) and outcome.doubt is not FaultKind.POWER_ON_VALUE:
            yield probe, outcome.value


def _rises(
    seen: Sequence[Seen], baseline: Mapping[tuple[str, str], float]
) -> tuple[tuple[Seen, float], ...]:
    rises = [
        (probe, value - baseline[probe.bus, probe.address])
        for probe, value in _values(seen)
        if (probe.bus, probe.address) in baseline
    ]
    return tuple(sorted(rises, key=lambda rise: -rise[1]))


def _clear_leader(rises: Sequence[tuple[Seen, float]]) -> Seen | None:
    if not rises or rises[0][1] < WARMED_BY_C:
        return None
    others = [rise for _, rise in rises[1:]]
    return rises[0][0] if not others or rises[0][1] - max(others) >= AHEAD_BY_C else None
