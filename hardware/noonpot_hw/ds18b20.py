"""DS18B20 thermometers on the kernel's 1-Wire bus, read by w1thermsensor.

The library decodes the temperature; the text it read is kept and judged beside it, because the
library checks no checksum, names many troubles alike, and calls every 85.0 °C a failed start.
"""

import io
import math
import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from noonpot.core.cook import Event
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Clock, Found, Surroundings
from noonpot_hw.scratchpad import fresh_after_s, sound

DEFAULT_BASE = "/sys/bus/w1/devices"
DEFAULT_MIN_READ_S = 0.1
LOWEST_C, HIGHEST_C = -20.0, 125.0
POWER_ON_C = 85.0
LOW_POWER_C = 127.9375
"""Source of both values: Documentation/w1/slaves/w1_therm.rst of the Linux kernel."""

_ADDRESS = re.compile(r"28-[0-9a-f]{12}")


class _KeptFile:
    """A file that keeps the text of its last read; stands where the library opens ``w1_slave``."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.text = ""

    def open(self, mode: str) -> io.StringIO:
        """Read the file whole: in sysfs this is what makes the sensor measure."""
        with self._path.open(mode, encoding="ascii", errors="replace") as file:
            self.text = file.read()
        return io.StringIO(self.text)


class Ds18b20Bus:
    """All DS18B20 under one sysfs directory; the kernel's name of a device is its address."""

    def __init__(self, base: Path, min_read_s: float, clock: Clock) -> None:
        self._base = base
        self._min_read_s = min_read_s
        self._clock = clock
        self._w1 = _library()
        # The library keeps its directory in the class; a class of our own leaves other buses be.
        self._thermometer = type("Thermometer", (self._w1.W1ThermSensor,), {"BASE_DIRECTORY": base})
        self._last: dict[str, bytes] = {}

    def scan(self) -> Sequence[Found]:
        """Every DS18B20 the kernel lists, by address."""
        return [Found(path.name, _described(path)) for path in sorted(self._base.glob("28-*"))]

    def read(self, address: str) -> Measured | Defect:
        """One measurement [°C]; at 12 bits the sensor takes 0.75 s for it."""
        if not _ADDRESS.fullmatch(address):
            return Defect(
                FaultKind.NOT_ANSWERING, f"{address!r} is no address like 28-0316a2795fff"
            )
        begun_s = self._clock.moment().mono_s
        decoded = self._decoded(address)
        if isinstance(decoded, Defect):
            return decoded
        value, scratchpad = decoded
        took_s = self._clock.moment().mono_s - begun_s
        unchanged = self._last.get(address) == scratchpad
        self._last[address] = scratchpad
        if value == LOW_POWER_C:
            return Defect(FaultKind.LOW_POWER, f"start value {LOW_POWER_C} °C")
        if not LOWEST_C <= value <= HIGHEST_C:
            return Defect(FaultKind.OUT_OF_RANGE, f"{value:g} °C")
        if value == POWER_ON_C:
            return Measured(value, FaultKind.POWER_ON_VALUE)
        if unchanged and took_s < fresh_after_s(scratchpad, self._min_read_s):
            return Measured(value, FaultKind.STALE)
        return Measured(value)

    def notice(self, event: Event) -> None:
        """Wires do not care what happens in the garden."""

    def close(self) -> None:
        """Nothing is held between reads."""

    def _decoded(self, address: str) -> tuple[float, bytes] | Defect:
        """The library's temperature [°C] and the nine bytes it came from."""
        value = math.nan
        try:
            sensor: Any = self._thermometer(self._w1.Sensor.DS18B20, address.removeprefix("28-"))
            sensor.sensorpath = kept = _KeptFile(sensor.sensorpath)
            value = sensor.get_temperature()
        except self._w1.NoSensorFoundError:
            return Defect(FaultKind.NOT_ANSWERING, self._absence(address))
        except self._w1.ResetValueError:
            value = POWER_ON_C
        except (self._w1.W1ThermSensorError, IndexError, ValueError):
            pass  # The text tells more than these do.
        scratchpad = sound(kept.text)
        return scratchpad if isinstance(scratchpad, Defect) else (value, scratchpad)

    def _absence(self, address: str) -> str:
        if not self._base.is_dir():
            return f"{self._base} does not exist; is dtoverlay=w1-gpio in config.txt?"
        if not (self._base / address).is_dir():
            return f"{address} is not on the bus"
        return f"the kernel cannot read {address}"


def open_bus(options: Mapping[str, object], surroundings: Surroundings) -> Bus:
    """The bus behind a ``[[bus]]`` section with ``driver = "ds18b20"``.

    Options: ``base``, the sysfs directory (it may be missing; each read then says so), and
    ``min_read_s``, the time [s] below which a 12-bit read that brings the same bytes again
    cannot have been measured anew, 0 for never.
    Raises BusError for a wrong option.
    """
    if unknown := sorted(options.keys() - {"base", "min_read_s"}):
        raise BusError(f"ds18b20: unknown option {unknown[0]!r}; there are 'base' and 'min_read_s'")
    base = options.get("base", DEFAULT_BASE)
    if not isinstance(base, str) or not base.startswith("/"):
        raise BusError(f"ds18b20: base is {base!r}; give a full path like {DEFAULT_BASE}")
    min_read_s = options.get("min_read_s", DEFAULT_MIN_READ_S)
    if isinstance(min_read_s, bool) or not isinstance(min_read_s, int | float):
        raise BusError(f"ds18b20: min_read_s is {min_read_s!r}; give seconds, for instance 0.1")
    if not 0 <= min_read_s <= 0.75:
        raise BusError(f"ds18b20: min_read_s is {min_read_s}; it must be between 0 and 0.75")
    return Ds18b20Bus(Path(base), float(min_read_s), surroundings.clock)


def _library() -> Any:
    # Unless told not to, the library runs modprobe through a shell when it is imported.
    os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] = "1"
    import w1thermsensor

    return w1thermsensor


def _described(device: Path) -> str:
    """In words, with the warning that belongs to a sensor fed through its data wire."""
    try:
        fed = (device / "ext_power").read_text().strip() != "0"
    except OSError:
        fed = True
    return "DS18B20 thermometer" + ("" if fed else ", two-wire power: may fail when hot")
