"""Prints the tables of ratios: `python -m tests.benchmarks [--most 1000000]`.

Bytecode is compiled first, so that start-up is not charged with compiling. Registries of several
sizes are grown in a temporary folder; the largest takes about a minute.
"""

from __future__ import annotations

import argparse
import compileall
import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import registry
from tests.benchmarks import labels, lineage, names, startup, trust, verdict, writers
from tests.benchmarks.timing import HEADING, Ratio

MOST = 1_000_000


def main() -> None:
    """Grow, time, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=MOST, help="the largest registry to grow")
    most = parser.parse_args().most
    compileall.compile_dir(str(Path(registry.__file__).parent), quiet=2)
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    rows: list[Ratio] = []
    with tempfile.TemporaryDirectory() as folder:
        rows += startup.measure(Path(folder))
        trusted = trust.measure(Path(folder), most, say=say)
        rows += [*trusted.chain, *trusted.checks, *trusted.opening]
        rows += names.measure(Path(folder), most)
        found = lineage.measure(Path(folder), most, say=say)
        rows += [*found.ratios, *found.flat, lineage.chart()]
        rows += verdict.measure(Path(folder), most)
        rows += labels.measure()
    print_table(HEADING, rows)
    print_table(trust.MEMORY_HEADING, trusted.memory)
    print_table(writers.HEADING, trusted.rates)


def say(words: str) -> None:
    """Progress, beside the table."""
    sys.stderr.write(f"{words} ...\n")


def print_table(heading: str, rows: Sequence[Ratio | trust.Memory | writers.Rate]) -> None:
    """A table, in Markdown."""
    sys.stdout.write("\n".join([heading, *(row.line() for row in rows)]) + "\n\n")


if __name__ == "__main__":
    main()
