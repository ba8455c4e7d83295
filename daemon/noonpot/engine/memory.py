"""What is remembered of a cook that is under way, after a restart."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from noonpot.core.cook import Cook, Event
from noonpot.core.readings import Sample
from noonpot.ports import Past


@dataclass(frozen=True, slots=True)
class Memory:
    """What people did and what the probes of the cooker said, each in the order of time."""

    events: Sequence[Event] = ()
    samples: Sequence[Sample] = ()


def memory(past: Past, probes: Iterable[str], cook: Cook) -> Memory:
    """All that was kept of a cook since it began, and where the cooker pointed before."""
    samples = [s for probe in probes for s in past.samples_since(cook, probe)]
    return Memory(past.events_since(cook), sorted(samples, key=lambda sample: sample.at))
