"""What is remembered of a cook that is under way, after a restart."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from noonpot.core.cook import Cook, Event
from noonpot.core.moment import Moment
from noonpot.core.readings import Sample
from noonpot.ports import Past


@dataclass(frozen=True, slots=True)
class Memory:
    """What people did and what the probes of the cooker said, each in the order of time."""

    events: Sequence[Event] = ()
    samples: Sequence[Sample] = ()

    def moved(self, shift: timedelta) -> "Memory":
        """The same as a clock would tell it that is ahead by so much."""
        return Memory(
            events=[replace(event, at=event.at + shift) for event in self.events],
            samples=[replace(sample, at=sample.at + shift) for sample in self.samples],
        )


def memory(past: Past, probes: Iterable[str], cook: Cook, now: Moment) -> Memory:
    """All that was kept of a cook since it began, and where the cooker pointed before."""
    begun = cook.started_at
    samples = [s for probe in probes for s in past.samples_of(probe, begun, now.at)]
    events = list(past.events_of(cook.cooker, begun, now.at))
    aim = past.aim_before(cook.cooker, begun)
    return Memory(
        events=events if aim is None else [aim, *events],
        samples=sorted(samples, key=lambda sample: sample.at),
    )
