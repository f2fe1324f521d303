"""Killed at any moment, a writer leaves a registry that checks out."""

from __future__ import annotations

import itertools
import os
import random
import signal
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import func, select

from registry.ids import uuid7
from registry.storage.engine import make_engine, reading
from registry.storage.models import ChainEntry, Series
from registry.storage.transaction import recording
from registry.storage.verify import verify
from tests.conftest import MOMENT

RUNS = 20
ROWS = 50
"""Rows of an entry, each sent by itself, so that most moments lie inside an entry."""


def write_for_ever(path: Path, first: int, told: int) -> None:
    engine = make_engine(path)
    for start in itertools.count(first, ROWS):
        with recording(engine, path, "test", now=MOMENT, new_id=uuid7) as rec:
            for year in range(start, start + ROWS):
                rec.add(Series(year=year, next=1))
                rec.flush()
        os.write(told, b".")


def killed_after(path: Path, first: int, seconds: float) -> int:
    """Kills a writer some time after its first entry; returns how many it told to be through."""
    reads, told = os.pipe()
    writer = os.fork()
    if writer == 0:
        try:
            write_for_ever(path, first, told)
        finally:
            os._exit(1)
    os.close(told)
    with os.fdopen(reads, "rb") as said:
        through = len(said.read(1))
        time.sleep(seconds)
        os.kill(writer, signal.SIGKILL)
        os.waitpid(writer, 0)
        return through + len(said.read())


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is a POSIX signal")
def test_a_writer_killed_at_any_moment_leaves_whole_entries(engine, registry_file):
    moments = random.Random(14)  # noqa: S311 - moments of a test, not secrets
    through = sum(
        killed_after(registry_file, run * 1_000_000, moments.uniform(0, 0.05))
        for run in range(RUNS)
    )
    with reading(engine, registry_file) as session:
        entries = session.scalar(select(func.count()).select_from(ChainEntry)) or 0
        rows = session.scalar(select(func.count()).select_from(Series))
    # An entry may have been committed in the moment before it could be told.
    assert RUNS <= through <= entries <= through + RUNS
    assert rows == entries * ROWS
    assert verify(engine, registry_file).ok
