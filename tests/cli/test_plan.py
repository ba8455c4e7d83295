"""``noonpot plan`` as a person calls it."""

import json
from pathlib import Path

import pytest

from cli.terminal import Noonpot, garden

JUNE = ("--on", "2099-06-21")


def test_a_plan_for_one_cooker(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    said = noonpot("plan", "box", "bread", "--mass-kg", "0.6", "--sky", "clear", *JUNE)
    assert (said.code, said.err) == (0, "")
    assert "box: 0.6 kg of bread from 20 °C, on Sunday 21 June 2099" in said.out
    assert "times are those of America/Denver" in said.out
    assert "Water boils at 95 °C here, so bread counts as done at 93 °C" in said.out
    assert "load   cooker out  chance  done about" in said.out
    assert "Nobody has watched box cook yet" in said.out


def test_without_a_cooker_all_are_compared(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    said = noonpot("plan", "soup", "--sky", "clear", *JUNE)
    first = said.out.splitlines()
    assert said.code == 0
    assert first[0].startswith("cooker")
    assert {line.split()[0] for line in first[1:3]} == {"box", "iron"}
    assert first[4].startswith(f"{first[1].split()[0]}: 1.2 kg of soup from 5 °C")


def test_not_today_is_said_plainly(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    said = noonpot("plan", "box", "rice", "--sky", "overcast", *JUNE)
    assert "Not on Sunday 21 June 2099: cook it another way." in said.out
    assert "its spores survive boiling" in said.out


def test_a_machine_gets_one_object_a_cooker(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    when = ("--at", "9:30", "--meal", "18:00", *JUNE)
    said = noonpot("plan", "chicken", "--sky", "70%", "--left", "--json", *when)
    bodies = [json.loads(line) for line in said.out.splitlines()]
    assert [b["cooker"] for b in bodies] == ["box", "iron"]
    for body in bodies:
        assert body["load_at"] == "2099-06-21T15:30:00Z"  # UTC-6 in summer
        assert body["meal"] == "2099-06-22T00:00:00Z"
        assert 0 <= body["p_meal"] <= body["p_done"] <= 1
        assert body["out_at"] < body["load_at"]
        assert 0 < body["aim"]["elevation_deg"] < 90
        assert body["turn_every_s"] is None
        assert (body["rescue_at"] is None) == (body["rescue_because"] is None)


def test_the_sky_may_come_from_a_file(noonpot: Noonpot, tmp_path: Path) -> None:
    garden(tmp_path)
    chances = []
    for name, cloud in (("fair", 0), ("grey", 100)):
        rows = [f"2099-06-21T{h:02}:00,{cloud},25" for h in range(6, 21)]
        (tmp_path / f"{name}.csv").write_text("time,cloud_percent,air_c\n" + "\n".join(rows))
        words = ("plan", "box", "soup", "--weather", f"{name}.csv", *JUNE)
        body = json.loads(noonpot(*words, "--json").out)
        assert body["sky"] == "that of this day in the weather file"
        assert body["air_c"] == 25.0
        chances.append(body["p_done"])
    assert chances[0] > chances[1] + 0.3


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["bx", "rice"], "there is no cooker 'bx'; did you mean box?"),
        (["box"], "box is a cooker; say what to cook, such as noonpot plan box rice"),
        (["box", "rce"], 'food "rce" is not in the table; did you mean rice?'),
        (["rice", "--sky", "clar"], "did you mean clear?"),
        (["rice", "--mass-kg", "0"], "--mass-kg is 0, but must be 0.02 to 50 kg"),
        (["rice", "--start-c", "150"], "--start-c is 150, but must be -30 to 100 °C"),
        (["rice", "--air-c", "80"], "--air-c is 80, but must be -40 to 60 °C"),
        (["rice", "--turn-every", "1"], "--turn-every is 1, but must be 5 to 600 minutes"),
        (["rice", "--at", "noon"], "--at is 'noon', but must be a time of day, such as 14:30"),
        (["rice", "--at", "22:30"], "--at 22:30 is too late: the sun is lost at 20:0"),
        (["rice", "--at", "11:00", "--meal", "10:00"], "--meal 10:00 is not after --at 11:00"),
        (["rice", "--meal", "04:00"], "--meal 04:00 is past, or before the sun is of use"),
        (["rice", "--weather", "none.csv"], "none.csv: No such file or directory"),
        (["rice", "--weather", "x.csv", "--sky", "clear"], "give one of them"),
    ],
)
def test_what_cannot_be_asked_is_told_in_a_sentence(
    noonpot: Noonpot, tmp_path: Path, words: list[str], sentence: str
) -> None:
    garden(tmp_path)
    said = noonpot("plan", *words, *JUNE)
    assert said.code == 2
    assert sentence in said.err
    assert said.err.count("\n") == 1


@pytest.mark.parametrize(
    ("day", "sentence"),
    [("2020-01-01", "--on 2020-01-01 is past"), ("soon", "--on is 'soon', but must be a date")],
)
def test_a_day_that_cannot_be_planned_is_told(
    noonpot: Noonpot, tmp_path: Path, day: str, sentence: str
) -> None:
    garden(tmp_path)
    said = noonpot("plan", "box", "rice", "--on", day)
    assert said.code == 2
    assert sentence in said.err


def test_the_meal_is_handed_in_with_the_cook(
    noonpot: Noonpot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    garden(tmp_path)
    (tmp_path / "demo-data" / "inbox").mkdir(parents=True)
    monkeypatch.setattr("noonpot.cli.cooks.ANSWER_S", 0.1)
    said = noonpot("cook", "load", "box", "--food", "bread", "--meal", "18:30")
    assert "at 18:30, America/Denver time." in said.out
    (letter,) = (tmp_path / "demo-data" / "inbox").glob("*.json")
    assert ":30:00Z" in json.loads(letter.read_text())["detail"]["meal"]
    assert noonpot("cook", "load", "box", "--meal", "supper").code == 2
