"""Fuzzing that is led by the code it reaches, as a program: its arguments are a target and a time
in seconds.

It needs atheris, which is no dependency of the project: ``pip install atheris`` into the
environment of the tests, where there is a wheel for this Python. Each target is a function of
bytes; what it must not do ends the run, and the bytes that did it lie in the folder told.
"""

import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any

HOW = "atheris is not installed; 'pip install atheris' brings it where there is a wheel"
TARGETS = ("configuration", "recording", "letter", "command", "weather", "kernel")
MODULES = (
    "noonpot.settings.files",
    "noonpot.settings.words",
    "noonpot.core.detail",
    "noonpot.core.header",
    "noonpot.core.recording",
    "noonpot.core.orders",
    "noonpot.core.strictjson",
    "noonpot.notify.commands",
    "noonpot.store.inbox",
    "noonpot_hw.payload",
    "noonpot_hw.scratchpad",
)
Target = Callable[[bytes], object]


@contextmanager
def target(name: str, folder: Path) -> Iterator[tuple[Target, list[bytes]]]:
    """What is fuzzed under this name, and valid inputs to begin with."""
    from endurance.fuzz_tally import Tally
    from endurance.fuzz_targets import CONFIGURATION, RECORDING, Desk, Household, Porch, replay
    from hw.sysfs import scratchpad, slave_text
    from noonpot_hw.payload import number_in
    from noonpot_hw.scratchpad import sound

    tally = Tally(name)
    act: Target
    if name == "configuration":
        act, seeds = Household(folder).configure, [CONFIGURATION.encode()]
    elif name == "recording":
        act, seeds = replay, [RECORDING.encode()]
    elif name == "letter":
        porch = Porch(folder / "inbox")
        body = b'{"cooker":"box","at":"2026-06-03T07:00:00Z","kind":"lid","detail":{"a":"b"}}'
        act, seeds = (lambda raw: porch.put(b"1780470000.000000-a.json", raw)), [body]
    elif name == "command":
        desk = Desk()
        act = lambda raw: desk.hear("noonpot/garden/box/do/load", raw)  # noqa: E731
        seeds = [b'{"id":"command-1","time":"2026-06-03T07:00:00Z","token":"x","mass_kg":1}']
    elif name == "weather":
        act, seeds = (lambda raw: number_in(raw, "a.b")), [b'{"a": {"b": 612.5}}']
    else:
        act = lambda raw: sound(raw.decode("ascii", errors="replace"))  # noqa: E731
        seeds = [slave_text(scratchpad(63.5)).encode()]
    yield (lambda raw: tally.case(lambda: act(raw))), seeds


def main(name: str, seconds: int) -> None:
    """Fuzz one target for so long. Ends the process: with 0 when nothing was found."""
    atheris: Any = import_module("atheris")

    with atheris.instrument_imports(include=["noonpot", "noonpot_hw", "tomllib", "json", "csv"]):
        for module in MODULES:
            import_module(module)
    folder = Path(tempfile.mkdtemp(prefix="noonpot-fuzz-"))
    (folder / "corpus").mkdir()
    print(f"{name}: findings in {folder}", flush=True)
    with target(name, folder) as (act, seeds):
        for number, seed in enumerate(seeds):
            (folder / "corpus" / str(number)).write_bytes(seed)
        seed_of_chance = int(os.environ.get("NOONPOT_SEED") or 1)
        options = [
            sys.argv[0],
            str(folder / "corpus"),
            f"-max_total_time={seconds}",
            f"-seed={seed_of_chance}",
            "-max_len=8000",
            "-timeout=5",
            f"-artifact_prefix={folder}/",
            "-print_final_stats=1",
        ]
        atheris.Setup(options, act)
        atheris.Fuzz()


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))
    main(sys.argv[1], int(sys.argv[2]))
