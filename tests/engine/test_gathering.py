"""When alerts are told, and which together."""

import random
from datetime import timedelta
from itertools import pairwise

import pytest

from fakes import FakeClock
from noonpot.core.alert import Alert, Priority, together
from noonpot.engine.gathering import LAST_CALL_S, Gathering, Pace

PACE = Pace(gather_s=10, spacing_s=600, most=3)
NOON = FakeClock().moment().at


def alert(name: str, priority: Priority = Priority.MEDIUM, minutes: float = 30) -> Alert:
    expires = NOON + timedelta(minutes=minutes)
    return Alert(name, NOON, expires, "box", "turn", "unacknowledged", priority, f"text {name}")


def names(parcel: object) -> list[str]:
    assert isinstance(parcel, list | tuple)
    return [one.id for one in parcel]


def test_what_is_due_within_the_gathering_time_is_told_together() -> None:
    clock, gathering = FakeClock(NOON), Gathering(PACE)
    assert gathering.parcel([alert("a")], clock.moment()) == ((), 10)
    clock.advance(9)
    assert gathering.parcel([alert("a"), alert("b")], clock.moment()) == ((), 1)
    clock.advance(1)
    parcel, wait_s = gathering.parcel([alert("a"), alert("b")], clock.moment())
    assert (names(parcel), wait_s) == (["a", "b"], 0)


def test_an_urgent_alert_goes_at_once_and_takes_the_others_along() -> None:
    clock, gathering = FakeClock(NOON), Gathering(PACE)
    gathering.told(clock.moment())
    waiting = [alert("a"), alert("b"), alert("c"), alert("d"), alert("u", Priority.URGENT)]
    parcel, _ = gathering.parcel(waiting, clock.moment())
    assert names(parcel) == ["a", "b", "u"]


@pytest.mark.parametrize(
    ("priority", "wait_s"),
    [(Priority.LOW, 600), (Priority.MEDIUM, 600), (Priority.HIGH, 10), (Priority.URGENT, 0)],
)
def test_only_what_may_wait_is_spaced(priority: Priority, wait_s: float) -> None:
    clock, gathering = FakeClock(NOON), Gathering(PACE)
    gathering.told(clock.moment())
    parcel, waits_s = gathering.parcel([alert("a", priority)], clock.moment())
    assert waits_s == wait_s
    assert bool(parcel) == (wait_s == 0)


def test_spacing_lets_no_alert_expire() -> None:
    clock, gathering = FakeClock(NOON), Gathering(PACE)
    gathering.told(clock.moment())
    _, wait_s = gathering.parcel([alert("a", minutes=5)], clock.moment())
    assert wait_s == 5 * 60 - LAST_CALL_S


def test_a_clock_that_is_not_set_neither_hurries_nor_delays() -> None:
    clock, gathering = FakeClock(NOON), Gathering(PACE)
    gathering.told(clock.moment())
    clock.trust(False)
    for step_s in (86_400, -10 * 86_400):
        clock.step_wall(step_s)
        assert gathering.parcel([alert("a")], clock.moment()) == ((), 600)


def test_at_a_steady_stream_messages_keep_their_distance_and_lose_nothing() -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance, clock, gathering = random.Random(seed), FakeClock(NOON), Gathering(PACE)
    waiting: list[Alert] = []
    told: list[tuple[float, list[str]]] = []
    for number in range(200):
        waiting.append(alert(f"{number:03}", minutes=10_000))
        until_s = clock.moment().mono_s + chance.uniform(0, 400)
        while clock.moment().mono_s < until_s:
            parcel, wait_s = gathering.parcel(waiting, clock.moment())
            if parcel:
                told.append((clock.moment().mono_s, names(parcel)))
                gathering.told(clock.moment())
                waiting = [one for one in waiting if one not in parcel]
            clock.advance(min(wait_s, 60) if wait_s else 1)
    whole = [name for _, parcel in told for name in parcel]
    assert whole == sorted(set(whole))
    assert len(whole) + len(waiting) == 200
    gaps = [b - a for (a, _), (b, _) in pairwise(told)]
    assert min(gaps) >= PACE.spacing_s
    assert max(len(parcel) for _, parcel in told) <= PACE.most


def test_a_message_of_several_puts_the_most_urgent_first_and_keeps_the_oldest_id() -> None:
    whole = together([alert("a"), alert("b", Priority.HIGH), alert("c")])
    assert whole.text == "3 things:\n- text b\n- text a\n- text c"
    assert (whole.id, whole.priority) == ("a", Priority.HIGH)
    assert together([alert("a")]) == alert("a")
    with pytest.raises(ValueError, match="no alert"):
        together([])
