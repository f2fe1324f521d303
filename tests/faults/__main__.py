"""Runs every fault at length and writes docs/faults.md: `python -m tests.faults`.

`--only kill crowd` runs some and renews their rows. All together take the better part of an hour,
since each registry is checked whole after each fault.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.faults import crowd, hostile, killing
from tests.faults.table import Row, renewed

PAGE = Path(__file__).parents[2] / "docs" / "faults.md"

RUNS: dict[str, Callable[[Path], list[Row]]] = {
    # name: what it does, given an empty folder
    "kill": lambda folder: [killing.run(folder, 200)],
    "crowd": lambda folder: [crowd.run(folder, processes=8, acts=500)],
    "hostile": lambda folder: [hostile.run(folder, share=4)],
}


def main() -> None:
    """Run, and renew the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="+", choices=RUNS, default=list(RUNS))
    for name in parser.parse_args().only:
        start = time.monotonic()
        sys.stderr.write(f"{name} ...\n")
        with tempfile.TemporaryDirectory() as folder:
            rows = RUNS[name](Path(folder))
        sys.stderr.write(f"  {time.monotonic() - start:.0f} s\n")
        PAGE.write_text(renewed(PAGE.read_text(), name, rows))


if __name__ == "__main__":
    main()
