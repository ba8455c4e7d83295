"""``noonpot rate`` as a person calls it."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from cli.terminal import Noonpot, garden
from fakes import FakeClock
from noonpot.core.cook import begin
from noonpot.core.readings import Reading, Role
from noonpot.core.recording import format_recording
from noonpot.ports import Batch
from noonpot.settings.reading import load
from noonpot.store.sqlite import Store
from ratings import water_day
from reports import words_of
from simday import at, event, record_day, turns


@pytest.fixture
def recordings(tmp_path: Path) -> list[str]:
    names = []
    for number in range(3):
        name = f"day-{number}.csv"
        (tmp_path / name).write_text(format_recording(water_day(number, empty_h=2)))
        names.append(name)
    return names


def test_recordings_are_rated_without_a_configuration(
    noonpot: Noonpot, recordings: list[str]
) -> None:
    said = noonpot("rate", "box", "--test", "power", "--recording", *recordings)
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("box: cooking power ")
    assert "W at 50 K above the air" in said.out


def test_a_profile_is_the_usual_answer(noonpot: Noonpot, recordings: list[str]) -> None:
    said = noonpot("rate", "box", "--recording", recordings[0], "--recording", recordings[1])
    assert said.code == 0
    assert "box, from 2 cooks" in said.out
    assert "light that becomes heat" in said.out
    body = json.loads(noonpot("rate", "box", "--json", "--recording", *recordings).out)
    assert body["cooks"] == 3
    assert 0.3 < body["profile"]["optical_gain"]["value"] < 0.7
    assert body["since_rebuilt"] == {}


def test_a_day_of_rebuilding_divides_the_cooks(noonpot: Noonpot, recordings: list[str]) -> None:
    said = noonpot("rate", "box", "--since", "2026-06-09", "--recording", *recordings)
    assert "Since it was rebuilt, 2 cooks against 1 before" in said.out
    assert "may be chance" in said.out


def test_a_note_divides_them_as_well(noonpot: Noonpot, tmp_path: Path) -> None:
    for number in range(2):
        words = "rebuilt: new glass" if number else ""
        recording = water_day(number, empty_h=1, said=words)
        (tmp_path / f"{number}.csv").write_text(format_recording(recording))
    said = noonpot("rate", "box", "--recording", "0.csv", "1.csv")
    assert "Since it was rebuilt, 1 cook against 1 before" in said.out


def test_figures_of_merit_for_a_machine(noonpot: Noonpot, recordings: list[str]) -> None:
    words = ("rate", "box", "--test", "merit", "--json", "--recording", *recordings)
    body = json.loads(noonpot(*words).out)
    assert body["method"] == "in the manner of IS 13429"
    assert body["f1_reckoned"]  # two hours are too short for this box to come to rest
    assert len(body["warmings"]) == 3


def test_a_cooker_that_nobody_watched_gets_the_guide(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    said = noonpot("rate", "box")
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("box: no cook tells anything of it yet.")
    said = noonpot("rate", "box", "--test", "power")
    assert "box: no cooking power yet" in said.out
    assert "1. Water: 2.10 kg" in said.out
    assert "2.40 kg of cold water" in noonpot("rate", "box", "--test", "merit").out
    assert noonpot("rate", "bx").err.startswith("there is no cooker 'bx'; did you mean box?")


TABLE = ("rate", "box", "--food", "rice", "--food", "water", "--recording", "day-0.csv")


@pytest.fixture(scope="module")
def reckoned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A cache in which two foods were reckoned from nothing, and what was said of them."""
    folder = tmp_path_factory.mktemp("table")
    (folder / "day-0.csv").write_text(format_recording(water_day(0, empty_h=2)))
    ran = subprocess.run(
        [sys.executable, "-m", "noonpot", *TABLE, "--json"],
        cwd=folder,
        env=os.environ | {"XDG_CACHE_HOME": str(folder / "cache")},
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    return folder / "cache", ran.stdout


@pytest.fixture
def kept(
    reckoned: tuple[Path, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> tuple[Path, str]:
    """A cache of one's own with the same in it."""
    cache, said = reckoned
    shutil.copytree(cache, tmp_path / "cache")
    shutil.copy(cache.parent / "day-0.csv", tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "noonpot", said


def test_a_table_of_foods_and_months(noonpot: Noonpot, kept: tuple[Path, str]) -> None:
    cache, first = kept
    assert len(list(cache.glob("*.table"))) == 3  # one for each sky
    cells = [json.loads(line) for line in first.splitlines()]
    assert len(cells) == 2 * 12 * 3
    june = next(c for c in cells if (c["food"], c["month"], c["sky"]) == ("water", 6, "clear"))
    assert june["chance"] > 0.9
    assert june["latest_at"].startswith("20")
    said = noonpot(*TABLE)
    assert (said.code, said.err) == (0, "")
    assert "chance in percent" in said.out
    assert "water: " in said.out


def test_a_table_that_was_broken_off_goes_on_where_it_was(
    noonpot: Noonpot, kept: tuple[Path, str]
) -> None:
    cache, first = kept
    for file in cache.glob("*.table"):
        rows = [row for row in json.loads(file.read_text()) if row["food"] == "water"]
        rows[5]["takes_s"] = 1234  # so that it is seen again and not reckoned anew
        file.write_text(json.dumps(rows))
    again = noonpot(*TABLE, "--json").out
    told, before = ([json.loads(x) for x in out.splitlines()] for out in (again, first))
    assert [c["takes_s"] for c in told if (c["food"], c["month"]) == ("water", 6)] == [1234] * 3
    known = ("water", 6)
    assert [c for c in told if (c["food"], c["month"]) != known] == [
        c for c in before if (c["food"], c["month"]) != known
    ]


def test_all_of_it_is_written_as_a_page_and_as_a_picture(
    noonpot: Noonpot, recordings: list[str], tmp_path: Path
) -> None:
    words = ("--food", "water", "--report", "box.html", "--picture", "box.svg", "--recording")
    said = noonpot("rate", "box", *words, *recordings)
    assert (said.code, said.out, said.err) == (0, "", "")
    page = words_of((tmp_path / "box.html").read_text())
    for told in (
        "What box can do",
        "light that becomes heat",
        "Conditions of ASABE S580.1",
        "What to cook in it, month by month",
        "water: ",
    ):
        assert told in page
    assert (tmp_path / "box.svg").read_text().startswith("<svg xmlns=")


def test_a_report_without_a_table_has_none(
    noonpot: Noonpot, recordings: list[str], tmp_path: Path
) -> None:
    noonpot("rate", "box", "--report", "box.html", "--recording", *recordings)
    assert "month by month" not in (tmp_path / "box.html").read_text()
    said = noonpot("rate", "box", "--report", "no/box.html", "--recording", *recordings)
    assert (said.code, said.err) == (2, "--report no/box.html: No such file or directory\n")


def test_what_the_table_cannot_hold_is_told(noonpot: Noonpot, recordings: list[str]) -> None:
    said = noonpot("rate", "box", "--food", "rce", "--recording", recordings[0])
    assert (said.code, "did you mean rice?" in said.err) == (2, True)
    said = noonpot("rate", "box", "--foods", "--air-c", "90", "--recording", recordings[0])
    assert (said.code, said.err) == (2, "--air-c is 90, but must be -40 to 60 °C\n")


def test_set_ups_need_days_of_both(noonpot: Noonpot, tmp_path: Path) -> None:
    for number, name in enumerate(("bag", "plain")):
        recording = water_day(number, said=f"set-up: {name}")
        (tmp_path / f"{name}.csv").write_text(format_recording(recording))
    said = noonpot("rate", "box", "--setups", "--recording", "bag.csv", "plain.csv")
    assert "plain against bag: not enough cooks yet" in said.out
    body = json.loads(
        noonpot("rate", "box", "--setups", "--json", "--recording", "bag.csv", "plain.csv").out
    )
    assert (body["days"], body["enough"]) == (0, False)
    said = noonpot("rate", "box", "--setups", "--recording", "bag.csv")
    assert said.out.startswith("Not enough cooks yet: two set-ups must be named")


def stored_cooks(folder: Path) -> None:
    """Soup in both cookers of the garden, one morning, as the daemon leaves it in the data file."""
    settings = load(garden(folder), secrets=False)
    place, begun, ended = settings.station.place, at("15:30"), at("21:30")
    names = [spec.name for spec in settings.station.cookers]
    options = {"cookers": [{"name": n, "aperture_m2": 0.3} for n in names], "sky": "clear"}
    clock = FakeClock(begun)
    settings.data.mkdir()
    with Store(settings.data / "noonpot.db", clock) as store:
        store.register(settings.station.probes)
        clock.advance((ended - begun).total_seconds())
        shift = clock.moment().mono_s - ended.timestamp()
        for name in names:
            told = [
                event(name, "start", begun),
                event(name, "load", at("17:00"), food="soup", mass_kg=2.0, start_c=20),
                *turns(name, begun, ended, place=place),
                event(name, "stop", ended),
            ]
            recording = record_day(options, told, begun, ended, place=place, cooker=name)
            cook = begin(told[0])
            for one in sorted(told[1:], key=lambda e: e.at):
                cook = cook.after(one)
            probes = {Role.POT: f"{name}-pot", Role.CORE: f"{name}-core", Role.AMBIENT: "shade"}
            samples = [
                Reading(probes[role], row.at, row.at.timestamp() + shift, value)
                for row in recording.rows
                for role, value in row.values.items()
                if role in probes and not (role is Role.AMBIENT and name != names[0])
            ]
            store.write(clock.moment(), Batch(samples=samples, events=told, cooks=[cook]))


def test_stored_cooks_are_rated_with_a_sky_told_by_the_pot(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    stored_cooks(tmp_path)
    said = noonpot("rate", "box")
    assert (said.code, said.err) == (0, "")
    assert "box, from 1 cook" in said.out
    assert "No sensor saw the sky" in said.out
    body = json.loads(noonpot("rate", "box", "--test", "power", "--json").out)
    assert body["estimate"] or not body["intervals"]
    assert all(i["light_from"] == "clear sky" for i in body["intervals"])
    said = noonpot("rate", "iron", "--against", "box")
    assert said.out.startswith("iron against box: not enough cooks yet.")


def test_recordings_of_another_cooker_are_refused(noonpot: Noonpot, recordings: list[str]) -> None:
    said = noonpot("rate", "iron", "--recording", *recordings)
    assert said.code == 2
    assert said.err == "the recordings are of box, not of iron; name one cooker's\n"
