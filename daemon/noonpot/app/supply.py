"""What the kernel of a Raspberry Pi tells of its power supply and its heat, below /sys."""

from pathlib import Path

SYSFS = Path("/sys")
# The name of the kernel's driver that watches the supply of a Raspberry Pi (from memory).
SUPPLY_DRIVER = "rpi_volt"
PROCESSOR = "cpu-thermal"
THROTTLED = "devices/platform/soc/soc:firmware/get_throttled"
UNDER_VOLTAGE_NOW = 0x1  # bit 0 of that number, in its makers' documentation (from memory)


class Supply:
    """Reads the flags anew at every call; a file that is not there makes its answer None."""

    def __init__(self, sysfs: Path = SYSFS) -> None:
        self._sysfs = sysfs

    def heat_c(self) -> float | None:
        """The temperature of the processor [°C]."""
        for zone in sorted(self._sysfs.glob("class/thermal/thermal_zone*")):
            if _text(zone / "type") == PROCESSOR:
                thousandths = _number(zone / "temp", 10)
                return None if thousandths is None else thousandths / 1000
        return None

    def under_voltage(self) -> bool | None:
        """Whether the supply is too weak now."""
        for monitor in sorted(self._sysfs.glob("class/hwmon/hwmon*")):
            if _text(monitor / "name") == SUPPLY_DRIVER:
                alarm = _number(monitor / "in0_lcrit_alarm", 10)
                return None if alarm is None else alarm != 0
        flags = _number(self._sysfs / THROTTLED, 16)
        return None if flags is None else bool(flags & UNDER_VOLTAGE_NOW)


def _text(path: Path) -> str | None:
    try:
        return path.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return None


def _number(path: Path, base: int) -> int | None:
    text = _text(path)
    try:
        return None if text is None else int(text, base)
    except ValueError:
        return None
