"""Registries with long chains: entries like one that the program wrote, by the hundred thousand.

A real look is recorded first in each of a few batches; the entries that follow are those again with
other numbers, written past the recorder, since a million acts would take longer than the measuring.
Everything that `verify` asks holds for them, so that it reads them like any others.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from registry.location import Location
from registry.storage import chain
from registry.storage.rebuild import quoted
from tests.faults.places import fresh

BATCHES = 10
STUCK = 1_000_000
AT_ONCE = 10_000


def begin(location: Location, folder: Path) -> Location:
    """Make a registry of a few batches, each looked at once.

    Args:
        location: where it is to stand.
        folder: for a file of commands.
    """
    place = fresh(folder, location)
    stick = "stick 'red hydrangea {0}' --owner me --count {1} --number N{0} --open --on 2026-01-05"
    look = "look N{0} --rooted 5 --died 1 --on 2026-02-05"
    season = folder / "season.txt"
    lines = [line.format(n, STUCK) for line in (stick, look) for n in range(BATCHES)]
    season.write_text("\n".join(lines))
    said = place.run("bench", str(season))
    assert said.exit == 0, said.err
    return location


def lengthen(path: Path, entries: int) -> None:
    """Have the chain of a registry that `begin` made go on until it has `entries` of them."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        maker = _Looks(connection)
        made = maker.until(entries)
        while block := list(islice(made, AT_ONCE)):
            _insert(connection, "chain_entry", ["seq", "header", "hash"], [m[0] for m in block])
            _insert(connection, "chain_part", ["seq", "part", "body"], [m[1] for m in block])
            for place, table in enumerate(("ledger_entry", "look"), 2):
                _insert(connection, table, maker.columns[table], [m[place] for m in block])
        connection.executemany(
            "UPDATE lot SET in_bench = ? WHERE node_id = ?",
            [(left, lot) for lot, left in maker.left.items()],
        )
        connection.execute("UPDATE chain_head SET seq = ?, hash = ?", (maker.seq, maker.hash))
        connection.execute("COMMIT")


def note_check(path: Path, seq: int) -> None:
    """Note in a registry that a whole check ended at an entry, and found nothing."""
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("DELETE FROM checked")
        connection.execute(
            "INSERT INTO checked (id, seq, hash, at)"
            " SELECT 1, seq, hash, '2026-05-14T10:00:00+00:00' FROM chain_entry WHERE seq = ?",
            (seq,),
        )


def _insert(
    connection: sqlite3.Connection, table: str, columns: list[str], rows: list[tuple[Any, ...]]
) -> None:
    names, marks = ", ".join(map(quoted, columns)), ", ".join("?" * len(columns))
    connection.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)  # noqa: S608 - two names of ours


@dataclass(frozen=True, slots=True)
class _Look:
    """An entry that a look wrote: its header, the lines of its part, and the lot looked at."""

    header: dict[str, Any]
    lines: list[chain.Row]
    lot: int


class _Looks:
    """Makes one look after another, in turn of the batches.

    Attributes:
        seq, hash: of the newest entry.
        left: how many are left in each lot.
        columns: those of the tables that a look adds to.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.seq, self.hash = connection.execute("SELECT seq, hash FROM chain_head").fetchone()
        self.left = dict(connection.execute("SELECT node_id, in_bench FROM lot"))
        self._ids = {
            table: connection.execute(f"SELECT max(id) FROM {table}").fetchone()[0]  # noqa: S608 - two names of ours
            for table in ("ledger_entry", "look")
        }
        self._looks = [
            _read(header, body)
            for header, body in connection.execute(
                "SELECT header, body FROM chain_entry JOIN chain_part USING (seq)"
                " ORDER BY seq DESC LIMIT ?",
                (BATCHES,),
            )
        ]
        lines = self._looks[0].lines
        self.columns = {table: rest[0] for mark, table, _, *rest in lines if mark == "="}

    def until(self, entries: int) -> Iterator[tuple[tuple[Any, ...], ...]]:
        """The rows of each entry up to the given number: entry, part, ledger entry, look."""
        while self.seq < entries:
            yield self._next(self._looks[self.seq % BATCHES])

    def _next(self, look: _Look) -> tuple[tuple[Any, ...], ...]:
        self.seq += 1
        self.left[look.lot] -= 1
        added = []
        for mark, table, values, *rest in look.lines:
            if mark == "~":
                rest[0]["in_bench"] = self.left[look.lot]
            elif mark == "+":
                self._ids[table] += 1
                values[0] = self._ids[table]
                values[self.columns[table].index("seq")] = self.seq
                added.append(tuple(values))
        body = chain.pack(map(chain.canonical, look.lines))
        digest = hashlib.sha256(hashlib.sha256(body).digest()).hexdigest()
        header = chain.canonical(
            look.header | {"seq": self.seq, "previous": self.hash, "digest": digest}
        )
        self.hash = chain.digest(header.encode())
        return (self.seq, header, self.hash), (self.seq, 1, body), *added


def _read(header: str, body: bytes) -> _Look:
    lines = list(chain.unpack(body))
    return _Look(json.loads(header), lines, next(line[2][0] for line in lines if line[0] == "~"))
