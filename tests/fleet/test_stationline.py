"""What is shown as of now is of now, and the worst comes first."""

import re
from datetime import timedelta

from fakes import FakeClock
from fleet.play import AT, alarm, body, facts, forecast, garden, idle, status
from noonpot.core.advice import Advice
from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.payloads import Payload, forecast_payload, health_payload, now_payload
from noonpot.core.stationline import FRESH_S, Line, State
from noonpot.core.stationwords import ignored, news, report
from noonpot.core.wording import Wording
from noonpot.fleet.board import MOST_ALARMS, Board

NOW = Moment(AT, 0.0)


def board(clock: FakeClock, *changes: tuple[str, Payload], stored: bool = False) -> Board:
    """A board that has heard the garden, and then this."""
    heard = Board(clock)
    for topic, payload in [*garden().items(), *changes]:
        heard.hear(topic, body(payload), stored)
    return heard


def only(heard: Board, *, connected: bool = True) -> Line:
    (line,) = heard.lines(connected=connected)
    return line


def text(heard: Board, clock: FakeClock) -> str:
    now = clock.moment().at
    return "\n".join(line for line, _ in report(heard.lines(connected=True), now, Wording()))


def columns(row: str) -> list[str]:
    return re.split(" {2,}", row)


def test_a_cooker_that_is_heard_now_is_live_with_all_its_numbers() -> None:
    clock = FakeClock(AT)
    head, _, names, row, _, said = text(board(clock), clock).splitlines()
    assert head == "1 station, 1 cooker; 1 alarm waits for an answer. At 11:30."
    assert dict(zip(columns(names), columns(row), strict=True)) == {
        "station": "garden",
        "cooker": "box",
        "state": "online since 10:30",
        "cooks": "bread 0.6 kg",
        "pot": "124 °C",
        "core": "72 °C",
        "chance": "93 %",
        "done about": "12:22",
        "waits": "done (high)",
    }
    assert said == (
        "garden/box done (high, since 11:30): box: bread is done. Take it out with gloves."
    )


def test_numbers_in_store_are_live_only_while_they_are_young() -> None:
    clock = FakeClock(AT)
    heard = board(clock, stored=True)
    assert only(heard).live
    clock.advance(FRESH_S + 1)
    assert only(heard).state is State.SILENT
    assert not only(heard).live
    clock.advance(7200 - FRESH_S - 1)
    assert "silent since 11:30, 2 h old" in text(heard, clock)
    assert "(124 °C)  (72 °C)  (93 %)" in text(heard, clock)


def test_a_station_whose_clock_is_not_set_is_live_by_what_was_heard_and_never_by_the_store() -> (
    None
):
    clock = FakeClock(AT)
    guess = AT - timedelta(days=400)
    payload = now_payload("garden", facts(at=guess), Moment(guess, 0.0, False), Advice("Wait."))
    stored = Board(clock)
    for topic, told in (("status", status()), ("box/now", payload)):
        stored.hear(f"noonpot/garden/{topic}", body(told), True)
    assert not only(stored).live
    stored.hear("noonpot/garden/box/now", body(payload), False)
    assert only(stored).live
    clock.advance(FRESH_S + 1)
    assert not only(stored).live


def test_a_message_in_store_from_a_time_to_come_is_not_taken_for_now() -> None:
    clock = FakeClock(AT - timedelta(hours=1))
    assert not only(board(clock, stored=True)).live


def test_a_goodbye_says_since_when_and_a_last_will_that_was_heard_too() -> None:
    clock = FakeClock(AT)
    heard = board(clock)
    clock.advance(600)
    heard.hear("noonpot/garden/status", body(status(online=False, last_will=True)), False)
    line = only(heard)
    assert (line.state, line.live) == (State.OFFLINE, False)
    assert line.since == AT + timedelta(minutes=10)
    goodbye = status(online=False, at=AT + timedelta(minutes=3))
    heard.hear("noonpot/garden/status", body(goodbye), True)
    assert only(heard).since == AT + timedelta(minutes=3)


def test_a_last_will_in_store_tells_the_last_word_and_not_when_the_line_was_opened() -> None:
    clock = FakeClock(AT + timedelta(hours=3))
    will = status(online=False, last_will=True, at=AT - timedelta(days=9))
    assert only(board(clock, ("noonpot/garden/status", will), stored=True)).since == AT


def test_without_a_broker_nothing_is_of_now() -> None:
    assert not only(board(FakeClock(AT)), connected=False).live


def test_a_forecast_is_shown_for_the_load_that_is_in_the_pot_and_no_other() -> None:
    clock = FakeClock(AT)
    older = forecast_payload("garden", "box", forecast(AT - timedelta(hours=5)))
    assert only(board(clock, ("noonpot/garden/box/forecast", older))).chance is None
    empty = now_payload("garden", idle(), NOW, Advice("Nothing cooks here."))
    assert only(board(clock, ("noonpot/garden/box/now", empty))).chance is None


def played(heard: Board, station: str, *told: tuple[str, Payload]) -> None:
    for end, payload in told:
        renamed = {**payload, "station": station}
        heard.hear(f"noonpot/{station}/{end}", body(renamed), False)


def test_the_worst_comes_first() -> None:
    heard = Board(FakeClock(AT))
    cooking = now_payload("garden", facts(), NOW, Advice("Wait."))
    empty = now_payload("garden", idle(), NOW, Advice("Nothing cooks here."))
    gone = status(online=False, last_will=True)
    loud = {p: alarm(priority=p) for p in Priority}
    known = alarm(state=AlarmState.ACKNOWLEDGED)
    played(heard, "a-idle", ("status", status()), ("box/now", empty))
    played(heard, "b-cooks", ("status", status()), ("box/now", cooking))
    played(heard, "c-known", ("status", status()), ("box/now", cooking), ("box/alarm/done", known))
    played(heard, "d-gone-empty", ("status", gone), ("box/now", empty))
    played(heard, "e-gone-food", ("status", gone), ("box/now", cooking))
    for priority, payload in loud.items():
        told = (("status", status()), ("box/now", cooking), ("box/alarm/done", payload))
        played(heard, f"f-{priority}", *told)
    assert [line.station for line in heard.lines(connected=True)] == [
        "f-urgent",
        "e-gone-food",
        "f-high",
        "f-medium",
        "d-gone-empty",
        "f-low",
        "c-known",
        "b-cooks",
        "a-idle",
    ]


def test_a_station_has_a_line_of_its_own_when_it_has_something_to_say() -> None:
    clock = FakeClock(AT)
    deaf = health_payload("garden", NOW, 9, {"mqtt": "", "push": "cannot be reached"}, {})
    own = alarm("station", "power", text="station garden: its power supply is too weak.")
    heard = board(clock, ("noonpot/garden/health", deaf))
    assert [line.key for line in heard.lines(connected=True)] == ["garden/box", "garden/station"]
    heard.hear("noonpot/garden/station/alarm/power", body(own), False)
    assert "push: cannot be reached" in text(heard, clock)
    assert "garden/station power (high" in text(heard, clock)


def test_what_the_broker_forgets_is_forgotten() -> None:
    heard = board(FakeClock(AT))
    heard.hear("noonpot/garden/box/alarm/done", b"", False)
    assert only(heard).alarms == ()
    for topic in garden():
        heard.hear(topic, b"", False)
    assert heard.lines(connected=True) == []
    assert heard.counts == {"heard": 11, "shown": 5, "cleared": 6}


def test_a_flood_of_stations_cookers_and_alarms_fills_no_memory() -> None:
    clock = FakeClock(AT)
    heard = Board(clock, most=50)
    for topic, payload in garden().items():
        heard.hear(topic, body(payload), False)
    for number in range(500):
        played(heard, f"fake-{number}", ("status", status()))
        cooker = {**alarm(), "cooker": f"fake-{number}"}
        heard.hear(f"noonpot/garden/fake-{number}/alarm/done", body(cooker), False)
        name = {**alarm(), "alarm": f"fake-{number}"}
        heard.hear(f"noonpot/garden/box/alarm/fake-{number}", body(name), False)
    heard.hear("noonpot/garden/box/now", b"x" * 70_000, False)
    heard.hear("noonpot/garden/box/now", b"{}", False)
    heard.hear("noonpot/garden/box/do/load", b"{}", False)
    found = heard.lines(connected=True)
    assert len(found) <= 50
    assert max(len(line.alarms) for line in found) == MOST_ALARMS
    assert any(line.key == "garden/box" and line.live for line in found)
    counts = heard.counts
    assert counts["heard"] == sum(count for name, count in counts.items() if name != "heard")
    assert counts["crowded"] > 1400
    assert ignored(counts).startswith(f"{1508 - counts['shown']:,} messages ignored: 1 malformed")
    later = now_payload("garden", facts(pot_c=101.0), NOW, Advice("Wait."))
    heard.hear("noonpot/garden/box/now", body(later), False)
    line = next(one for one in heard.lines(connected=True) if one.key == "garden/box")
    assert line.stand is not None
    assert line.stand.pot_c == 101.0


def test_one_line_of_news_says_what_is_known_and_nothing_else() -> None:
    clock = FakeClock(AT)
    assert news(only(board(clock)), AT, Wording()) == (
        "11:30 garden/box online since 10:30: bread 0.6 kg, pot 124 °C, core 72 °C, chance 93 %, "
        "done about 12:22, waits: done (high)"
    )
