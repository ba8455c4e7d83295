"""What a command takes for a reading when it reads a probe itself."""

from pathlib import Path

from fakes import FakeClock
from hw.sysfs import W1Tree
from noonpot.app.buses import open_bus
from noonpot.app.ears import OwnEar
from noonpot.core.readings import Fault, FaultKind, Reading, Role
from noonpot.core.station import Place, ProbeSpec
from noonpot.ports import Surroundings
from noonpot.settings.values import BusSection
from simday import SimpleSun

ADDRESS = "28-000000000001"
LOAF = ProbeSpec("loaf", Role.CORE, "w1", ADDRESS)


def test_only_what_is_beyond_doubt_is_taken_for_a_reading(tmp_path: Path) -> None:
    tree, clock = W1Tree(tmp_path), FakeClock()
    section = BusSection("w1", "ds18b20", {"base": str(tree.base)})
    bus = open_bus(section, Surroundings(clock, Place(40, -105, 1600), SimpleSun()))
    ear = OwnEar({"w1": bus}, [LOAF], clock)
    now = clock.moment()
    tree.set(ADDRESS, 0.5)
    assert ear.listen() == [Reading("loaf", now.at, now.mono_s, 0.5)]
    # the same bytes in no time: nothing was measured
    assert ear.listen() == [Fault("loaf", now.at, now.mono_s, FaultKind.STALE)]
    tree.set(ADDRESS, 85.0)  # its start value, or hot water
    assert ear.listen() == []
    tree.unplug(ADDRESS)
    (fault,) = ear.listen()
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.NOT_ANSWERING
