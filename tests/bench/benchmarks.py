"""All benchmarks one after the other, as one page of Markdown: python tests/bench/benchmarks.py

It prints the page and writes it to docs/benchmarks.md. Each benchmark is a program of its own, so
that none measures the leftovers of another; one that fails is named, and the others go on.

Some of them alone, printed only: python tests/bench/benchmarks.py store_size sun_cost
"""

import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from bench.figures import rows_not_kept
from bench.machine import load, told
from noonpot.clock import SystemClock

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "docs" / "benchmarks.md"
PROGRAMS = (
    *("daemon_cost", "store_size", "backup_cost", "forecast_cost", "sun_cost"),
    *("page_cost", "page_view", "uplink_cost"),
)
QUIET = 0.5
"""With more load than this before the first benchmark, other work runs on the machine."""
HEAD = """# Benchmarks

What `make bench` measured on {day}, every figure beside its budget and its floor. This page is \
written by that command, and its next run replaces it. How things were measured before, and what \
was not, stands in [measurements.md](measurements.md).

A **floor** is the least that could do the same: a library's bare call, a bare loop. It is taken \
in the same run, in turn with ours. The **ratio** is how many times the floor we need, by the \
medians; where processor times stand on both sides, it is theirs. Of a figure that was taken \
several times the median comes first. **Kept** judges every one of them: `median only` says that \
the worst was beyond the budget.

## The machine

{machine}
- other work: {load} processes wanted a core before the first benchmark, {end} after the last{busy}
"""
BUSY = (
    ". **Other work ran on the same cores**: times here are too long, and a miss may be its doing;"
    " processor times suffer less. A run on a quiet machine must replace this page"
)


def measured(name: str) -> str:
    """What one benchmark prints."""
    done = subprocess.run(
        [sys.executable, HERE / f"{name}.py"],
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    if done.returncode == 0:
        return done.stdout.strip()
    return f"## {name}\n\n**Not measured**: the program ended with {done.returncode}."


def misses(report: str) -> str:
    """The budgets that were not kept."""
    lines = [f"- {budget}: {kept}, {value}" for budget, value, kept in rows_not_kept(report)]
    return "\n\n".join(["## Budgets not kept", "\n".join(lines) or "None."])


def main(names: Sequence[str]) -> None:
    """Measure, print, and write the page when all was measured."""
    day, before = SystemClock().moment().at.date(), load()
    parts = []
    for name in names or PROGRAMS:
        parts.append(measured(name))
        print(parts[-1], end="\n\n", flush=True)
    report = "\n\n".join(parts)
    busy = BUSY if float(before) > QUIET else ""
    head = HEAD.format(day=day, machine=told(), load=before, end=load(), busy=busy)
    page = f"{head}\n{misses(report)}\n\n{report}\n"
    print(head, misses(report), sep="\n")
    if not names:
        PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
