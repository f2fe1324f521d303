"""Writes docs/trust-measurements.md, one engine at a time: `python -m tests.benchmarks.trust_docs`.

    python -m tests.benchmarks.trust_docs --most 1000000
    sh tests/with_server.sh --durable python -m tests.benchmarks.trust_docs --most 100000

What the page says of the other engine stays. A quiet machine says more than a busy one; a million
entries and plants take some ten minutes and 4 GB in the temporary folder (`--folder`), which must
be on a disk: in memory nothing is synced.
"""

from __future__ import annotations

import argparse
import os
import platform
import sqlite3
import tempfile
from pathlib import Path

from tests import homes
from tests.benchmarks import trust, writers
from tests.benchmarks.tables import say
from tests.benchmarks.timing import HEADING

PAGE = Path(__file__).parents[2] / "docs" / "trust-measurements.md"

ABOUT = """# A record that can be trusted, measured

Made by `python -m tests.benchmarks.trust_docs`. Each pair was timed in turn in one run; the medians
are shown, and the median of the pairwise ratios, ours over the other.

- **Without the chain** is the same act, of which no entry is written.
- **Bare inserts** are the driver's own `executemany` of the same rows into the same tables with the
  same indexes, in one durable transaction. Recorded in bulk is the quickest way there is to record.
- **Reading and hashing the chain** reads every header and part and takes the SHA-256 of each, with
  the driver and hashlib. The whole check does that too, makes every table anew from the chain, and
  compares. The last tenth of the entries was recorded since the last whole check: that is what
  `--fast` looks at, while the whole chain is hashed beside it. How the hashing alone compares is
  shown as well; what is read is no longer read then.
- **Writers** are processes that look at a batch each, again and again, over a connection that they
  keep. **A bare transaction** inserts one row, as durably: SQLite with `synchronous = FULL`,
  PostgreSQL with `fsync` and `synchronous_commit` on. All queue, for one disk and one head.
- **Memory** is the most that a process held, with Python and every library.
"""

SERVER, FILE = "## On a server (PostgreSQL)", "## In a file (SQLite)"


def main() -> None:
    """Measure, and renew the engine's part of the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--most", type=int, default=20_000, help="the longest chain, and the most plants"
    )
    parser.add_argument("--seconds", type=float, default=3.0, help="how long writers write")
    parser.add_argument("--out", type=Path, default=PAGE, help="the page")
    parser.add_argument("--folder", type=Path, help="where the registries are made")
    said = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=said.folder) as folder:
        where = _where()
        found = trust.measure(Path(folder), said.most, said.seconds, say)
    before = said.out.read_text(encoding="utf-8") if said.out.exists() else ""
    said.out.write_text(renewed(before, part(found, where)), encoding="utf-8")


def renewed(page: str, new: str) -> str:
    """The page with the part of one engine put in place of the one before."""
    parts = {one.splitlines()[0]: one for one in (*page.split("\n## ")[1:], new[len("## ") :])}
    both = [parts[name[len("## ") :]] for name in (FILE, SERVER) if name[len("## ") :] in parts]
    return ABOUT + "".join(f"\n## {one.strip()}\n" for one in both)


def part(found: trust.Measured, where: str) -> str:
    """What is said of one engine."""
    tables = (
        ("What the chain costs", HEADING, found.chain),
        ("Checking", HEADING, found.checks),
        ("Memory of a check", trust.MEMORY_HEADING, found.memory),
        ("Several writers at once", writers.HEADING, found.rates),
        ("Opening", HEADING, found.opening),
    )
    lines = [SERVER if homes.SERVER else FILE, "", where, ""]
    for title, heading, rows in tables:
        lines += [f"### {title}", "", heading, *(row.line() for row in rows), ""]
    return "\n".join(lines)


def _where() -> str:
    """The engine and the machine, and how busy others keep it before anything is measured."""
    engine = f"SQLite {sqlite3.sqlite_version}"
    if homes.SERVER:
        import psycopg

        with psycopg.connect(homes.SERVER) as server:
            engine = f"PostgreSQL {server.info.server_version // 10000}"
    return (
        f"{engine}; Python {platform.python_version()}, {os.cpu_count()} cores, "
        f"{platform.machine()}; {os.getloadavg()[0]:.1f} processes were busy when it began."
    )


if __name__ == "__main__":
    main()
