"""The whole daemon on a card that is full, and on one that turns read-only: alarms go on."""

import signal
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import pairwise
from pathlib import Path

import pytest

from broker import Broker, Phone
from e2e.orchard import CLOCK, POLL_S
from endurance.extent import FULL, Tell
from endurance.mounting import Card, NoMountError, fill, memory_card, unmountable, wearing_card
from faults.field import COOKERS, COOL_C, HOT_C, Field, heard
from noonpot.errors import StoreUnwritableError
from noonpot.store.mending import sound

MEMORY_BYTES, CARD_BYTES = 24_000_000, 24_000_000
RECOVERY_S = 60.0
FULL_S = 30.0
TELLING = "[alarm.storage]\non_delay_s = 1\noff_delay_s = 1\n"

pytestmark = [
    pytest.mark.skipif(not FULL, reason="takes a minute: NOONPOT_ENDURANCE=full"),
    pytest.mark.skipif(bool(unmountable()), reason=unmountable()),
]


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


def at_work(stack: ExitStack, folder: Path) -> tuple[Field, Phone]:
    """The daemon cooking in four pots, and a phone that hears it."""
    broker = stack.enter_context(Broker(folder / "broker"))
    field = Field(folder, broker.port)
    field.file.write_text(field.file.read_text() + TELLING)
    stack.callback(field.end, signal.SIGKILL)
    phone = stack.enter_context(Phone(broker.port, "noonpot/#"))
    field.start()
    field.cook()
    return field, phone


def told(phone: Phone, alarm: str, words: str = "") -> int:
    """How many alerts of an alarm were heard, each counted once."""
    found = (m.json for m in phone.messages("/alert"))
    return len({a["id"] for a in found if a["alarm"] == alarm and words in a["text"]})


def longest_hole_s(field: Field) -> int:
    """The longest time between two readings of a pot in the data file [s]."""
    query = "SELECT id >> 10 FROM reading WHERE id & 1023 = (SELECT min(id & 1023) FROM reading)"
    ticks = sorted(int(tick) for (tick,) in field.select(query))
    return max(after - before for before, after in pairwise(ticks))


def heat(field: Field, phone: Phone, before: int) -> float:
    """Pots get hot; returns how long it took until all that were cool before are told [s]."""
    field.show(HOT_C)
    return field.wait(
        lambda: told(phone, "preheated") == before + len(COOKERS), "hot pots are told"
    )


def test_on_a_full_card_alarms_are_told_and_nothing_is_missing_once_there_is_room(
    tmp_path: Path, stack: ExitStack, figure: Tell
) -> None:
    try:
        stack.enter_context(memory_card(tmp_path / "data", MEMORY_BYTES))
    except NoMountError as error:
        pytest.skip(str(error))
    field, phone = at_work(stack, tmp_path)
    ballast = tmp_path / "data" / "ballast"
    fill(ballast)
    field.wait(lambda: told(phone, "storage", "card full") == 1, "the full card is told")
    took_s = heat(field, phone, 0)
    field.show(COOL_C)
    ended_s = CLOCK.moment().mono_s + FULL_S
    field.wait(lambda: CLOCK.moment().mono_s > ended_s, "it is full for a while")
    ballast.unlink()
    recovered_s = field.wait(lambda: field.stored("preheated") == len(COOKERS), "it is written")
    field.wait(lambda: heard(phone) == field.outbox(), "all that was told is written, and once")
    hole_s = longest_hole_s(field)
    figure(
        4,
        f"a card of {MEMORY_BYTES / 1e6:.0f} MB full for {FULL_S:.0f} s under the whole daemon",
        f"{len(COOKERS)} of {len(COOKERS)} hot pots told within {took_s:.1f} s, all written "
        f"{recovered_s:.1f} s after there was room, longest hole between readings {hole_s} s",
        f"all, <= {RECOVERY_S:.0f} s, gap <= what memory holds",
    )
    assert hole_s <= 2 * max(1, POLL_S)


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_the_watch_begins_on_a_full_card(
    tmp_path: Path, stack: ExitStack, figure: Tell, how: signal.Signals
) -> None:
    """Also where there is no log beside the data file, for which SQLite first needs room."""
    try:
        stack.enter_context(memory_card(tmp_path / "data", MEMORY_BYTES))
    except NoMountError as error:
        pytest.skip(str(error))
    field, phone = at_work(stack, tmp_path)
    field.end(how)
    fill(tmp_path / "data" / "fill")
    field.start()
    begun_s = CLOCK.moment().mono_s
    heat(field, phone, 0)
    took_s = CLOCK.moment().mono_s - begun_s
    figure(
        4,
        f"the whole daemon started on a full card, after {how.name}",
        f"{len(COOKERS)} of {len(COOKERS)} hot pots told within {took_s:.1f} s of its start",
        "all",
    )


def test_on_a_card_that_turns_read_only_alarms_are_told(
    tmp_path: Path, stack: ExitStack, figure: Tell
) -> None:
    try:
        card: Card = stack.enter_context(
            wearing_card(tmp_path / "image", tmp_path / "data", CARD_BYTES)
        )
    except NoMountError as error:
        pytest.skip(str(error))
    field, phone = at_work(stack, tmp_path)
    heat(field, phone, 0)
    field.show(COOL_C)
    field.wait(field.is_cool, "all pots are cool")
    before = str(field.select("SELECT max(id) FROM reading")[0][0])
    try:
        card.wear_out()
    except NoMountError as error:
        pytest.skip(str(error))
    field.wait(lambda: told(phone, "storage", "no longer be written") == 1, "it is told")
    took_s = heat(field, phone, len(COOKERS))
    field.end(signal.SIGTERM)
    with pytest.raises(StoreUnwritableError, match="the card can no longer be written"):
        sound(tmp_path / "data" / "noonpot.db", CLOCK)
    card.repair()
    field.start()
    newer = "SELECT count(*) FROM reading WHERE id > CAST(? AS INTEGER)"
    field.wait(lambda: field.select(newer, before)[0][0] > 0, "it goes on")
    kept = field.select("SELECT count(*) FROM reading WHERE id = CAST(? AS INTEGER)", before)[0][0]
    figure(
        4,
        "a card that turns read-only under the whole daemon (ext4, errors=remount-ro)",
        f"{len(COOKERS)} of {len(COOKERS)} hot pots told within {took_s:.1f} s; after a repair it "
        f"goes on, {1 - kept} of the readings before are gone",
        "all, 0",
    )
    assert kept == 1


def test_the_watch_begins_in_memory_on_a_card_that_takes_nothing(
    tmp_path: Path, stack: ExitStack, figure: Tell
) -> None:
    try:
        card: Card = stack.enter_context(
            wearing_card(tmp_path / "image", tmp_path / "data", CARD_BYTES)
        )
        field, phone = at_work(stack, tmp_path)
        field.end(signal.SIGTERM)
        card.wear_out()
    except NoMountError as error:
        pytest.skip(str(error))
    field.start()
    begun_s = CLOCK.moment().mono_s
    field.wait(lambda: told(phone, "storage", "all is in memory") == 1, "it is told")
    took_s = CLOCK.moment().mono_s - begun_s
    figure(4, "started on a read-only card, it is told", f"{took_s:.1f} s", "it is")
