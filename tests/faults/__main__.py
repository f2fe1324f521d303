"""Runs every fault at length and writes docs/faults.md: `python -m tests.faults`.

`--only kill crowd` runs some and renews their rows; with `sh tests/with_server.sh` before it, these
two are run in registries on a server. All together take the better part of an hour, since each
registry is checked whole after each fault.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests import homes
from tests.faults import crowd, fullness, fuzzing, hostile, killing, powercut, tampering
from tests.faults.places import Place
from tests.faults.table import Row, renewed

PAGE = Path(__file__).parents[2] / "docs" / "faults.md"

RUNS: dict[str, Callable[[Path], list[Row]]] = {
    # name: what it does, given an empty folder
    "kill": lambda folder: [killing.run(folder, 200)],
    "crowd": lambda folder: [crowd.run(folder, processes=8, acts=500)],
    "hostile": lambda folder: [hostile.run(folder, share=4)],
    "full": lambda folder: [fullness.run(folder)],
    "fuzz": lambda folder: [fuzzing.run(folder, seconds=600)],
    "power": lambda folder: [powercut.run(folder, acts=30, cuts=500)],
    "edits": lambda folder: [tampering.run(demo(folder), folder, 2_000)],
}


ON_A_SERVER = {"kill", "crowd"}
"""Those that are not about a file."""


def demo(folder: Path) -> Path:
    """The registry of the demo's two seasons."""
    place = Place(folder / "demo.sqlite")
    house = Path(__file__).parents[2] / "demo"
    for words in (
        ("init", "--grower", "June Alder", "--country", "US", "--region", "US-OR",
         "--began", "2024-03-01"),
        ("restriction", "import", str(house / "restrictions.csv")),
        ("bench", str(house / "2024-season.txt")),
        ("bench", str(house / "2025-season.txt")),
    ):  # fmt: skip
        said = place.run(*words)
        assert said.exit == 0, said
    return place.file


def main() -> None:
    """Run, and renew the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="+", choices=RUNS, default=list(RUNS))
    only = parser.parse_args().only
    if homes.SERVER and not set(only) <= ON_A_SERVER:
        parser.error("on a server: --only kill crowd")
    for name in only:
        start = time.monotonic()
        sys.stderr.write(f"{name} ...\n")
        with tempfile.TemporaryDirectory() as folder:
            rows = RUNS[name](Path(folder))
        sys.stderr.write(f"  {time.monotonic() - start:.0f} s\n")
        called = f"{name}, on a server" if homes.SERVER else name
        PAGE.write_text(renewed(PAGE.read_text(), called, rows))


if __name__ == "__main__":
    main()
