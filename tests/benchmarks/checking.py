"""One check of a registry in a process of its own: `python -m tests.benchmarks.checking PLACE`.

It tells, as JSON, the seconds that the check took and the kilobytes that the process held at most.
"""

from __future__ import annotations

import argparse
import json
import re
import resource
import sys
import time
from pathlib import Path

from registry.location import Location, Server
from registry.services.upkeep import check
from registry.storage.engine import open_registry


def main() -> None:
    """Check, and tell."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("place", help="a file, or the URL of a database")
    parser.add_argument("--fast", action="store_true", help="only since the last whole check")
    said = parser.parse_args()
    place: Location = Server(said.place) if "://" in said.place else Path(said.place)
    opened = open_registry(place)
    start = time.perf_counter()
    report = check(opened, fast=said.fast)
    seconds = time.perf_counter() - start
    assert report.ok, report.problems[:3]
    assert (report.since is not None) == said.fast
    sys.stdout.write(json.dumps({"seconds": seconds, "kilobytes": _most()}))


def _most() -> int:
    """The most memory that this process held, in kilobytes.

    Linux counts what the parent held when it began this one into ru_maxrss, so its own note of the
    process is read where there is one.
    """
    status = Path("/proc/self/status")
    if status.exists() and (found := re.search(r"VmHWM:\s+(\d+) kB", status.read_text())):
        return int(found[1])
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


if __name__ == "__main__":
    main()
