"""Room that is kept for a start on a full card."""

from pathlib import Path

import pytest

from endurance.mounting import NoMountError, fill, memory_card, unmountable
from fakes import FakeClock
from noonpot.errors import StoreFullError
from noonpot.store.ballast import BALLAST_BYTES, LEAST_FREE, ballast_of, drop, lay
from noonpot.store.mending import sound
from store.shelf import PROBES, opened, write_reading


def test_room_is_kept_once_and_given_up_once(tmp_path: Path) -> None:
    path = tmp_path / "noonpot.db"
    for _ in range(2):
        lay(path)
        assert ballast_of(path).stat().st_blocks * 512 >= BALLAST_BYTES
    assert drop(path)
    assert not drop(path)


def test_a_store_keeps_room_when_its_daemon_begins(tmp_path: Path) -> None:
    path = tmp_path / "noonpot.db"
    with opened(path, FakeClock()) as store:
        assert not ballast_of(path).exists()
        store.begin()
        assert ballast_of(path).stat().st_size == BALLAST_BYTES


@pytest.mark.skipif(bool(unmountable()), reason=unmountable())
@pytest.mark.parametrize("kept", [True, False])
def test_a_store_that_was_closed_is_opened_on_a_full_card(tmp_path: Path, kept: bool) -> None:
    clock, folder = FakeClock(), tmp_path / "card"
    path = folder / "noonpot.db"
    try:
        with memory_card(folder, 2 * LEAST_FREE * BALLAST_BYTES):
            with opened(path, clock) as store:
                write_reading(store, clock.moment(), 21.0)
                if kept:
                    store.begin()
            fill(folder / "fill")
            if not kept:
                with pytest.raises(StoreFullError, match="the card is full: free some space"):
                    sound(path, clock)
                return
            with sound(path, clock) as store:
                store.register(PROBES)
                write_reading(store, clock.advance(2), 22.0)
            assert not ballast_of(path).exists()
            with sound(path, clock) as store:  # a full card is left as it is
                store.begin()
                assert not ballast_of(path).exists()
    except NoMountError as error:
        pytest.skip(str(error))
