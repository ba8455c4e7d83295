"""Faults done to the garden and its wires, and undone."""

from bench.week_faults import Injected
from bench.week_garden import Wires
from noonpot.core.cook import Event
from noonpot.core.readings import Role

TURNED = ("aimed-wrong", "knocked-aside", "blown-over", "lid-open")
"""What somebody sees who turns the cooker."""


def damage(wires: Wires, fault: Injected, away: Event) -> None:
    """Let it go wrong; ``away`` turns the cooker away from the sun."""
    pot, core = f"{fault.cooker}-pot", f"{fault.cooker}-core"
    match fault.kind.name:
        case "pulled-out" | "never-in":
            fault.probe = core
            wires.moved[core] = Role.POT
        case "swapped":
            wires.moved |= {core: Role.POT, pot: Role.CORE}
        case "lid-open":
            wires.cooker(fault.cooker).open_lid(fault.kind.limit_s)
        case "blown-over":
            wires.cooker(fault.cooker).open_lid(fault.kind.limit_s)
            wires.notice(away)
        case "knocked-aside":
            wires.notice(away)
        case "bus-hung":
            wires.hung = True
        case wire:
            wires.broken[fault.probe] = wire


def repair(wires: Wires, fault: Injected, back: Event) -> None:
    """Put it right; ``back`` turns the cooker to the sun."""
    wires.broken.pop(fault.probe, None)
    for probe in (f"{fault.cooker}-core", f"{fault.cooker}-pot"):
        wires.moved.pop(probe, None)
    if fault.kind.name in TURNED:
        wires.notice(back)
    match fault.kind.name:
        case "lid-open" | "blown-over":
            wires.cooker(fault.cooker).open_s = 0.0
        case "bus-hung":
            wires.hung = False
