"""The page of measurements: each run renews its own engine's part and keeps the other's."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.lineage import ANSWERS, sizes
from tests.benchmarks.tables import CHART, ENGINES, page, parts_of

PAGE = Path(__file__).parents[2] / "docs" / "measurements.md"


@pytest.mark.parametrize("order", [ENGINES, ENGINES[::-1]])
def test_a_run_keeps_what_the_other_engine_measured(order):
    text = ""
    for engine in order:
        text = page(parts_of(text) | {engine: f"{engine} 1\n\n### A\n\n| 1 |", CHART: "old"})
    text = page(parts_of(text) | {"SQLite": "anew\n\n### A\n\n| 2 |", CHART: "new"})
    assert parts_of(text) == {
        "SQLite": "anew\n\n### A\n\n| 2 |",
        "PostgreSQL": "PostgreSQL 1\n\n### A\n\n| 1 |",
        CHART: "new",
    }
    assert text.index("## SQLite") < text.index("## PostgreSQL") < text.index(f"## {CHART}")


def test_the_page_of_the_docs_is_as_the_command_writes_it():
    text = PAGE.read_text(encoding="utf-8")
    assert set(parts_of(text)) >= {"SQLite", CHART}
    assert page(parts_of(text)) == text


def test_the_largest_registry_said_is_one_of_those_grown_and_its_largest_answer_is_asked():
    assert sizes(3_000_000) == [1_000, 100_000, 1_000_000, 3_000_000]
    assert sizes(30_000) == [1_000, 30_000]
    assert max(ANSWERS) == 200_000
