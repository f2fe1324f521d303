"""Is the registry what was recorded? The chain, the tables against it, and what they say together.

The whole check reads one moment of the registry, writes nothing in it, and needs as much room in
the temporary folder as the registry takes without its attachments.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Connection, Engine

from registry.domain.heads import Head
from registry.domain.soundness import MOST, Fault, Mark, Problem, Report
from registry.location import Location, Server
from registry.storage import chain, checks
from registry.storage.engine import translated
from registry.storage.rebuild import Difference, Rebuild, compare
from registry.storage.records import Named
from registry.storage.revision import HEAD, KNOWN
from registry.storage.schema import check_schema

Progress = Callable[[int, int], None]
"""Is told how many entries of how many were read."""


WRONG_KIND = (TypeError, ValueError, AttributeError, LookupError, OverflowError, RecursionError)
"""What Python says of a value that is not of the kind it should be, or is nested without end."""


def tell_nobody(done: int, all_of: int) -> None:
    """Nobody waits to be told."""


Check = Callable[[sqlite3.Connection, Named], Iterator[Problem]]

AFTER_THE_CHAIN: tuple[Check, ...] = (
    checks.check_references,
    checks.check_ledger,
    checks.check_lineage,
    checks.check_lines,
    checks.check_search,
    checks.check_codes,
    checks.check_sealed,
    checks.check_attachments,
)


def verify(
    engine: Engine,
    path: Location,
    tell: Progress = tell_nobody,
    against: Head | None = None,
) -> Report:
    """Check a whole registry.

    One on a server is laid into a temporary file first, as it stands at one moment.

    Args:
        engine: of the registry; reading is enough.
        path: of the registry, for what is said when it cannot be read.
        tell: is told after each entry of the chain.
        against: a head that was kept elsewhere, which the chain must go through.

    Raises:
        RegistryDamaged: SQLite cannot read the file at all.
    """
    with translated(path), room_to_rebuild() as rebuilt, one_moment(engine, path, rebuilt) as seen:
        return _verify(seen, rebuilt, tell, against)


def verify_over(connection: Connection, rebuilt: Path, tell: Progress) -> Report:
    """Check a whole registry as it stands in the transaction that `connection` is in."""
    if connection.dialect.name == "postgresql":
        with _laid_into_a_file(connection, rebuilt) as seen:
            return _verify(seen, rebuilt, tell, None)
    driver = connection.connection.driver_connection
    assert driver is not None  # noqa: S101 - tells the type checker: it was just opened
    return _verify(Seen(driver), rebuilt, tell, None)


class Seen(NamedTuple):
    """One moment of a registry.

    Attributes:
        file: of SQLite's, which holds it.
        otherwise: what is wrong with the tables of the server from which it was laid there.
    """

    file: sqlite3.Connection
    otherwise: tuple[Problem, ...] = ()


@contextmanager
def one_moment(
    engine: Engine,
    path: Location,
    rebuilt: Path,
    mark: Mark | None = None,
    first: int | None = None,
) -> Iterator[Seen]:
    """One moment of a registry, to be asked in SQLite's words.

    One on a server is laid into a temporary file beside `rebuilt` for it: of what was recorded up
    to `mark`, only what a check from there reads, with the headers of entries from `first` on.
    """
    if isinstance(path, Server):
        with engine.connect() as server, _laid_into_a_file(server, rebuilt, mark, first) as seen:
            yield seen
    else:
        with _in_a_file(engine) as driver:
            yield Seen(driver)


@contextmanager
def _laid_into_a_file(
    connection: Connection, rebuilt: Path, mark: Mark | None = None, first: int | None = None
) -> Iterator[Seen]:
    from registry.storage import postgres, search
    from registry.storage.crossing import Since, to_file

    standing = rebuilt.with_name("standing.sqlite")
    since = Since(mark.seq, mark.seq if first is None else min(mark.seq, first)) if mark else None
    to_file(connection, standing, HEAD, since)
    otherwise = [*postgres.check_schema(connection)]
    if mark is None and not search.finds_on_the_server(connection):
        otherwise.append(Problem(Fault.INDEX_WRONG))
    with closing(sqlite3.connect(standing)) as file:
        yield Seen(file, tuple(otherwise))


def _decoded(text: bytes) -> str:
    return text.decode(errors="backslashreplace")  # so that it can be shown and asked for


@contextmanager
def _in_a_file(engine: Engine) -> Iterator[sqlite3.Connection]:
    with closing(engine.raw_connection()) as opened:
        connection = opened.driver_connection
        assert connection is not None  # noqa: S101 - tells the type checker: just opened
        # Text that is no UTF-8 must not stop the check that is to find it.
        connection.text_factory = _decoded
        connection.execute("BEGIN")
        try:
            yield connection
        finally:
            connection.execute("ROLLBACK")


@contextmanager
def room_to_rebuild() -> Iterator[Path]:
    """A name for a file that goes again; the connection that looks at it must be closed before."""
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder) / "rebuilt.sqlite"


def verify_chain(engine: Engine, path: Path, tell: Progress = tell_nobody) -> Report:
    """Check the file and the chain alone: what a copy is looked at by before it is relied on."""
    with translated(path), _in_a_file(engine) as connection:
        findings = Findings()
        findings.extend(checks.check_file(connection, Named(connection)))
        walk = Walk(connection, findings, None)
        walk.run(tell)
        return findings.report(walk)


def _verify(seen: Seen, rebuilt: Path, tell: Progress, against: Head | None) -> Report:
    connection = seen.file
    connection.execute("ATTACH ? AS rebuilt", (str(rebuilt),))
    named, findings = Named(connection), Findings()
    rebuild = Rebuild(rebuilt, findings.refused)
    findings.extend(checks.check_file(connection, named))
    walk = Walk(connection, findings, rebuild)
    try:
        walk.run(tell)
        rebuild.finish()
    finally:
        rebuild.close()
    if against is not None:
        findings.extend(check_against(connection, against))
    findings.extend(seen.otherwise)
    findings.extend(check_schema(connection, rebuild.made))
    differences = Differences(named)
    findings.extend(differences.problems(compare(connection)))
    for check in AFTER_THE_CHAIN:
        findings.extend(check(connection, named))
    findings.problems = differences.with_entries(connection, findings.problems)
    return findings.report(walk)


def check_against(connection: sqlite3.Connection, head: Head) -> Iterator[Problem]:
    """The chain goes through a head that was kept elsewhere: no tail was cut, nothing rewritten."""
    (last,) = connection.execute("SELECT coalesce(max(seq), 0) FROM chain_entry").fetchone()
    row = connection.execute("SELECT hash FROM chain_entry WHERE seq = ?", (head.seq,)).fetchone()
    if head.seq > last:
        missing = head.seq - last
        some = "1 entry" if missing == 1 else f"{missing} entries"
        yield Problem(Fault.TAIL_CUT, seq=head.seq, found=str(last), expected=some)
    elif row is None or not head.is_of(row[0]):
        found = Head.of(head.seq, row[0]).printed if row else ""
        yield Problem(Fault.REWRITTEN, seq=head.seq, found=found, expected=head.printed)


class Findings:
    """Problems as they are found: the first of each part of the check, and how many more."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self._counts: Counter[str] = Counter()

    def add(self, problem: Problem) -> None:
        """Keep one, or count it."""
        self._counts[problem.where] += 1
        if self._counts[problem.where] <= MOST:
            self.problems.append(problem)

    def refused(self, seq: int, said: str) -> None:
        """Keep that an entry records what cannot be."""
        self.add(Problem(Fault.ROW_IMPOSSIBLE, seq=seq, found=said))

    def extend(self, problems: Iterable[Problem]) -> None:
        """Keep several, as far as they can be found.

        A value of a kind that its column never holds may stop the check that meets it.
        """
        try:
            for problem in problems:
                self.add(problem)
        except WRONG_KIND as error:
            self.add(Problem(Fault.CHECK_STOPPED, found=str(error)))

    def report(self, walk: Walk) -> Report:
        """What was found on a walk."""
        more = self._counts.total() - len(self.problems)
        return Report(
            tuple(self.problems),
            more,
            walk.entries,
            walk.rows,
            walk.previous,
            walk.expected - 1,
            walk.since,
        )


Parts = Iterable[tuple[int | None, bytes | None]]
"""The numbers and bodies of an entry's parts; of one that has none, None twice."""

_ENTRIES = """
SELECT entry.seq, header, hash, by_id, request_key, part, body
FROM chain_entry AS entry LEFT JOIN chain_part AS part ON part.seq = entry.seq
WHERE entry.seq > ? ORDER BY entry.seq, part
"""


@dataclass
class Walk:
    """The chain from an entry to its head; what it records is played on the way.

    Attributes:
        entries: how many were walked.
        previous: the hash of the entry before the next.
        expected: the number of the next.
        since: where it set out, if not at the first.
    """

    connection: sqlite3.Connection
    findings: Findings
    rebuild: Rebuild | None
    entries: int = 0
    previous: str = chain.GENESIS
    expected: int = 1
    since: Mark | None = None

    @property
    def rows(self) -> int:
        """How many rows the chain adds or changes; 0 where nothing was played."""
        return self.rebuild.rows if self.rebuild else 0

    def run(self, tell: Progress) -> None:
        """Walk to the head."""
        before = (self.expected - 1,)
        (all_of,) = self.connection.execute(
            "SELECT count(*) FROM chain_entry WHERE seq > ?", before
        ).fetchone()
        entries = groupby(self.connection.execute(_ENTRIES, before), itemgetter(slice(5)))
        for (seq, header, hashed, by, request), parts in entries:
            for missing in range(self.expected, min(seq, self.expected + MOST)):
                self.findings.add(Problem(Fault.ENTRY_MISSING, seq=missing))
            try:
                self._entry(seq, header, hashed, by, (row[5:] for row in parts))
                if request is not None:  # a header tells of none as yet
                    self.findings.add(Problem(Fault.REQUEST_WRONG, seq=seq, found=_text(request)))
            except WRONG_KIND:
                self.findings.add(Problem(Fault.HEADER_UNREADABLE, seq=seq))
            self.expected, self.previous = seq + 1, hashed
            self.entries += 1
            tell(self.entries, all_of)
        self._end(*before)

    def _entry(self, seq: int, header: str, hashed: str, by: int | None, parts: Parts) -> None:
        found = chain.digest(header.encode())
        if found != hashed:
            self.findings.add(Problem(Fault.HASH_WRONG, seq=seq, found=found, expected=hashed))
        facts = facts_of(header)
        if facts is None or facts["seq"] != seq:
            self.findings.add(Problem(Fault.HEADER_UNREADABLE, seq=seq))
            return
        if facts["previous"] != self.previous:
            self.findings.add(
                Problem(Fault.LINK_BROKEN, seq=seq, found=facts["previous"], expected=self.previous)
            )
        if facts["by"] != by:
            self.findings.add(
                Problem(Fault.WRITER_WRONG, seq=seq, found=str(by), expected=str(facts["by"]))
            )
        if self.rebuild is not None:
            if facts["revision"] not in KNOWN:
                self.findings.add(
                    Problem(Fault.REVISION_UNKNOWN, seq=seq, found=str(facts["revision"]))
                )
            self.rebuild.begin_entry(facts["revision"] if facts["revision"] in KNOWN else HEAD)
        self._parts(seq, facts, parts)

    def _parts(self, seq: int, facts: dict[str, Any], parts: Parts) -> None:
        digest, count = hashlib.sha256(), 0
        for part, body in parts:
            if part is None:  # the entry has none
                break
            count += 1
            if not isinstance(body, bytes):
                self.findings.add(Problem(Fault.PART_UNREADABLE, seq=seq, found="not bytes"))
                continue
            digest.update(hashlib.sha256(body).digest())
            if part != count:
                self.findings.add(
                    Problem(Fault.PARTS_WRONG, seq=seq, found=str(part), expected=str(count))
                )
            self._play(seq, body)
        found = (count, digest.hexdigest())
        expected = (facts["parts"], facts["digest"])
        if found != expected:
            self.findings.add(
                Problem(Fault.PARTS_WRONG, seq=seq, found=_shown(found), expected=_shown(expected))
            )

    def _play(self, seq: int, body: bytes) -> None:
        if self.rebuild is None:
            return
        try:
            self.rebuild.play(seq, chain.unpack(body))
        except WRONG_KIND as error:
            self.findings.add(Problem(Fault.PART_UNREADABLE, seq=seq, found=str(error)))

    def _end(self, before: int) -> None:
        for (seq,) in self.connection.execute(
            "SELECT DISTINCT seq FROM chain_part"
            " WHERE (seq > ? OR seq < 1) AND seq NOT IN (SELECT seq FROM chain_entry)",
            (before,),
        ):
            self.findings.add(Problem(Fault.PART_WITHOUT_ENTRY, seq=seq))
        for (seq,) in self.connection.execute("SELECT seq FROM chain_entry WHERE seq < 1"):
            self.findings.add(Problem(Fault.ADDED, f"entry {seq} of the chain"))
        head = self.connection.execute("SELECT seq, hash FROM chain_head").fetchone()
        end = (self.expected - 1, self.previous)
        if head != end:
            self.findings.add(
                Problem(
                    Fault.HEAD_WRONG,
                    seq=end[0],
                    found=_shown(head) if head else "",
                    expected=_shown(end),
                )
            )


def facts_of(header: str) -> dict[str, Any] | None:
    """What a header says; None where it is no header."""
    try:
        facts = json.loads(header)
    except ValueError:
        return None
    return facts if isinstance(facts, dict) and facts.keys() >= _NEEDED else None


_NEEDED = frozenset({"seq", "previous", "by", "revision", "parts", "digest"})


def _shown(pair: tuple[int, str]) -> str:
    return f"{pair[0]}, {pair[1]}"


class Differences:
    """Rows that are not as recorded, as problems, and the entries that last wrote them."""

    def __init__(self, named: Named) -> None:
        self._named = named
        self._keys: dict[Problem, tuple[str, tuple[Any, ...]]] = {}

    def problems(self, differences: Iterable[Difference]) -> Iterator[Problem]:
        """What each difference comes to."""
        for difference in differences:
            row = difference.stands or difference.recorded or {}
            record = self._named.values(difference.table, difference.key, row)
            for problem in _problems(difference, record):
                if len(self._keys) < MOST:
                    self._keys[problem] = (difference.table.name, difference.key)
                yield problem

    def with_entries(
        self, connection: sqlite3.Connection, problems: list[Problem]
    ) -> list[Problem]:
        """`problems` with the newest entry that wrote the row in question."""
        wanted = set(self._keys.values())
        newest = _newest_entries(connection, wanted) if wanted else {}
        return [
            replace(problem, seq=newest.get(self._keys[problem]))
            if problem in self._keys
            else problem
            for problem in problems
        ]


def _problems(difference: Difference, record: str) -> Iterator[Problem]:
    stands, recorded = difference.stands, difference.recorded
    if recorded is None:
        yield Problem(Fault.ADDED, record)
    elif stands is None:
        yield Problem(Fault.GONE, record)
    else:
        for column, value in stands.items():
            if value != recorded[column] or type(value) is not type(recorded[column]):
                yield Problem(
                    Fault.CHANGED,
                    record,
                    column=column,
                    found=_text(value),
                    expected=_text(recorded[column]),
                )


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        return value.hex()
    return "" if value is None else str(value)


def _newest_entries(
    connection: sqlite3.Connection, wanted: set[tuple[str, tuple[Any, ...]]]
) -> dict[tuple[str, tuple[Any, ...]], int]:
    newest = {}
    for (seq,) in connection.execute("SELECT DISTINCT seq FROM chain_part ORDER BY seq"):
        bodies = connection.execute(
            "SELECT body FROM chain_part WHERE seq = ? ORDER BY part", (seq,)
        )
        try:
            for _, table, key in chain.touched(body for (body,) in bodies):
                if (table, key) in wanted:
                    newest[table, key] = seq
        except WRONG_KIND:
            continue  # told already, as a part that cannot be read
    return newest
