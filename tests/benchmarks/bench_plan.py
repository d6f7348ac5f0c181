"""Times of the steps on the fixed case, by pytest-benchmark: `pytest tests/benchmarks/bench_plan.py`.

No timed assertion. FENCEGIS_BENCH names a folder that keeps the cases between runs.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fencegis import plan_site, read_site, write_plan

sys.path.insert(0, str(Path(__file__).parent))
import make_case

if TYPE_CHECKING:
    from pytest_benchmark.fixture import BenchmarkFixture


@pytest.fixture(scope="session")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Path:
    kept = os.environ.get("FENCEGIS_BENCH")
    return Path(kept) if kept else tmp_path_factory.mktemp("cases")


@pytest.mark.parametrize("name", ["loop-30km", "folded-3km"])
def test_read(benchmark: BenchmarkFixture, cases: Path, name: str) -> None:
    site = benchmark(read_site, make_case.case(cases, name))
    assert site.terrain is not None


@pytest.mark.parametrize("name", ["loop-30km", "folded-3km", "folded-30km"])
def test_plan(benchmark: BenchmarkFixture, cases: Path, name: str) -> None:
    plan = benchmark(plan_site, read_site(make_case.case(cases, name)))
    assert len(plan.posts) > 1000


def test_write(benchmark: BenchmarkFixture, cases: Path, tmp_path: Path) -> None:
    plan = plan_site(read_site(make_case.case(cases, "loop-30km")))
    paths = benchmark.pedantic(write_plan, args=(plan, tmp_path / "plan"), rounds=3, warmup_rounds=1)
    assert paths
