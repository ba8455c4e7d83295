"""What a broker has acknowledged and may still lose."""

from noonpot.notify.doubt import DOUBT_S, Doubt, Sent


def sent(name: str, acknowledged_s: float, until_s: float = 10_000) -> Sent:
    return Sent("noonpot/garden/alert", name.encode(), acknowledged_s, until_s)


def bodies(messages: list[Sent]) -> list[bytes]:
    return [message.body for message in messages]


def test_what_was_acknowledged_shortly_before_a_break_is_sent_again_in_order() -> None:
    doubt = Doubt()
    for name, at_s in (("old", 0), ("first", 1), ("second", 20)):
        doubt.add(sent(name, at_s))
    doubt.broken(1 + DOUBT_S)
    assert bodies(doubt.again(5000)) == [b"first", b"second"]


def test_the_time_the_broker_was_away_does_not_count() -> None:
    doubt = Doubt()
    doubt.add(sent("first", 0))
    doubt.broken(10)
    assert bodies(doubt.again(9_999)) == [b"first"]


def test_what_was_sent_again_is_in_doubt_until_it_has_had_its_time() -> None:
    doubt = Doubt()
    doubt.add(sent("first", 0))
    doubt.broken(10)
    doubt.again(1000)
    doubt.broken(1000 + DOUBT_S)
    assert bodies(doubt.again(2000)) == [b"first"]
    doubt.broken(2001 + DOUBT_S)
    assert doubt.again(3000) == []


def test_what_has_expired_meanwhile_is_not_sent_again() -> None:
    doubt = Doubt()
    doubt.add(sent("stale", 0, until_s=100))
    doubt.add(sent("fresh", 0, until_s=101))
    doubt.broken(10)
    assert bodies(doubt.again(100)) == [b"fresh"]


def test_a_long_quiet_life_leaves_nothing_behind() -> None:
    doubt = Doubt()
    for second in range(1000):
        doubt.add(sent("x", second))
    assert len(doubt.again(1000)) == DOUBT_S + 1
