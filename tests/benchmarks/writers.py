"""How many acts a second several processes record at once, beside bare transactions of one row.

Either way each transaction is durable before the next begins: SQLite with `synchronous = FULL` in
write-ahead mode, which is how a registry is opened; PostgreSQL as its server is set, which has to
be with `fsync` and `synchronous_commit` on. Every writer keeps one connection, as a process that
serves a bench would.
"""

from __future__ import annotations

import multiprocessing
import sqlite3
import statistics
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from registry.domain.counts import parse_count
from registry.errors import RegistryLocked
from registry.ids import uuid7
from registry.location import Location, Server
from registry.services.counting import look
from registry.services.resolve import resolve
from registry.storage.engine import WRITING, open_registry
from registry.storage.transaction import recording
from tests.benchmarks.recording import DAY, NOW

AIM = 250
"""Acts a second that eight writers should record."""

WRITERS = (1, 2, 4, 8)
ROUNDS = 3
WAIT = 60.0
"""Seconds that everybody is waited for at most."""

Writes = Callable[[int], bool]
"""Writes once, as the writer of a number; False if it waited too long and wrote nothing."""


@dataclass(frozen=True, slots=True)
class Rate:
    """What so many writers at once came to: medians, a second.

    Attributes:
        writers: how many.
        ours: acts recorded.
        bare: transactions of one row.
        late: acts that waited too long in all rounds, and were refused.
        aim: what is hoped for.
    """

    writers: int
    ours: float
    bare: float
    late: int
    aim: float | None

    def line(self) -> str:
        """A row of the table."""
        aim = f"{self.aim:g}" if self.aim else ""
        met = ("met" if self.ours >= self.aim else "not met") if self.aim else ""
        return (
            f"| {self.writers} | {self.ours:,.0f} | {self.bare:,.0f} | {self.bare / self.ours:.2f} "
            f"| {self.late} | {aim} | {met} |"
        )


HEADING = (
    "| writers at once | acts a second | bare transactions a second | bare, over ours"
    " | refused as too late | aim | |\n|---|---|---|---|---|---|---|"
)


def measure(place: Location, folder: Path, seconds: float) -> list[Rate]:
    """Have 1, 2, 4 and 8 processes look at batches of the registry at `place`, for some seconds.

    Args:
        place: a registry that `chains.begin` made, with a batch for each writer.
        folder: where a file for the bare transactions is made.
        seconds: of each round.
    """
    bare = _bare_file(folder / "bare.sqlite") if isinstance(place, Path) else place
    if isinstance(bare, Server):
        _bare_table(bare)
    rates = []
    for writers in WRITERS:
        ours: list[float] = []
        theirs: list[float] = []
        late = 0
        for _ in range(ROUNDS):
            rate, missed = _together(writers, seconds, _look_at, place)
            ours.append(rate)
            late += missed
            theirs.append(_together(writers, seconds, _insert_into, bare)[0])
        rates.append(
            Rate(
                writers,
                statistics.median(ours),
                statistics.median(theirs),
                late,
                AIM if writers == max(WRITERS) else None,
            )
        )
    return rates


def _together(
    writers: int, seconds: float, ready: Callable[[Any], Writes], where: Location
) -> tuple[float, int]:
    """Writes a second of all processes together, and how many were refused as too late."""
    context = multiprocessing.get_context("fork")
    start = context.Barrier(writers)
    told: Any = context.SimpleQueue()
    processes = [
        context.Process(target=_write, args=(number, seconds, ready, where, start, told))
        for number in range(writers)
    ]
    for process in processes:
        process.start()
    answers = [told.get() for _ in processes]
    for process in processes:
        process.join(WAIT)
        assert process.exitcode == 0, "a writer failed; what it said stands above"
    begun, ended = min(one[0] for one in answers), max(one[1] for one in answers)
    return sum(one[2] for one in answers) / (ended - begun), sum(one[3] for one in answers)


def _write(
    number: int,
    seconds: float,
    ready: Callable[[Any], Writes],
    where: Location,
    start: Any,
    told: Any,
) -> None:
    write = ready(where)
    write(number)  # everything is loaded
    start.wait(WAIT)
    begun = time.monotonic()
    done = late = 0
    while time.monotonic() - begun < seconds:
        if write(number):
            done += 1
        else:
            late += 1
    told.put((begun, time.monotonic(), done, late))


def _look_at(place: Location) -> Writes:
    engine = open_registry(place).engine.execution_options(**{WRITING: True})
    connection = engine.connect()

    def write(number: int) -> bool:
        try:
            with recording(connection, place, "look", now=NOW, new_id=uuid7) as rec:
                target = resolve(rec.session, f"N{number}", today=NOW.date())
                look(rec, target, on=DAY, stands={"rooted": parse_count("5")}, went={})
        except RegistryLocked:
            return False
        return True

    return write


# --- bare transactions ---------------------------------------------------------------------------

_TABLE = "CREATE TABLE bare_row (id INTEGER PRIMARY KEY, at TEXT NOT NULL)"
_INSERT = "INSERT INTO bare_row (at) VALUES ('2026-05-14T10:00:00')"


def _bare_file(path: Path) -> Path:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute(_TABLE)
    return path


def _bare_table(server: Server) -> None:
    import psycopg

    with psycopg.connect(server.url) as connection:
        for setting in ("fsync", "synchronous_commit"):
            row = connection.execute(f"SHOW {setting}").fetchone()
            assert row == ("on",), f"the server must be set to {setting} = on to be measured"
        connection.execute(_TABLE.replace("INTEGER PRIMARY KEY", "BIGSERIAL PRIMARY KEY"))


def _insert_into(where: Location) -> Writes:
    return _insert_into_server(where) if isinstance(where, Server) else _insert_into_file(where)


def _insert_into_file(path: Path) -> Writes:
    connection = sqlite3.connect(path, isolation_level=None, timeout=WAIT)
    connection.execute("PRAGMA synchronous = FULL")

    def write(number: int) -> bool:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(_INSERT)
        connection.execute("COMMIT")
        return True

    return write


def _insert_into_server(server: Server) -> Writes:
    import psycopg

    connection = psycopg.connect(server.url)

    def write(number: int) -> bool:
        connection.execute(_INSERT)
        connection.commit()
        return True

    return write
