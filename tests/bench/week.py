"""A week of cooks in four simulated cookers under measured days, with a fault in two of three.

What is told is held against what was done to the garden: whether each fault is named right, how
soon, what is told that is not so, and how many messages a cook brings.

Run: python tests/bench/week.py [--seed N] [--cache FOLDER] [--workers N] [--each]
"""

import argparse
import random
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from statistics import median

from bench.measured import MeasuredDay, measured_days
from bench.week_books import Cooked, DayReport
from bench.week_day import lived
from bench.week_faults import KINDS, STATION_KINDS, Injected, Kind, deck
from noonpot.clock import SystemClock

SEED = 20260603
WEEK = [f"payerne-{day:02d}" for day in (1, 5, 6, 7, 9, 10, 15)]
"""The days in June 2016 on which somebody would cook with the sun: index from 0.67 to 1.01."""
COOKS_A_DAY = 8
MOST_MESSAGES = 6


def one_day(day: MeasuredDay, cards: Sequence[Kind | None], seed: str) -> DayReport:
    """A day in a folder of its own, gone afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        return lived(day, cards, seed, Path(folder))


def week(seed: int, days: Sequence[MeasuredDay], workers: int) -> list[DayReport]:
    """All days; equal seeds give equal weeks, whatever the workers."""
    cards = deck(random.Random(seed), len(days), COOKS_A_DAY)
    seeds = [f"{seed}/{day.name}" for day in days]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(one_day, days, cards, seeds))


def fault_table(faults: Sequence[Injected]) -> str:
    """A row for each kind; minutes from its beginning to the alert, median (worst), and to the
    phone, median.
    """
    lines = [
        "| Fault | Right name | Injected | Named | Over too soon | Raised [min] | Phone [min] |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for kind in (*KINDS, *STATION_KINDS):
        of_kind = [f for f in faults if f.kind.name == kind.name]
        raised = [f.raised_s - f.begun_s for f in of_kind if f.raised_s is not None]
        heard = [f.heard_s - f.begun_s for f in of_kind if f.heard_s is not None]
        worst = f"{minutes(raised)} ({max(raised) / 60:.1f})" if raised else "-"
        lines.append(
            f"| {kind.name} | {kind.alarm} | {len(of_kind)} | {len(raised)} "
            f"| {sum(f.too_short for f in of_kind)} | {worst} "
            f"| {minutes(heard)} |"
        )
    named = sum(f.raised_s is not None for f in faults)
    short = sum(fault.too_short for fault in faults)
    lines.append(
        f"\n{named} of {len(faults)} faults were named right; {short} of the others were over "
        "before they could be seen."
    )
    return "\n".join(lines)


def minutes(seconds: Sequence[float]) -> str:
    """The median in minutes, "-" of nothing."""
    return f"{median(seconds) / 60:.1f}" if seconds else "-"


def missed(reports: Iterable[DayReport]) -> Iterable[str]:
    """Every fault that was not named: what could be seen of it, and what was said instead."""
    for report in reports:
        for fault in report.faults:
            if fault.raised_s is None:
                ended_s = fault.begun_s if fault.ended_s is None else fault.ended_s
                lasted_s = ended_s - fault.begun_s
                why = f"over after {lasted_s / 60:.0f} min"
                if lasted_s >= fault.kind.needs_s:
                    why = f"stood for {lasted_s / 60:.0f} min, long enough"
                said = "; ".join(fault.instead) or "nothing"
                yield (
                    f"- {report.name} {fault.cooker} {fault.kind.name} ({fault.probe}): {why}; "
                    f"pot {fault.pot_c:.0f} °C, core {fault.core_c:.0f} °C at first. Said: {said}"
                )


def message_table(cooks: Sequence[Cooked]) -> str:
    """How many messages that are not urgent the cooks brought, and how often the phone rang with
    them: it gathers several in one.
    """
    lines = [
        "| Cooks | Number | Messages, median | Most | Above 6 | Calls, median | Most | Above 6 |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    groups = {
        "without a fault": [c for c in cooks if not c.faulty],
        "with a fault": [c for c in cooks if c.faulty],
        "all": list(cooks),
    }
    for name, group in groups.items():
        messages, calls = [c.calm for c in group], [c.calls for c in group]
        lines.append(f"| {name} | {len(group)} | {spread(messages)} | {spread(calls)} |")
    names = Counter(alert.alarm for c in cooks for alert in c.told)
    told = ", ".join(f"{alarm} {count}" for alarm, count in names.most_common())
    repeats = sum(alert.text.startswith("REPEAT") for c in cooks for alert in c.told)
    return "\n".join([*lines, f"\nBy name: {told}; {repeats} of them were repeats."])


def spread(counts: Sequence[int]) -> str:
    """Median, most, and how many are above the bar."""
    if not counts:
        return "- | - | -"
    above = sum(count > MOST_MESSAGES for count in counts)
    return f"{median(counts):g} | {max(counts)} | {above}"


def courses(reports: Iterable[DayReport]) -> Iterable[str]:
    """What was told of every cook, in the order of time; a star marks a repetition."""
    for report in reports:
        for cook in report.cooks:
            said = (
                f"{alert.at:%H:%M} {alert.alarm}{'*' * alert.text.startswith('REPEAT')}"
                for alert in cook.told
            )
            fault = ", with a fault" if cook.faulty else ""
            yield f"{report.name} {cook.cooker}, {cook.dish}{fault}: {'; '.join(said)}"


def summary(reports: Sequence[DayReport]) -> str:
    """All tables."""
    cooks = [cooked for report in reports for cooked in report.cooks]
    false = [entry for report in reports for entry in report.false]
    peeks, noticed = (sum(getattr(r, name) for r in reports) for name in ("peeks", "noticed"))
    rest = (
        f"{sum(c.done for c in cooks)} of {len(cooks)} cooks were told to be done; the phone rang "
        f"{sum(r.calls for r in reports)} times; of {peeks} lids lifted for a look and told nobody "
        f"of, {noticed} were noticed."
    )
    return "\n\n".join(
        [
            fault_table([fault for report in reports for fault in report.faults]),
            "Missed:\n" + ("\n".join(missed(reports)) or "none"),
            f"False alarms: {len(false)}\n"
            + "\n".join(f"- {what}: {text}" for what, text in false),
            message_table(cooks),
            rest,
        ]
    )


def main() -> None:
    """Live through the week and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--cache", type=Path, default=Path.home() / ".cache" / "noonpot-bench")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--each", action="store_true", help="print what was told of every cook")
    args = parser.parse_args()
    begun_s = SystemClock().moment().mono_s
    days = [day for day in measured_days(args.cache) if day.name in WEEK]
    print(f"seed {args.seed}", flush=True)
    reports = week(args.seed, days, args.workers)
    for line in courses(reports) if args.each else ():
        print(line)
    print(f"\n{summary(reports)}\n\n{SystemClock().moment().mono_s - begun_s:.0f} s")


if __name__ == "__main__":
    main()
