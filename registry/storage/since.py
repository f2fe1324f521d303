"""The check from where the newest whole check ended: the entries after it, and what they touched.

It takes on trust that nothing before that entry was changed since, and looks at what it can without
reading all: that the chain still goes through that entry, every entry after it, and every row that
one of those added or changed. A changed row is compared in the columns that were changed; what the
others hold was recorded before.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, select

from registry.domain.heads import Head
from registry.domain.soundness import Fault, Mark, Problem, Report
from registry.location import Location
from registry.storage import chain, checks
from registry.storage.engine import translated
from registry.storage.models import ChainEntry, Checked
from registry.storage.rebuild import Played, Rebuild, Refused, compare, quoted
from registry.storage.records import Named
from registry.storage.revision import HEAD
from registry.storage.schema import check_schema
from registry.storage.verify import (
    Differences,
    Findings,
    Progress,
    Seen,
    Walk,
    check_against,
    facts_of,
    one_moment,
    room_to_rebuild,
)

_SINCE: tuple[Callable[[sqlite3.Connection, Named, int], Iterator[Problem]], ...] = (
    checks.check_ledger,
    checks.check_lineage,
    checks.check_codes,
    checks.check_sealed,
    checks.check_attachments,
)


def newest_mark(engine: Engine, path: Location) -> Mark | None:
    """Where the newest whole check ended, if this one can go on from there.

    It cannot where tables were brought to another revision since: their rows were not recorded as
    they stand now. Nor can it where the note itself is none that a check leaves.
    """
    with translated(path), engine.connect() as connection:
        marks = connection.execute(select(Checked.seq, Checked.hash, Checked.at)).all()
        mark = Mark(*marks[0]) if len(marks) == 1 else None
        if mark is None or not _is_one(mark):
            return None
        later = select(ChainEntry.header).where(ChainEntry.seq > mark.seq)
        of_now = f'"revision":"{HEAD}"'
        changed = any(of_now not in str(header) for header in connection.scalars(later))
    return None if changed else mark


def _is_one(mark: Mark) -> bool:
    """Whether a note has what a check leaves there; SQLite takes anything in any column."""
    try:
        datetime.fromisoformat(mark.at)
    except (TypeError, ValueError):
        return False
    kinds = (type(mark.seq), type(mark.hash))
    return kinds == (int, str) and mark.seq > 0


def verify_since(
    engine: Engine, path: Location, mark: Mark, progress: Progress, against: Head | None = None
) -> Report:
    """Check what was recorded after `mark`.

    Raises:
        RegistryDamaged: SQLite cannot read the file.
    """
    first = against.seq if against else None
    with (
        translated(path),
        room_to_rebuild() as rebuilt,
        one_moment(engine, path, rebuilt, mark, first) as seen,
    ):
        return _verify(seen, rebuilt, mark, progress, against)


def _verify(
    seen: Seen,
    rebuilt: Path,
    mark: Mark,
    tell: Progress,
    against: Head | None,
) -> Report:
    connection = seen.file
    connection.execute("ATTACH ? AS rebuilt", (str(rebuilt),))
    named, findings = Named(connection), Findings()
    walk = Walk(
        connection,
        findings,
        Touched(rebuilt, findings.refused, connection),
        previous=mark.hash,
        expected=mark.seq + 1,
        since=mark,
    )
    findings.extend(_through(connection, mark))
    assert walk.rebuild is not None  # noqa: S101 - tells the type checker: given above
    try:
        walk.run(tell)
        walk.rebuild.finish()
    finally:
        walk.rebuild.close()
    if against is not None:
        findings.extend(_linked(connection, against.seq, mark.seq))
        findings.extend(check_against(connection, against))
    findings.extend(seen.otherwise)
    findings.extend(check_schema(connection, walk.rebuild.made))
    differences = Differences(named)
    findings.extend(differences.problems(compare(connection, mark.seq)))
    for check in _SINCE:
        findings.extend(check(connection, named, mark.seq))
    findings.problems = differences.with_entries(connection, findings.problems)
    return findings.report(walk)


def _through(connection: sqlite3.Connection, mark: Mark) -> Iterator[Problem]:
    """The chain still goes through the entry where the whole check ended."""
    row = connection.execute(
        "SELECT header, hash FROM chain_entry WHERE seq = ?", (mark.seq,)
    ).fetchone()
    if row is None or row[1] != mark.hash or chain.digest(row[0].encode()) != mark.hash:
        yield Problem(Fault.CHECK_GONE, seq=mark.seq)


def _linked(connection: sqlite3.Connection, first: int, last: int) -> Iterator[Problem]:
    """The entries from `first` to `last` follow from each other, as far as their headers go."""
    before = None
    for seq, header, hashed in connection.execute(
        "SELECT seq, header, hash FROM chain_entry WHERE seq BETWEEN ? AND ? ORDER BY seq",
        (first, last),
    ):
        found, previous = chain.digest(header.encode()), (facts_of(header) or {}).get("previous")
        if found != hashed:
            yield Problem(Fault.HASH_WRONG, seq=seq, found=found, expected=hashed)
        if before is not None and previous != before:
            yield Problem(Fault.LINK_BROKEN, seq=seq, found=str(previous), expected=before)
        before = hashed


class Touched(Rebuild):
    """Rows that entries added, and those that they changed, as they stand, to be changed again."""

    def __init__(self, path: Path, refused: Refused, standing: sqlite3.Connection) -> None:
        super().__init__(path, refused)
        self._standing = standing

    def _fetch(self, table: str, named: Played, key: list[Any]) -> bool:
        """Have a row as it stands, to be changed; whether it stands."""
        if not named.keys or table not in self._types:
            return False
        columns = [name for name in named.columns if name in self._types[table]]
        row = self._standing.execute(
            f"SELECT {', '.join(map(quoted, columns))} FROM main.{quoted(table)}"  # noqa: S608 - quoted
            f" WHERE {named.where}",
            key,
        ).fetchone()
        if row is not None:
            self._keep(table, columns, row)
        return row is not None
