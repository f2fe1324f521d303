"""Prints the table of ratios: `python -m tests.benchmarks [--most 1000000]`.

Bytecode is compiled first, so that start-up is not charged with compiling. Registries of three
sizes are grown in a temporary folder; the largest takes about a minute.
"""

from __future__ import annotations

import argparse
import compileall
import os
import sqlite3
import sys
import tempfile
from pathlib import Path

import registry
from registry.storage import lineage_queries as lineage
from registry.storage.engine import make_engine
from tests.benchmarks import labels, names, recording, startup, verdict
from tests.benchmarks import lineage as across
from tests.benchmarks.grow import grow
from tests.benchmarks.timing import HEADING, Ratio, pair

SIZES = (1_000, 100_000, 1_000_000)
FEW, FEW_SECONDS = 100, 0.001
"""Below so many rows the fixed cost decides; it should stay under a millisecond."""


def main() -> None:
    """Grow, time, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=SIZES[-1], help="the largest registry to grow")
    most = parser.parse_args().most
    compileall.compile_dir(str(Path(registry.__file__).parent), quiet=2)
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    rows: list[Ratio] = []
    with tempfile.TemporaryDirectory() as folder:
        rows += startup.measure(Path(folder))
        for size in SIZES:
            if size <= most:
                path = Path(folder) / f"{size}.sqlite"
                say(f"growing {size:,} plants")
                grow(path, size)
                rows += measure_lineage(path, size)
        rows += recording.measure(Path(folder))
        rows += names.measure(Path(folder), most)
        rows += across.measure(Path(folder), most)
        rows += verdict.measure(Path(folder), most)
        rows += labels.measure()
    print_table(rows)


def measure_lineage(path: Path, size: int) -> list[Ratio]:
    """Ancestors of the last plant and descendants of three nodes, against the bare driver."""
    from sqlalchemy.orm import Session

    engine = make_engine(path, mode="ro")
    bare = sqlite3.connect(path)
    rows: list[Ratio] = []
    last = bare.execute("SELECT max(id) FROM node WHERE kind = 'plant'").fetchone()[0]
    with Session(engine) as session:
        up = len(lineage.edges_above(session, [last]))
        rows.append(
            pair(
                f"ancestry of one plant, {up} edges, {size:,} plants",
                lambda: lineage.edges_above(session, [last]),
                "the same query, sqlite3",
                lambda: bare.execute(str(lineage.ANCESTRY.text), {"ids": f"[{last}]"}).fetchall(),
                None,
                rounds=51,
                below=FEW_SECONDS,
            )
        )
        for node, n in _by_answer(bare):
            rows.append(
                pair(
                    f"{n:,} descendants as ids, {size:,} plants",
                    lambda node=node: lineage.descendant_ids(session, [node]),  # type: ignore[misc]  # bound at once
                    "the same query, sqlite3",
                    lambda node=node: bare.execute(  # type: ignore[misc]  # bound at once
                        str(lineage.DESCENDANT_IDS.text), {"ids": f"[{node}]"}
                    ).fetchall(),
                    2.0 if n >= FEW else None,
                    below=None if n >= FEW else FEW_SECONDS,
                )
            )
            rows.append(
                pair(
                    f"{n:,} descendants as edges (frozen), {size:,} plants",
                    lambda node=node: lineage.edges_below(session, [node]),  # type: ignore[misc]  # bound at once
                    "the same query, sqlite3",
                    lambda node=node: bare.execute(  # type: ignore[misc]  # bound at once
                        str(lineage.DESCENT.text), {"ids": f"[{node}]"}
                    ).fetchall(),
                    2.5 if n >= FEW else None,
                    below=None if n >= FEW else FEW_SECONDS,
                )
            )
    bare.close()
    engine.dispose()
    return rows


def _by_answer(bare: sqlite3.Connection) -> list[tuple[int, int]]:
    """A node with about a hundred descendants and one with the most among the first founders."""
    found: dict[int, int] = {}
    founders = [row[0] for row in bare.execute("SELECT id FROM node ORDER BY id LIMIT 20")]
    lots = [
        row[0]
        for row in bare.execute("SELECT id FROM node WHERE kind='lot' ORDER BY id DESC LIMIT 400")
    ]
    for node in founders + lots[::40]:
        n = len(bare.execute(str(lineage.DESCENDANT_IDS.text), {"ids": f"[{node}]"}).fetchall())
        found[n] = node
    sizes = sorted(found)
    middle = [n for n in sizes if 10 <= n <= 2_000]
    chosen = dict.fromkeys([*(middle[:1]), *(middle[-1:]), sizes[-1]])
    return [(found[n], n) for n in chosen if n > 1]


def say(words: str) -> None:
    """Progress, beside the table."""
    sys.stderr.write(f"{words} ...\n")


def print_table(rows: list[Ratio]) -> None:
    """The table, in Markdown."""
    sys.stdout.write("\n".join([HEADING, *(row.line() for row in rows)]) + "\n")


if __name__ == "__main__":
    main()
