"""What a probe says: a reading or a named fault, both plain values."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Role(StrEnum):
    """What a probe measures. Irradiance is global horizontal, W/m²; the others are °C."""

    POT = "pot"
    CORE = "core"
    AMBIENT = "ambient"
    IRRADIANCE = "irradiance"


class FaultKind(StrEnum):
    """One name for each way a reading can be wrong."""

    # 1-Wire
    NOT_ANSWERING = "not-answering"
    CHECKSUM = "checksum"
    POWER_ON_VALUE = "power-on-value"
    LOW_POWER = "low-power"
    BUS_SHORTED = "bus-shorted"
    GARBLED = "garbled"
    STALE = "stale"
    # thermocouple converter
    OPEN_CIRCUIT = "open-circuit"
    SHORT_TO_GROUND = "short-to-ground"
    SHORT_TO_SUPPLY = "short-to-supply"
    CONVERTER_FAULT = "converter-fault"
    SPI_SILENT = "spi-silent"
    SPI_STUCK_HIGH = "spi-stuck-high"
    FRAME_ERROR = "frame-error"
    REVERSED = "reversed"
    BOARD_TOO_HOT = "board-too-hot"
    SHORTED = "shorted"
    # any bus
    OUT_OF_RANGE = "out-of-range"
    JUMP = "jump"
    STUCK = "stuck"
    BUS_BUSY = "bus-busy"
    BUS_HANGS = "bus-hangs"
    DRIVER_ERROR = "driver-error"


@dataclass(frozen=True, slots=True)
class Measured:
    """What a bus read: °C, or W/m² for irradiance. ``doubt`` names a fault that only the
    neighbours in time can confirm (exactly 85.0 °C is both a start value and a temperature).
    ``board_c`` is the temperature of a thermocouple's converter [°C], where there is one.
    """

    value: float
    doubt: FaultKind | None = None
    board_c: float | None = None


@dataclass(frozen=True, slots=True)
class Defect:
    """A read that gave no usable value, and why."""

    kind: FaultKind
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured value of one probe. ``at`` is aware UTC, ``mono_s`` the monotonic clock [s];
    ``board_c`` is not kept in the store.
    """

    probe: str
    at: datetime
    mono_s: float
    value: float
    doubt: FaultKind | None = None
    board_c: float | None = None


@dataclass(frozen=True, slots=True)
class Fault:
    """A named failure of one probe at one moment."""

    probe: str
    at: datetime
    mono_s: float
    kind: FaultKind
    detail: str = ""


Sample = Reading | Fault
