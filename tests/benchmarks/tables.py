"""Writes the tables of docs/measurements.md: `python -m tests.benchmarks.tables [--most N]`.

    python -m tests.benchmarks.tables --most 3000000 --out docs/measurements.md
    python -m tests.benchmarks.tables --engine postgresql:///empty --out postgres.md

A quiet machine says more than a busy one. Up to 3,000,000 plants the files are grown one after the
other in a temporary folder (`--folder`): at most 2.5 GB at a time, and the graph that networkx is
asked in takes about 4 GB of memory.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
from pathlib import Path

from registry.location import Server
from tests.benchmarks.lineage import SIZES, Measured, chart, measure
from tests.benchmarks.timing import HEADING, Ratio

MEMORY_HEADING = "| what | plants | rows | KB at its height | bytes a row |\n|---|---|---|---|---|"

ABOUT = """# Traces and recalls, measured

Made by `python -m tests.benchmarks.tables`. Each pair was timed in turn in one run, after a
warm-up; the medians are shown, and the median of the pairwise ratios, ours over the other. The
lineage is thirty generations deep with 1 % uncertain parents; the same line, the same families and
the same full bench were set into each registry, so that an answer has one size in all of them.

- **The bare driver** runs the very statements of the question and fetches their rows.
- **networkx** has the whole lineage loaded beforehand; the time is of the walk alone. No aim is
  set: a walk in memory is its best case, loading takes minutes and gigabytes at the largest size,
  and it knows nothing of what changed since.
- **A workbook** has a row for each edge; it is opened and walked with openpyxl, as it is done by
  hand. Up to {workbook:,} plants, and not beyond: a sheet holds 1,048,576 rows.
"""


def main() -> None:
    """Grow, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=100_000, help="the largest registry, in plants")
    parser.add_argument("--engine", metavar="URL", help="an empty PostgreSQL database to ask in")
    parser.add_argument("--out", type=Path, help="the file to write; else it is printed")
    parser.add_argument("--folder", type=Path, help="where the registries are grown")
    said = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=said.folder) as folder:
        found = measure(Path(folder), said.most, said.engine, say)
    content = page(found, said.most, said.engine)
    if said.out is None:
        sys.stdout.write(content)
    else:
        said.out.write_text(content, encoding="utf-8")


def page(found: Measured, most: int, url: str | None) -> str:
    """The tables in Markdown."""
    from tests.benchmarks.lineage import WORKBOOK_MOST

    engine = f"PostgreSQL at {Server(url)}" if url else "SQLite"
    sizes = ", ".join(f"{size:,}" for size in SIZES if size <= most)
    return "\n".join(
        [
            ABOUT.format(workbook=WORKBOOK_MOST),
            f"{engine}; registries of {sizes} plants; Python {platform.python_version()}, "
            f"{os.cpu_count()} cores, {platform.machine()}.",
            "",
            "## Against other ways",
            "",
            *_table(found.ratios),
            "",
            "## Flat in the size of the registry",
            "",
            "An answer's time against that of the same answer in the smallest registry with it.",
            "",
            *_table(found.flat),
            "",
            "## Memory grows with the answer",
            "",
            "What Python allotted while a question was asked, at its height (tracemalloc).",
            "",
            MEMORY_HEADING,
            *(
                f"| {one.what} | {one.plants:,} | {one.rows:,} | {one.peak / 1024:,.0f} "
                f"| {one.peak / one.rows:,.0f} |"
                for one in found.memory
            ),
            "",
            "## A large chart",
            "",
            *_table((chart(),)),
            "",
        ]
    )


def _table(rows: tuple[Ratio, ...]) -> list[str]:
    return [HEADING, *(row.line() for row in rows)]


def say(words: str) -> None:
    """Progress, beside the tables."""
    sys.stderr.write(f"{words} ...\n")


if __name__ == "__main__":
    main()
