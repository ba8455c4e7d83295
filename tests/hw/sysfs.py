"""A 1-Wire tree as the kernel shows it, with the right bytes and checksums."""

from pathlib import Path

NOBODY = bytes.fromhex("ffffffffffffffffff")


def crc8(data: bytes) -> int:
    """The 1-Wire checksum bit by bit, written unlike the driver's on purpose: as a polynomial
    division of the bits in the order they pass the wire. Source: Maxim application note 27."""
    register = [0] * 8
    for bit in (byte >> place & 1 for byte in data for place in range(8)):
        feedback = bit ^ register[7]
        register = [feedback, *register[:7]]
        register[4] ^= feedback
        register[5] ^= feedback
    return sum(bit << 7 - place for place, bit in enumerate(register))


def scratchpad(celsius: float, resolution_bits: int = 12) -> bytes:
    """The nine bytes a genuine DS18B20 holds at this temperature. Byte 6 counts down with the
    last four bits. Source: DS18B20 data sheet, figure 8 and table 1."""
    raw = round(celsius * 16)
    config = 0x1F | resolution_bits - 9 << 5
    eight = raw.to_bytes(2, "little", signed=True) + bytes((0x4B, 0x46, config, 0xFF))
    eight += bytes((0x10 - (raw & 0xF), 0x10))
    return eight + bytes((crc8(eight),))


def slave_text(nine: bytes, kept: bytes | None = None) -> str:
    """The two lines of ``w1_slave``; ``kept`` are the bytes of the last sound read, when other.
    Source: Documentation/w1/slaves/w1_therm.rst of the Linux kernel."""
    crc = crc8(nine[:8])
    kept = nine if kept is None else kept
    milli = int.from_bytes(kept[:2], "little", signed=True) * 1000 // 16
    verdict = "YES" if crc == nine[8] else "NO"
    return f"{nine.hex(' ')} : crc={crc:02x} {verdict}\n{kept.hex(' ')} t={milli}\n"


class W1Tree:
    """A directory to give as ``base``, and the sensors in it."""

    def __init__(self, root: Path) -> None:
        self.base = root / "devices"
        (self.base / "w1_bus_master1").mkdir(parents=True)

    def set(self, address: str, celsius: float, resolution_bits: int = 12) -> None:
        """Plug the sensor in if need be, and let it have this temperature [°C]."""
        self.write(address, slave_text(scratchpad(celsius, resolution_bits)))

    def write(self, address: str, text: str) -> None:
        """Let the next read of this sensor bring any text; a reader sees the old or the new."""
        device = self.base / address
        device.mkdir(exist_ok=True)
        draft = device / "draft"
        draft.write_text(text)
        draft.replace(device / "w1_slave")

    def feed_through_data_wire(self, address: str) -> None:
        """Wire the sensor with two wires only."""
        (self.base / address / "ext_power").write_text("0\n")

    def unplug(self, address: str) -> None:
        """Take the sensor away."""
        for file in (self.base / address).iterdir():
            file.unlink()
        (self.base / address).rmdir()
