"""The file with the passphrase and the links: whole, for the daemon alone, whoever writes it."""

import hashlib
import os
import stat
import threading
from pathlib import Path
from typing import Any

import pytest

from noonpot.app.pagehouse import keyring
from noonpot.errors import StoreError
from noonpot.web import keyring as keys
from noonpot.web.keyring import Keyring
from web.homes import Home

PASSPHRASE = "four words of mine"  # noqa: S105  for tests only
OTHER = "four words of yours"


@pytest.fixture(autouse=True)
def _quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """One test pays for the real cost."""
    monkeypatch.setattr(keys, "COST", 2**4)


def test_a_link_that_is_withdrawn_or_made_during_the_slow_hash_does_not_live_on(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    ring = keyring(home.settings)
    link, _ = ring.give("neighbour", "2026-06-03T07:00:00Z")
    scrypt = hashlib.scrypt

    def meanwhile(password: bytes, **costs: Any) -> bytes:
        assert keyring(home.settings).withdraw(link.id)  # the page, a process of its own
        keyring(home.settings).give("stranger", "2026-06-03T07:00:00Z")
        return scrypt(password, **costs)

    monkeypatch.setattr(hashlib, "scrypt", meanwhile)
    ring.set_passphrase(PASSPHRASE)
    assert ring.links() == ()


def test_what_several_processes_change_at_once_is_all_kept(home: Home) -> None:
    many = 12
    together = threading.Barrier(many)

    def give(number: int) -> None:
        ring = keyring(home.settings)  # its own, so it shares nothing but the folder
        together.wait()
        ring.give(f"link {number}", "2026-06-03T07:00:00Z")

    giving = [threading.Thread(target=give, args=[number]) for number in range(many)]
    for thread in giving:
        thread.start()
    for thread in giving:
        thread.join()
    labels = {link.label for link in keyring(home.settings).links()}
    assert labels == {f"link {number}" for number in range(many)}


def test_a_link_in_place_of_the_folder_is_refused_and_where_it_leads_is_left_alone(
    home: Home, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir(0o755)
    os.chown(elsewhere, os.geteuid(), os.getegid())
    before = elsewhere.stat()
    (home.settings.data / "page").symlink_to(elsewhere)
    with pytest.raises(StoreError, match="is a link or a file, but must be a folder"):
        keyring(home.settings).set_passphrase(PASSPHRASE)
    after = elsewhere.stat()
    assert (after.st_mode, after.st_uid) == (before.st_mode, before.st_uid)
    assert list(elsewhere.iterdir()) == []


def test_a_link_in_place_of_the_keys_is_not_read(home: Home, tmp_path: Path) -> None:
    keyring(home.settings).set_passphrase(PASSPHRASE)
    keys_file = home.settings.data / "page" / "keys.json"
    keys_file.rename(tmp_path / "mine.json")
    keys_file.symlink_to(tmp_path / "mine.json")
    with pytest.raises(StoreError, match="cannot be read"):
        keyring(home.settings).opens(PASSPHRASE)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give files away")
def test_what_root_writes_belongs_to_whoever_owns_the_data(home: Home) -> None:
    os.chown(home.settings.data, 4321, 4322)
    keyring(home.settings).set_passphrase(PASSPHRASE)
    folder = home.settings.data / "page"
    owners = [(p.stat().st_uid, p.stat().st_gid) for p in (folder, folder / "keys.json")]
    assert owners == [(4321, 4322)] * 2


def test_the_keys_are_for_the_daemon_alone(home: Home) -> None:
    keyring(home.settings).set_passphrase(PASSPHRASE)
    folder = home.settings.data / "page"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    (file,) = folder.iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_hash_takes_its_time_and_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    assert (keys.COST, keys.BLOCK, keys.PARALLEL) == (2**15, 8, 3)
    ring = Keyring(tmp_path / "page" / "keys.json")
    ring.set_passphrase(PASSPHRASE)
    assert ring.opens(PASSPHRASE)
    assert not ring.opens(OTHER)
