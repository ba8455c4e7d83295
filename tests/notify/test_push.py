"""Push through apprise to real servers: what each failure is called, how long it may take."""

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest

from broker import DEADLINE_S, until
from certificates import make_certificates
from noonpot.clock import SystemClock
from noonpot.notify.push import PushNotifier, PushOptions
from noonpot.ports import Delivery, Health, Outcome
from receiver import BlackHole, Receiver, nowhere
from stations import ALERT

CLOCK = SystemClock()
HIDDEN = "geheim"


@contextmanager
def pushing(
    *addresses: str, limit_s: float = 30.0, health: Health | None = None
) -> Iterator[PushNotifier]:
    notifier = PushNotifier(PushOptions("garden", addresses, limit_s), health or Health())
    try:
        yield notifier
    finally:
        notifier.close()


def tell(*addresses: str, limit_s: float = 30.0) -> Delivery:
    with pushing(*addresses, limit_s=limit_s) as notifier:
        return notifier.tell(ALERT)


def test_an_alert_arrives_with_station_text_urgency_and_a_code_that_tells_doubles() -> None:
    with Receiver() as service:
        assert tell(service.address()) == Delivery(Outcome.SENT)
        (body,) = service.bodies
    assert body["title"] == "Noonpot garden"
    assert body["message"] == f"{ALERT.text} [{ALERT.id[:4]}]"
    assert body["type"] == "warning"


def test_each_failure_is_named_and_tried_again(tmp_path: Path) -> None:
    made = make_certificates(tmp_path / "certificates")
    with (
        Receiver(status=401) as closed,
        Receiver(status=429) as busy,
        Receiver(status=500) as broken,
        Receiver(certificate=(made.server, made.server_key)) as strange,
    ):
        failing = (closed, busy, broken)
        addresses = [service.address() for service in failing]
        delivery = tell(*addresses, strange.address("jsons"), nowhere())
        assert [len(service.messages) for service in (*failing, strange)] == [1, 1, 1, 0]
    assert delivery.outcome is Outcome.RETRY
    assert delivery.reason.split("; service ") == [
        "service 1 (json): it answers 401",
        "2 (json): it answers 429",
        "3 (json): it answers 500",
        "4 (jsons): its certificate is not trusted; check the clock of this machine",
        "5 (json): it cannot be reached; check the network",
    ]


def test_a_service_that_takes_longer_than_the_library_would_wait_is_waited_for() -> None:
    with Receiver(slow_s=4.2) as service:  # the library's own limit is 4.0 s
        assert tell(service.address()) == Delivery(Outcome.SENT)
        assert len(service.messages) == 1


def test_a_black_hole_holds_nobody_up_beyond_the_limit_and_leaves_no_process() -> None:
    health = Health()
    with BlackHole() as hole, pushing(hole.address(), limit_s=2.0, health=health) as notifier:
        begun_s = CLOCK.moment().mono_s
        delivery = notifier.tell(ALERT)
        took_s = CLOCK.moment().mono_s - begun_s
    assert delivery == Delivery(Outcome.UNSURE, "service 1 (json): no outcome within 2 s")
    assert 2.0 <= took_s < 2.0 + DEADLINE_S / 2
    assert health.counts == {"push-timeouts": 1}
    assert helpers() == []


def test_a_service_that_hangs_up_may_have_taken_the_message() -> None:
    with BlackHole() as hole:
        answers: list[Delivery] = []
        telling = threading.Thread(target=lambda: answers.append(tell(hole.address())))
        telling.start()
        hole.hang_up()
        telling.join(DEADLINE_S)
    assert answers == [Delivery(Outcome.UNSURE, "service 1 (json): it hangs up without an answer")]


def test_one_service_that_takes_it_is_enough_and_the_others_are_named(
    caplog: pytest.LogCaptureFixture,
) -> None:
    health = Health()
    with (
        Receiver() as good,
        Receiver(status=500) as bad,
        pushing(bad.address(), good.address(), health=health) as notifier,
    ):
        delivery = notifier.tell(ALERT)
    assert delivery == Delivery(Outcome.SENT, "service 1 (json): it answers 500")
    assert caplog.messages == ["push: service 1 (json): it answers 500"]
    assert health.counts == {"push-services-failed": 1}


def test_a_hanging_service_takes_nothing_from_a_good_one() -> None:
    answers: list[Delivery] = []
    with (
        BlackHole() as hole,
        Receiver() as good,
        pushing(hole.address(), good.address()) as notifier,
    ):
        telling = threading.Thread(target=lambda: answers.append(notifier.tell(ALERT)))
        telling.start()
        good.wait(lambda: len(good.messages) == 1, "the good one has it")
        hole.hang_up()
        telling.join(DEADLINE_S)
    assert answers == [Delivery(Outcome.SENT, "service 1 (json): it hangs up without an answer")]


def test_addresses_are_looked_at_without_sending_anything() -> None:
    with Receiver() as service, pushing(service.address(), "nosuch://geheim") as notifier:
        answers = notifier.ask()
        assert service.messages == []
    assert [(answer.outcome, answer.words) for answer in answers] == [
        ("sent", ""),
        ("failed", "its address is not understood"),
    ]


def test_closing_ends_an_attempt_at_once() -> None:
    answers: list[Delivery] = []
    with BlackHole() as hole, pushing(hole.address()) as notifier:
        telling = threading.Thread(target=lambda: answers.append(notifier.tell(ALERT)))
        telling.start()
        until(lambda: helpers() != [], "the helper runs")
        notifier.close()
        telling.join(DEADLINE_S)
        assert not telling.is_alive()
        assert notifier.tell(ALERT).outcome is Outcome.RETRY
    assert [answer.outcome for answer in answers] == [Outcome.UNSURE]


def test_no_secret_shows_in_words_logs_counts_or_the_list_of_processes(
    caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    health = Health()
    said: list[str] = []
    with (
        caplog.at_level(logging.DEBUG),
        BlackHole() as hole,
        Receiver(status=500) as bad,
        pushing(
            hole.address(), bad.address(), nowhere(), f"nosuch://{HIDDEN}", health=health
        ) as it,
    ):
        telling = threading.Thread(target=lambda: said.append(it.tell(ALERT).reason))
        telling.start()
        bad.wait(lambda: bool(bad.bodies), "the helper has the addresses")
        (helper,) = helpers()
        said += [*helper.cmdline(), *helper.environ().values(), repr(it), repr(it.__dict__)]
        hole.hang_up()
        telling.join(DEADLINE_S)
    assert "service 2 (json): it answers 500" in said[-1]
    everything = [*said, *caplog.messages, *health.counts, *capfd.readouterr()]
    assert [text for text in everything if HIDDEN in text] == []


def helpers() -> list[psutil.Process]:
    """The helper processes that run."""
    children = psutil.Process().children(recursive=True)
    return [child for child in children if "noonpot.notify.pushhelper" in child.cmdline()]
