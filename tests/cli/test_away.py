"""``noonpot aim --away`` as a person calls it, with and without a cook that is under way."""

import json
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from cli.terminal import Noonpot, garden
from fakes import FakeClock
from noonpot.cli.away import absence_of
from noonpot.core.absence import Absence
from noonpot.core.cook import Event, EventKind, begin
from noonpot.core.moment import utc
from noonpot.core.readings import Reading
from noonpot.core.sun import solar_date
from noonpot.ports import Batch
from noonpot.settings.reading import load
from noonpot.store.sqlite import Store
from simday import SimpleSun, record_day

DENVER = ZoneInfo("America/Denver")
NOON = utc("2026-06-21T18:00:00Z")
"""12:00 by the clocks of the garden; the sun is highest an hour later."""


def between(begin: str, end: str) -> Absence:
    since, until = (utc(f"2026-06-21T{clock}:00Z").timestamp() for clock in (begin, end))
    return Absence(since, until)


@pytest.mark.parametrize(
    ("text", "absence"),
    [
        ("3h", between("18:00", "21:00")),
        ("90min", between("18:00", "19:30")),
        ("1h30", between("18:00", "19:30")),
        ("1h 30min", between("18:00", "19:30")),
        ("1.5h", between("18:00", "19:30")),
        ("1,5 H", between("18:00", "19:30")),
        ("12:00-15:00", between("18:00", "21:00")),
        ("13:30 \N{EN DASH} 15:00", between("19:30", "21:00")),
    ],
)
def test_an_absence_is_read_as_people_write_it(text: str, absence: Absence) -> None:
    assert absence_of(text, NOON, DENVER) == absence


def test_a_time_of_this_very_minute_is_now() -> None:
    now = NOON + timedelta(seconds=40)
    assert absence_of("12:00-13:00", now, DENVER).since_s == now.timestamp()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("soon", "--away is 'soon', but must be a length of time, such as 3h or 90min, or two"),
        ("", "--away is '', but must be a length of time"),
        ("90", "--away is '90', but must be a length of time"),
        ("0h", "--away is 0h, but must be above 0 and at most 24h"),
        ("25h", "--away is 25h, but must be above 0 and at most 24h"),
        ("25:00-26:00", "--away is '25:00', but must be a time of day, such as 14:30"),
        ("12:30-12:10", "--away 12:30-12:10 ends before it begins; write the earlier time first"),
        ("11:00-13:00", "--away 11:00-13:00 begins in the past, it is 12:00 now; write a later"),
        ("22:00-23:00", "--away: the sun is of no use from 22:00 to 23:00: it is lost for today"),
    ],
)
def test_an_absence_without_sense_is_told_with_what_to_do(
    noonpot: Noonpot, tmp_path: Path, text: str, sentence: str
) -> None:
    garden(tmp_path)
    said = noonpot("aim", "box", "--at", "2026-06-21T18:00:00Z", "--away", text)
    assert said.code == 2
    assert said.err.startswith(sentence)


def test_without_a_cook_every_cooker_is_told_the_aim_of_most_light(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    garden(tmp_path)
    words = ("aim", "--at", "2026-06-21T18:00:00Z", "--away", "13:00-23:00")
    lines = noonpot(*words).out.splitlines()
    assert len(lines) == 6
    for name in ("box", "iron"):
        assert any(line.startswith(f"{name}: from 13:00 leave it at 2") for line in lines)
    assert lines[0].endswith("when the sun is lost.")
    assert "Under a clear sky that costs 3" in lines[2]
    (body,) = (
        json.loads(x) for x in noonpot(words[0], "box", *words[1:], "--json").out.splitlines()
    )
    assert "An upright peg of 1 m now throws a shadow of 0.39 m towards 317°;" in lines[1]
    right_deg = body["azimuth_true_deg"] - (body["shadow_azimuth_deg"] - 180)
    assert f"the aim lies {right_deg:.0f}° to the right of the sun." in lines[1]
    assert 235 < body["azimuth_true_deg"] < 270
    assert body["azimuth_true_deg"] - body["azimuth_magnetic_deg"] == pytest.approx(7.7, abs=0.5)
    assert body["away_from"] == "2026-06-21T19:00:00Z"
    assert body["good_until"] < body["away_to"] == "2026-06-22T05:00:00Z"
    assert 0.3 < body["light_cost"] < 0.5
    assert body["left_p_done"] is body["turned_p_done"] is body["present_off_deg"] is None


def cook_under_way(folder: Path) -> None:
    """A large loaf in the box since 09:30, as the daemon leaves it in the data file at 12:00."""
    settings = load(garden(folder), secrets=False)
    place, start = settings.station.place, NOON - timedelta(hours=3)
    sun = SimpleSun().day(place, solar_date(start, place.longitude)).at(NOON)
    aim = {"azimuth": f"{sun.azimuth_deg:.0f}", "elevation": f"{sun.elevation_deg:.0f}"}
    loaf = {"food": "bread", "mass_kg": "1.5", "start_c": "15"}
    told = [
        Event("box", start, EventKind.START),
        Event("box", start, EventKind.AIM, aim),
        Event("box", start + timedelta(minutes=30), EventKind.LOAD, loaf),
    ]
    options = {"cookers": [{"name": "box", "pot": "light"}], "sky": "clear", "seed": 3}
    recording = record_day(options, told[1:], start, NOON, step_s=120.0, place=place)
    cook = begin(told[0])
    for event in told:
        cook = cook.after(event)
    clock = FakeClock(start)
    settings.data.mkdir()
    with Store(settings.data / "noonpot.db", clock) as store:
        store.register(settings.station.probes)
        store.write(clock.moment(), Batch(events=told, cooks=[cook]))
        clock.advance((NOON - start).total_seconds())
        shift = clock.moment().mono_s - NOON.timestamp()
        store.write(
            clock.moment(),
            Batch(
                samples=[
                    Reading(f"box-{role}", row.at, row.at.timestamp() + shift, value)
                    for row in recording.rows
                    for role, value in row.values.items()
                    if role in ("pot", "core")
                ]
            ),
        )


def test_with_a_load_it_tells_the_chance_of_being_done_and_when(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    cook_under_way(tmp_path)
    words = ("aim", "box", "--at", "2026-06-21T18:00:00Z", "--away", "4h")
    lines = noonpot(*words).out.splitlines()
    assert "That costs " in lines[2]
    assert "; chance of being done " in lines[2]
    assert ", if so at about " in lines[2]
    body = json.loads(noonpot(*words, "--json").out)
    assert 0 < body["left_p_done"] <= body["turned_p_done"] <= 1
    assert NOON < utc(body["left_done_p50"]) < NOON + timedelta(hours=8)
    assert body["present_off_deg"] is not None
    light = json.loads(noonpot("aim", "iron", *words[2:], "--json").out)
    assert light["left_p_done"] is None


def test_who_already_points_there_is_told_so(noonpot: Noonpot, tmp_path: Path) -> None:
    cook_under_way(tmp_path)
    said = noonpot("aim", "box", "--at", "2026-06-21T18:00:00Z", "--away", "10min")
    assert "  It points there already, within " in said.out
    said = noonpot("aim", "box", "--at", "2026-06-21T18:00:00Z", "--away", "6h")
    assert "already" not in said.out
