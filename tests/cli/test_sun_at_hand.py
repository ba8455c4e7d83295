"""Commands take the sun from where it is already, and run no helper then: the tables that lie here
are of a sun that never shone, so one sees whose they are.
"""

import json
import os
from datetime import date
from pathlib import Path

import pytest

from cli.terminal import Noonpot, garden
from fakes import FakeClock
from noonpot.almanac import Almanac, own_folder
from noonpot.settings.reading import load
from noonpot.store.sqlite import Store
from noonpot.suntable import SunCache, SunTables, pack
from skies import geometric_table

DAY = date(2026, 6, 21)
AIM = ("aim", "box", "--at", "2026-06-21T19:00:20Z", "--json")
"""Noon by local mean solar time."""


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person's cache with nothing in it."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "noonpot"


def shine(cache: SunCache, folder: Path, declination_deg: float) -> None:
    """Keep the sun of school geometry over the garden, as if the helper had told it."""
    place = load(garden(folder), secrets=False).station.place
    (folder / "sun").write_bytes(pack(geometric_table(place, declination_deg, DAY)))
    helper = folder / "python"
    helper.write_text(f"#!/bin/sh\ncat {folder}/sun\n")
    helper.chmod(0o755)
    SunTables(cache, python=str(helper)).day(place, DAY)


def elevation(noonpot: Noonpot) -> float:
    said = noonpot(*AIM)
    assert (said.code, said.err) == (0, "")
    return float(json.loads(said.out)["elevation_deg"])


def test_the_daemon_has_it_in_its_data_file(noonpot: Noonpot, tmp_path: Path, own: Path) -> None:
    data = load(garden(tmp_path), secrets=False).data / "noonpot.db"
    with Store(data, FakeClock()) as store:
        shine(store, tmp_path, 0.0)
    before = data.read_bytes()
    assert elevation(noonpot) == pytest.approx(90 - 40.2, abs=0.1)
    assert data.read_bytes() == before
    assert not own.exists()


def test_an_earlier_command_has_kept_it(noonpot: Noonpot, tmp_path: Path, own: Path) -> None:
    shine(Almanac(own_folder(os.environ)), tmp_path, 10.0)
    assert [file.suffix for file in own.iterdir()] == [".sun"]
    assert elevation(noonpot) == pytest.approx(100 - 40.2, abs=0.1)


def test_else_it_is_computed_and_kept_also_where_a_file_is_damaged(
    noonpot: Noonpot, tmp_path: Path, own: Path
) -> None:
    shine(Almanac(own_folder(os.environ)), tmp_path, 10.0)
    (kept,) = own.iterdir()
    kept.write_bytes(kept.read_bytes()[:-20])
    assert elevation(noonpot) == pytest.approx(90 - 40.2 + 23.4, abs=0.3)  # the true sun
    assert len(kept.read_bytes()) > 1000


def test_a_damaged_data_file_does_not_hide_the_sun_from_who_looks_at_probes(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    data = load(garden(tmp_path), secrets=False).data
    data.mkdir()
    (data / "noonpot.db").write_bytes(b"no data file at all" * 100)
    assert "iron-pot" in noonpot("probes").out
