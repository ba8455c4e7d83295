"""Stand-ins that tests steer by hand: a clock, and a messenger that remembers."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from noonpot.core.alert import Alert
from noonpot.core.moment import Moment
from noonpot.ports import Delivery, Outcome, Signal


class FakeClock:
    """A clock that moves only when told to."""

    def __init__(
        self, at: datetime = datetime(2026, 6, 3, 7, 0, tzinfo=UTC), mono_s: float = 1000.0
    ) -> None:
        self._moment = Moment(at, mono_s)
        self.boot_id = "boot-1"

    def moment(self) -> Moment:
        return self._moment

    def advance(self, seconds: float) -> Moment:
        now = self._moment
        self._moment = replace(
            now, at=now.at + timedelta(seconds=seconds), mono_s=now.mono_s + seconds
        )
        return self._moment

    def step_wall(self, seconds: float) -> None:
        """The wall clock jumps, the monotonic clock does not."""
        self._moment = replace(self._moment, at=self._moment.at + timedelta(seconds=seconds))

    def trust(self, trusted: bool) -> None:
        self._moment = replace(self._moment, trusted=trusted)

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        """Returns at once, the time waited for gone by."""
        if signal.is_set():
            return True
        self.advance(timeout_s)
        return False


class RecordingNotifier:
    """Keeps all it is asked to tell; ``answers`` are given first, then everything is sent."""

    channel = "recording"

    def __init__(self, *answers: Delivery) -> None:
        self.answers = list(answers)
        self.told: list[Alert] = []
        self.shown: dict[str, Mapping[str, object]] = {}

    def tell(self, alert: Alert) -> Delivery:
        answer = self.answers.pop(0) if self.answers else Delivery(Outcome.SENT)
        if answer.outcome is Outcome.SENT:
            self.told.append(alert)
        return answer

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        self.shown[topic] = payload

    def close(self) -> None:
        pass
