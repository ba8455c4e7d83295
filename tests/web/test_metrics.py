"""The health in numbers: read back by the parser of the library, for those only who may look."""

import os
from collections.abc import Mapping
from datetime import UTC, datetime

import pytest
from prometheus_client import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from noonpot.core.payloads import health_payload
from noonpot.core.stationfacts import Backup, Readings
from web.homes import Home, Page, Viewer

MADE = datetime(2026, 6, 3, 3, tzinfo=UTC)
NOW: Mapping[str, object] = {
    "time": "2026-06-03T07:00:00Z",
    "cooker": "box",
    "pot_c": 118.5,
    "core_c": None,
    "ambient_c": 24.0,
    "irradiance_wm2": 812.0,
    "misaim_deg": 7.5,
    "cook": {"id": 1},
    "faults": [{"probe": "box-core", "fault": "checksum", "since": "2026-06-03T06:00:00Z"}],
}
ALARM = {"alarm": "turn", "priority": "medium", "state": "unacknowledged"}


def scraped(viewer: Viewer, **options: object) -> Mapping[str, Metric]:
    answer = viewer.get("/metrics", **options)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    assert answer.headers["cache-control"] == "no-store"
    families = text_string_to_metric_families(answer.text)  # type: ignore[no-untyped-call]
    return {family.name: family for family in families}


def value(found: Mapping[str, Metric], name: str, **labels: str) -> float | None:
    """The value of a line, None when there is none."""
    lines = [s.value for s in found[name].samples if labels.items() <= s.labels.items()]
    return lines[0] if lines else None


def test_before_anything_is_heard_there_are_the_numbers_of_the_page(home: Home) -> None:
    with home.page() as page:
        found = scraped(page.viewer())
    assert value(found, "noonpot_watch_heard") == 0
    assert value(found, "noonpot_store_readable") == 1
    size = (home.settings.data / "noonpot.db").stat().st_size
    assert value(found, "noonpot_store_size_bytes") == size
    assert value(found, "noonpot_page_process_resident_memory_bytes")
    assert found["noonpot_page_process_open_fds"].samples
    assert value(found, "noonpot_build", station="garden") == 1


def test_all_that_the_watch_tells_is_a_number_with_its_unit(home: Home) -> None:
    with home.page() as page:
        page.hear("box/now", NOW)
        page.hear("box/forecast", {"p_done": 0.83})
        page.hear("box/alarm/turn", ALARM)
        page.hear("station/alarm/storage", {**ALARM, "alarm": "storage", "state": "normal"})
        lines, counts = {"mqtt": "", "push": "no service answers"}, {"mqtt-sent": 4}
        backup = Backup(MADE, "no room", compared=MADE)
        now = home.clock.moment()
        readings = Readings(MADE, None)
        page.hear("health", health_payload("garden", now, 1, lines, counts, backup, readings))
        found = scraped(page.viewer())
    assert value(found, "noonpot_watch_heard") == 1
    assert value(found, "noonpot_pot_temperature_celsius", cooker="box") == 118.5
    assert value(found, "noonpot_core_temperature_celsius") is None
    assert value(found, "noonpot_irradiance_watts_per_square_metre") == 812.0
    assert value(found, "noonpot_cooking", cooker="box") == 1
    assert value(found, "noonpot_done_ratio", cooker="box") == 0.83
    assert value(found, "noonpot_probe_faulty", probe="box-core", fault="checksum") == 1
    assert value(found, "noonpot_alarm_raised", cooker="box", alarm="turn") == 1
    assert value(found, "noonpot_alarm_raised", cooker="station", alarm="storage") == 0
    assert value(found, "noonpot_channel_up", channel="mqtt") == 1
    assert value(found, "noonpot_channel_up", channel="push") == 0
    assert value(found, "noonpot_occurrences", what="mqtt-sent") == 4
    assert value(found, "noonpot_clock_trusted") == 1
    assert value(found, "noonpot_backup_timestamp_seconds") == MADE.timestamp()
    assert value(found, "noonpot_backup_good") == 0
    assert value(found, "noonpot_backup_compared_timestamp_seconds") == MADE.timestamp()
    assert value(found, "noonpot_readings_oldest_timestamp_seconds") == MADE.timestamp()
    assert value(found, "noonpot_readings_rolled_up_timestamp_seconds") is None
    assert value(found, "noonpot_health_timestamp_seconds") == now.at.timestamp()


def test_every_name_has_its_unit_and_its_meaning(home: Home) -> None:
    with home.page() as page:
        page.hear("box/now", NOW)
        for family in scraped(page.viewer()).values():
            assert family.documentation
            assert not family.unit or family.name.endswith(f"_{family.unit}")


def test_the_watch_is_measured_as_the_parent_of_the_page(home: Home) -> None:
    with home.page() as page:
        found = scraped(page.viewer())
    assert value(found, "noonpot_watch_process_open_fds") == len(
        os.listdir(f"/proc/{os.getppid()}/fd")  # noqa: PTH208  a number is wanted
    )


@pytest.fixture
def link(home: Home) -> str:
    return home_link(home)


def home_link(home: Home) -> str:
    """The secret of a read-only link, made with the keys of the station."""
    from noonpot.app.pagehouse import keyring

    keys = keyring(home.settings)
    keys.set_passphrase("correct horse battery staple")
    _, secret = keys.give("watcher", "2026-06-03T07:00:00Z")
    return secret


def in_the_house(page: Page, token: str, path: str = "/metrics") -> int:
    return page.viewer().get(path, headers={"Authorization": f"Bearer {token}"}).status_code


def test_a_program_comes_in_with_the_secret_of_a_link_and_only_to_look(
    home: Home, link: str
) -> None:
    with home.page(lan=True) as page:
        assert page.viewer().get("/metrics").status_code == 401
        assert in_the_house(page, "wrong") == 401
        assert in_the_house(page, link) == 200
        assert in_the_house(page, link, "/api/now") == 200
        act = page.viewer().client.post(
            "/api/undo", json={"id": "12345678"}, headers={"Authorization": f"Bearer {link}"}
        )
        assert act.status_code in (401, 403)
        (number,) = [each.id for each in page.house.keys.links()]
        page.house.keys.withdraw(number)
        assert in_the_house(page, link) == 401


def test_another_name_is_refused_here_too(home: Home) -> None:
    with home.page() as page:
        answer = page.viewer().get("/metrics", headers={"Host": "evil.example"})
    assert answer.status_code == 421
