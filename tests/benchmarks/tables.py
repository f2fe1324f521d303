r"""Writes the tables of docs/measurements.md: `python -m tests.benchmarks.tables [--most N]`.

    python -m tests.benchmarks.tables --most 3000000 --out docs/measurements.md
    sh tests/with_server.sh python -m tests.benchmarks.tables --server --most 3000000 \
        --out docs/measurements.md

A run renews its own engine's part of the page and keeps the other's. A quiet machine says more than
a busy one. Up to 3,000,000 plants the files are grown one after the other in a temporary folder
(`--folder`): at most 2.5 GB at a time, and the graph that networkx is asked in takes about 4 GB of
memory. What the server keeps is in memory too where there is a /dev/shm; TMPDIR puts it elsewhere.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import sqlite3
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import psycopg

from tests.benchmarks.lineage import WORKBOOK_MOST, Measured, Memory, chart, measure, sizes
from tests.benchmarks.timing import HEADING, Ratio

ENGINES = ("SQLite", "PostgreSQL")
CHART = "A large chart"
MEMORY_HEADING = (
    "| what | plants | rows | KB at its height | bytes a row | against the smallest registry |\n"
    "|---|---|---|---|---|---|"
)

ABOUT = f"""# Traces and recalls, measured

Made by `python -m tests.benchmarks.tables`; each run renews the part of its own engine. Each pair
was timed in turn in one run, after a warm-up; the medians are shown, and the median of the pairwise
ratios, ours over the other. The lineage is thirty generations deep with 1 % uncertain parents; the
same line, the same families and the same full benches were set into each registry, so that an
answer has one size in all of them.

- **The bare driver** runs the very statements of the question and fetches their rows. The aim is
  at most twice its time; an answer of a hundred rows is to take less than 1 ms, whatever the ratio.
  A whole circle asks eight statements, so that of few rows has neither.
- **networkx** has the whole lineage loaded beforehand; the time is of the walk alone. No aim is
  set: a walk in memory is its best case, loading takes minutes and gigabytes at the largest size,
  and it knows nothing of what changed since.
- **A workbook** has a row for each edge, and one for each plant and its place; it is opened and
  walked with openpyxl, as it is done by hand. Up to {WORKBOOK_MOST:,} plants, and not beyond: a
  sheet holds 1,048,576 rows.
"""


def main() -> None:
    """Grow, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=100_000, help="the largest registry, in plants")
    parser.add_argument("--engine", metavar="URL", help="an empty PostgreSQL database to ask in")
    parser.add_argument(
        "--server", action="store_true", help="ask in the server of tests/with_server.sh"
    )
    parser.add_argument("--out", type=Path, help="the page to renew; else its part is printed")
    parser.add_argument("--folder", type=Path, help="where the registries are grown")
    said = parser.parse_args()
    url = os.environ["ORTET_TEST_SERVER"] if said.server else said.engine
    with tempfile.TemporaryDirectory(dir=said.folder) as folder:
        found = measure(Path(folder), said.most, url, say)
    new = parts(found, said.most, url)
    if said.out is None:
        sys.stdout.write(page(new))
    else:
        before = said.out.read_text(encoding="utf-8") if said.out.exists() else ""
        said.out.write_text(page(parts_of(before) | new), encoding="utf-8")


def page(found: Mapping[str, str]) -> str:
    """The whole page: what it is about, then each part that there is."""
    told = [f"## {name}\n\n{found[name]}\n" for name in (*ENGINES, CHART) if name in found]
    return "\n".join([ABOUT, *told])


def parts_of(text: str) -> dict[str, str]:
    r"""The parts of a page by their headings; of another page, none.

    >>> parts_of("# About\n\n## SQLite\n\n### Other\n\n1\n\n## Else\n\n2\n")
    {'SQLite': '### Other\n\n1'}
    """
    _, *split = re.split(r"^## (.+)\n", text, flags=re.MULTILINE)
    named = zip(split[::2], split[1::2], strict=True)
    return {name: words.strip() for name, words in named if name in (*ENGINES, CHART)}


def parts(found: Measured, most: int, url: str | None) -> dict[str, str]:
    """What one run measured: the part of its engine, and that of the chart, which needs none."""
    engine = ENGINES[url is not None]
    grown = ", ".join(f"{size:,}" for size in sizes(most))
    lines = [
        f"{engine} {_version(url)}; registries of {grown} plants; Python "
        f"{platform.python_version()}, {os.cpu_count()} cores, {platform.machine()}.",
        "",
        "### Against other ways",
        "",
        *_table(found.ratios),
        "",
        "### Flat in the size of the registry",
        "",
        "An answer's time against that of the same answer in the smallest registry with it.",
        "",
        *_table(found.flat),
        "",
        "### Memory grows with the answer",
        "",
        "What Python allotted while a question was asked, at its height (tracemalloc), and that "
        "against the same answer in the smallest registry with it.",
        "",
        MEMORY_HEADING,
        *map(_memory, found.memory),
    ]
    return {engine: "\n".join(lines), CHART: "\n".join(_table((chart(),)))}


def _version(url: str | None) -> str:
    if url is None:
        return sqlite3.sqlite_version
    with psycopg.connect(url) as connection:
        return str(connection.info.parameter_status("server_version")).split()[0]


def _table(rows: Sequence[Ratio]) -> list[str]:
    return [HEADING, *(row.line() for row in rows)]


def _memory(one: Memory) -> str:
    return (
        f"| {one.what} | {one.plants:,} | {one.rows:,} | {one.peak / 1024:,.0f} "
        f"| {one.peak / one.rows:,.0f} | {one.peak / one.smallest:.2f} |"
    )


def say(words: str) -> None:
    """Progress, beside the tables."""
    sys.stderr.write(f"{words} ...\n")


if __name__ == "__main__":
    main()
