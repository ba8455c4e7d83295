"""Each command as a person calls it: what it prints, and its exit code."""

import json
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from cli.terminal import Noonpot, garden
from configurations import NAMES, laid_out, sentences
from noonpot.core.moment import utc
from noonpot.core.recording import format_recording
from noonpot.settings.reading import load
from noonpot.store.inbox import FileInbox
from simday import at, event, record_day, turns


def test_every_command_explains_itself(noonpot: Noonpot) -> None:
    said = noonpot("--help")
    for command in ("init", "demo", "run", "check", "probes", "aim", "cook", "replay", "export"):
        assert command in said.out
        assert noonpot(command, "--help").code == 0
    assert said.code == 0


def test_a_slip_of_the_finger_is_told_what_was_meant(noonpot: Noonpot) -> None:
    said = noonpot("chek")
    assert said.code == 2
    assert "No such command 'chek'. Did you mean 'check'?" in said.err


def test_whoever_names_a_command_loads_no_other() -> None:
    backup = (
        "import sys\nfrom noonpot.cli import main\nsys.argv = ['noonpot', 'backup', '--help']\n"
        "try:\n    main()\nfinally:\n"
        "    print(*sorted(m for m in sys.modules if m.startswith('noonpot.cli.')))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", backup], capture_output=True, encoding="utf-8", check=True
    )
    assert ran.stdout.splitlines()[-1] == "noonpot.cli.backup noonpot.cli.options"


@pytest.mark.parametrize("name", NAMES)
def test_check_says_every_mistake_of_a_wrong_file(
    noonpot: Noonpot, tmp_path: Path, name: str
) -> None:
    file = laid_out(name, tmp_path)
    said = noonpot("check", "--config", str(file))
    assert said.code == 2
    assert [line.removeprefix(f"{file}: ") for line in said.err.splitlines()] == sentences(name)


def test_check_names_the_bus_options_that_are_wrong(noonpot: Noonpot, tmp_path: Path) -> None:
    file = garden(tmp_path)
    text = file.read_text().replace("wind_ms = 1.5", "wind_speed = 1.5")
    text += '[[bus]]\nname = "spi"\ndriver = "max31856"\n'
    file.write_text(text)
    said = noonpot("check")
    assert said.code == 2
    assert "bus.garden: " in said.err
    assert "wind_speed" in said.err
    assert 'bus.spi.driver is "max31856", but no such driver is installed; did you mean' in said.err


def test_check_finds_all_good_in_the_garden(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    said = noonpot("check")
    assert (said.code, said.err) == (0, "")
    assert all(line.startswith("good") for line in said.out.splitlines())
    for what in ("configuration", "probe iron-core", "clock", "sun", "store"):
        assert f"good  {what}: " in said.out


def test_check_says_what_does_not_work(noonpot: Noonpot, tmp_path: Path) -> None:
    file = garden(tmp_path)
    text = file.read_text().replace('address = "box/core"', 'address = "box/heart"')
    file.write_text(text + '\n[mqtt]\nhost = "127.0.0.1"\nport = 1\n')
    said = noonpot("check")
    assert said.code == 1
    assert "BAD   probe box-core: not-answering" in said.out
    assert "BAD   broker: 127.0.0.1 port 1: " in said.out


def test_a_missing_configuration_is_said_with_its_name(noonpot: Noonpot) -> None:
    said = noonpot("run", "--config", "nowhere.toml")
    assert said.code == 2
    assert "nowhere.toml" in said.err


def test_probes_lists_known_and_new_ones_and_those_that_do_not_answer(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    file = garden(tmp_path)
    file.write_text(file.read_text().replace('address = "box/core"', 'address = "box/heart"'))
    lines = noonpot("probes").out.splitlines()
    assert any(line.startswith("iron-pot ") and "°C" in line for line in lines)
    assert any(line.startswith("new ") and "box/core" in line for line in lines)
    assert any(line.startswith("box-core ") and "does not answer" in line for line in lines)
    bodies = [json.loads(line) for line in noonpot("probes", "--json").out.splitlines()]
    assert {"probe": "box-core", "fault": "not-answering"} in bodies
    assert all(isinstance(b["value"], float) for b in bodies if b.get("probe") == "iron-pot")


def test_aim_tells_bearing_tilt_shadow_and_until_when(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    said = noonpot("aim", "box", "--at", "2026-06-21T19:00:00Z")  # about solar noon there
    assert "box: point to 18" in said.out or "box: point to 17" in said.out
    assert "An upright peg of 1 m" in said.out
    body = json.loads(noonpot("aim", "box", "--at", "2026-06-21T19:00:00Z", "--json").out)
    # noon height = 90 - latitude + declination = 90 - 40.2 + 23.4
    assert body["elevation_deg"] == pytest.approx(73.2, abs=0.3)
    assert body["shadow_azimuth_deg"] == pytest.approx((body["azimuth_true_deg"] + 180) % 360)
    assert body["holds_until"] > "2026-06-21T19:15"


def test_aim_says_when_the_sun_is_lost_and_when_the_time_is_no_time(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    garden(tmp_path)
    assert "the sun is lost" in noonpot("aim", "--at", "2026-06-21T08:00:00Z").out
    assert noonpot("aim", "--at", "noon").code == 2
    said = noonpot("aim", "bx")
    assert (said.code, said.err) == (2, "there is no cooker 'bx'; did you mean box?\n")


def test_init_without_any_probe_says_so(noonpot: Noonpot, tmp_path: Path) -> None:
    said = noonpot("init", "--w1-base", str(tmp_path / "none"))
    assert said.code == 2
    assert "no probe answers" in said.err


def test_cook_hands_in_and_says_when_no_daemon_runs(
    noonpot: Noonpot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    garden(tmp_path)
    assert noonpot("check").code == 0  # makes the data folder
    (tmp_path / "demo-data" / "inbox").mkdir()
    monkeypatch.setattr("noonpot.cli.cooks.ANSWER_S", 0.1)
    said = noonpot("cook", "start", "box", "--food", "bread")
    assert "Water boils at 95 °C here" in said.out
    assert "no daemon has taken it yet" in said.out
    assert len(list((tmp_path / "demo-data" / "inbox").glob("*.json"))) == 1


def test_an_alarm_of_the_station_itself_can_be_answered_and_nothing_else_be_done_to_it(
    noonpot: Noonpot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = load(garden(tmp_path))
    FileInbox(settings.data / "inbox", lambda _: False)
    monkeypatch.setattr("noonpot.cli.cooks.ANSWER_S", 0.1)
    said = noonpot("cook", "mark", "station", "acknowledge", "alarm=link")
    assert "station: acknowledge handed in" in said.out
    assert noonpot("cook", "start", "station").code == 2


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["start", "bx"], "there is no cooker 'bx'; did you mean box?"),
        (["start", "box", "--food", "braed"], 'food "braed" is not in the table'),
        (["load", "box", "--mass-kg", "-1"], "--mass-kg is -1, but must be above 0"),
        (["load", "box", "--start-c", "1000"], "--start-c is 1000 °C, but must be -40 to 400 °C"),
        (["spot", "box", "900"], "the reading is 900 °C, but must be -20 to 150 °C"),
        (["mark", "box", "turned"], "'turned' cannot be marked"),
    ],
)
def test_a_wrong_word_about_a_cook_is_told_at_once(
    noonpot: Noonpot, tmp_path: Path, words: list[str], sentence: str
) -> None:
    garden(tmp_path)
    said = noonpot("cook", *words)
    assert said.code == 2
    assert sentence in said.err


def test_replay_writes_the_lines_that_the_design_fixes(noonpot: Noonpot, tmp_path: Path) -> None:
    options = {"cookers": [{"name": "box"}], "sky": "clear", "seed": 5}
    script = [
        event("box", "load", at("09:30"), food="bread", mass_kg=0.6, start_c=27),
        *turns("box", at("07:00"), at("12:00")),
    ]
    recording = record_day(options, script, at("07:00"), at("12:00"))
    file = tmp_path / "loaf.csv"
    file.write_text(format_recording(recording))
    assert noonpot("replay", str(file), "--every", "30", "--out", "loaf.jsonl").code == 0
    lines = [json.loads(line) for line in (tmp_path / "loaf.jsonl").read_text().splitlines()]
    forecasts = [line for line in lines if line["type"] == "forecast"]
    assert [f["time"][11:16] for f in forecasts] == [
        "09:30",
        "10:00",
        "10:30",
        "11:00",
        "11:30",
        "12:00",
    ]
    keys = "time type target_c p_done done_p10 done_p50 done_p90 clear_sky_index misaim_deg"
    assert all(list(f) == keys.split() for f in forecasts)
    alarms = [line for line in lines if line["type"] == "alarm"]
    assert ("done", "unacknowledged") in [(a["alarm"], a["state"]) for a in alarms]
    assert all(
        list(a) == ["time", "type", "alarm", "cooker", "state", "priority", "text"] for a in alarms
    )


def test_replay_learns_from_earlier_recordings(noonpot: Noonpot, tmp_path: Path) -> None:
    for seed, name in ((6, "before.csv"), (7, "today.csv")):
        script = [
            event("box", "load", at("09:30"), food="bread", mass_kg=0.6, start_c=27),
            *turns("box", at("08:00"), at("11:30")),
        ]
        options = {"cookers": [{"name": "box"}], "sky": "clear", "seed": seed}
        recording = record_day(options, script, at("08:00"), at("11:30"))
        (tmp_path / name).write_text(format_recording(recording))
    alone = noonpot("replay", "today.csv", "--every", "30")
    taught = noonpot("replay", "today.csv", "--every", "30", "--history", "before.csv")
    assert taught.code == 0
    assert taught.out != alone.out
    assert len(taught.out.splitlines()) == len(alone.out.splitlines())
    missing = noonpot("replay", "today.csv", "--history", "nowhere.csv")
    assert (missing.code, missing.err) == (2, "nowhere.csv: No such file or directory\n")


@pytest.mark.parametrize(
    "words", [["--history", "a.csv", "b.csv"], ["--history", "a.csv", "--history", "b.csv"]]
)
def test_replay_learns_from_earlier_cooks(
    noonpot: Noonpot, tmp_path: Path, words: list[str]
) -> None:
    for name, day, mass_kg in (("a", 1, 0.7), ("b", 2, 0.6), ("today", 3, 0.6)):
        begun, ended = (at(clock, date(2026, 6, day)) for clock in ("08:00", "12:00"))
        loaded = event("box", "load", begun + timedelta(hours=1), food="bread", mass_kg=mass_kg)
        options = {"cookers": [{"name": "box"}], "sky": "clear", "seed": day}
        recording = record_day(options, [loaded, *turns("box", begun, ended)], begun, ended)
        (tmp_path / f"{name}.csv").write_text(format_recording(recording))

    def widths(*more: str) -> list[float]:
        said = noonpot("replay", "today.csv", *more)
        assert said.code == 0
        lines = [json.loads(line) for line in said.out.splitlines()]
        ends = [(utc(x["done_p10"]), utc(x["done_p90"])) for x in lines if "p_done" in x]
        return [(late - early).total_seconds() for early, late in ends]

    assert sum(widths(*words)[2:7]) < 0.8 * sum(widths()[2:7])  # who has seen it is surer


def test_replay_takes_one_recording_at_a_time(noonpot: Noonpot) -> None:
    said = noonpot("replay", "a.csv", "b.csv")
    assert said.code == 2
    assert "b.csv: one recording at a time; earlier ones follow --history" in said.err


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("time,pot_c\n", "line 1: this is no recording"),
        ("# format: noonpot-recording 1\n# latitude: 1\n", "longitude is missing"),
    ],
)
def test_replay_says_what_is_wrong_with_a_recording(
    noonpot: Noonpot, tmp_path: Path, text: str, sentence: str
) -> None:
    (tmp_path / "bad.csv").write_text(text)
    said = noonpot("replay", "bad.csv")
    assert said.code == 2
    assert sentence in said.err


def test_export_of_no_cook_says_where_they_are_listed(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    assert noonpot("check").code == 0
    said = noonpot("export", "7")
    assert (said.code, said.err) == (2, "there is no cook 7; 'noonpot cook list' shows them all\n")


def test_the_demo_tells_of_both_cookers_and_what_a_person_received(noonpot: Noonpot) -> None:
    said = noonpot("demo", "--rate", "1500", "--no-page")
    assert said.code == 0, said.err
    assert "http://" not in said.out
    assert "box: bread done and taken out" in said.out
    assert "iron: stew" in said.out
    for word in ("hot enough for bread", "Turn to", "is done, core"):
        assert word in said.out
