"""One simulated cook as a station would have exported it, beside the truth."""

from dataclasses import dataclass

from bench.measured import MeasuredDay
from noonpot.core.recording import Recording


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A cook with its recording, in Unix seconds. ``kind`` is the kind of cooker; ``sensor`` says
    whether the light was measured.

    The core reaches its target at ``done_s``, None for never; ``lost_s`` is when the sun is lost;
    nobody asks after ``until_s``.
    """

    kind: str
    food: str
    wet: bool
    day: MeasuredDay
    sensor: bool
    recording: Recording
    target_c: float
    load_s: float
    until_s: float
    lost_s: float
    done_s: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Exam:
    """A cook to ask about, and others of the same cooker from other days to learn from before."""

    trial: Trial
    past: tuple[Trial, ...] = ()
