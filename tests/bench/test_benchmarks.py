"""The benchmarks themselves: what they call kept, which machine they name, what they write."""

import platform
import re
import sys
from pathlib import Path

import numpy as np
import pytest

from bench.bare_ensemble import AIR_C, march
from bench.bare_store import BareStore
from bench.benchmarks import PAGE, PROGRAMS, misses
from bench.budgets import PROMISED, Bar, free
from bench.figures import HEAD, Figure, Series, once, section
from bench.machine import machine
from bench.processes import Took, run

TEN = Bar("a thing", 0, 10, " ms", 1)


@pytest.mark.parametrize(
    ("values", "kept"),
    [((3.0, 9.0, 10.0), "yes"), ((3.0, 9.0, 10.1), "median only"), ((3.0, 11.0, 12.0), "missed")],
)
def test_a_figure_is_kept_when_even_its_worst_is_within(
    values: tuple[float, ...], kept: str
) -> None:
    assert Figure(TEN, Series(values)).kept() == kept


def test_a_ratio_is_of_processor_times_where_both_sides_have_them() -> None:
    busy, floor = Series([80.0], [8.0]), Series([10.0], [2.0])
    assert Figure(TEN, busy, floor).ratio() == "4"
    assert Figure(TEN, Series([80.0]), floor).ratio() == "8"
    assert Figure(TEN, busy).ratio() == "-"


def test_a_report_names_what_was_not_kept_and_nothing_else() -> None:
    told = section(
        "Parts",
        [
            Figure(TEN, once(11.0), once(1.0)),
            Figure(Bar("another", 0, 1), once(0.5)),
            Figure(free("promised by nobody", " s", 1), once(99.0)),
        ],
        "A remark.",
    )
    assert misses(told).splitlines()[2:] == ["- a thing, at most 10 ms: missed, 11.0 ms"]
    assert "| a thing, at most 10 ms | 11.0 ms | 1.0 ms | 11 | missed |" in told


def test_the_machine_is_told_without_its_name_and_without_a_path() -> None:
    told = machine()
    assert re.fullmatch(r".+, \d+ cores, .+", told["processor"])
    assert all(re.search(r"\d", version) for version in told.values())
    for text in told.values():
        assert platform.node() not in text
        assert str(Path.home()) not in text


def test_the_page_holds_every_budget_and_the_table_of_every_program() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert "**Not measured**" not in page
    for bar in PROMISED:
        assert f"| {bar.name}" in page
    assert page.count(f"| {' | '.join(HEAD)} |") == len(PROGRAMS)


def test_a_bare_ensemble_heats_every_core_by_its_light() -> None:
    reached, cores = march(50, 120, np.random.default_rng(1))
    assert (cores[-1] > AIR_C + 20).all()
    assert np.isfinite(reached).any()
    assert np.isfinite(cores).all()


def test_a_bare_store_holds_what_was_committed(tmp_path: Path) -> None:
    store = BareStore(tmp_path / "bare.db")
    store.commit([(1, 16), (2, 32)])
    store.close()
    assert (tmp_path / "bare.db").stat().st_size == 2 * 4096


def test_a_program_that_fails_is_not_timed() -> None:
    assert isinstance(run([sys.executable, "-S", "-c", ""]), Took)
    with pytest.raises(RuntimeError, match="ended with 3"):
        run([sys.executable, "-S", "-c", "raise SystemExit(3)"])
