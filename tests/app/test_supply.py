"""The flags of a Raspberry Pi as its kernel writes them, and machines that have none."""

from pathlib import Path

import pytest

from noonpot.app.supply import THROTTLED, Supply


def write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def test_a_machine_without_flags_knows_nothing(tmp_path: Path) -> None:
    supply = Supply(tmp_path)
    assert (supply.heat_c(), supply.under_voltage()) == (None, None)


def test_the_heat_is_that_of_the_processor(tmp_path: Path) -> None:
    write(tmp_path / "class/thermal/thermal_zone0/type", "battery\n")
    write(tmp_path / "class/thermal/thermal_zone0/temp", "31000\n")
    write(tmp_path / "class/thermal/thermal_zone1/type", "cpu-thermal\n")
    write(tmp_path / "class/thermal/thermal_zone1/temp", "52582\n")
    assert Supply(tmp_path).heat_c() == 52.582


@pytest.mark.parametrize(("flag", "expected"), [("0\n", False), ("1\n", True)])
def test_the_supply_is_judged_by_its_own_monitor(tmp_path: Path, flag: str, expected: bool) -> None:
    write(tmp_path / "class/hwmon/hwmon0/name", "cpu_thermal\n")
    write(tmp_path / "class/hwmon/hwmon1/name", "rpi_volt\n")
    write(tmp_path / "class/hwmon/hwmon1/in0_lcrit_alarm", flag)
    assert Supply(tmp_path).under_voltage() is expected


@pytest.mark.parametrize(
    ("flags", "expected"),
    [("0\n", False), ("50005\n", True), ("50000\n", False), ("80008\n", False)],
)
def test_an_older_kernel_tells_it_in_bits_of_which_only_now_counts(
    tmp_path: Path, flags: str, expected: bool
) -> None:
    write(tmp_path / THROTTLED, flags)
    assert Supply(tmp_path).under_voltage() is expected


@pytest.mark.parametrize("junk", ["", "warm\n", "\x00\xff"])
def test_what_cannot_be_read_is_not_known(tmp_path: Path, junk: str) -> None:
    write(tmp_path / "class/thermal/thermal_zone0/type", "cpu-thermal\n")
    write(tmp_path / "class/thermal/thermal_zone0/temp", junk)
    write(tmp_path / "class/hwmon/hwmon1/name", "rpi_volt\n")
    write(tmp_path / THROTTLED, junk)
    supply = Supply(tmp_path)
    assert (supply.heat_c(), supply.under_voltage()) == (None, None)
