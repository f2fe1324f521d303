"""The one way to write: a transaction that takes the chain's head first and seals an entry last.

Whoever records something gets a `Recording`: the session to work in, the entry's number, the
moment, and fresh identifiers. Everything flushed through it becomes part of the entry; a write by
any other road is refused by the guard in `registry.storage.engine`.

Sealing is done here and not in a session event, because commits of savepoints fire those too, and
bulk statements pass them by.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any, NoReturn, TypeVar
from uuid import UUID

from sqlalchemy import Connection, Engine, Table, event, insert, inspect, select, update
from sqlalchemy.orm import InstanceState, Mapper, Session
from sqlalchemy.orm.attributes import PASSIVE_NO_INITIALIZE

from registry.clock import local_day
from registry.ids import NewId
from registry.storage import chain
from registry.storage.engine import DOOR, WRITING, translated
from registry.storage.models import ChainEntry, ChainHead, ChainPart
from registry.storage.revision import HEAD

T = TypeVar("T")


class _RecordingSession(Session):
    """A session without savepoints: a rolled-back one would leave the entry's rows behind."""

    def begin_nested(self) -> NoReturn:
        """Refused: an entry is whole or not at all."""
        raise RuntimeError("a recording has no savepoints")


@dataclass(slots=True)
class Recording:
    """One writing transaction in progress.

    Attributes:
        session: where the rows are read and added.
        seq: the number of the entry that this transaction becomes.
        now: the moment of recording, aware, UTC.
        what: the grower's act, as a word (`stick`, `look` …).
        by_id: who records it; None is the grower.
    """

    session: Session
    seq: int
    now: datetime
    what: str
    by_id: int | None
    previous: str
    make_id: NewId
    last: list[str] | None = None
    happened: str | None = None
    _buffer: list[chain.Row] = field(default_factory=list)
    _parts: int = 0
    _digest: Any = field(default_factory=hashlib.sha256)
    _wrote: bool = False

    @property
    def today(self) -> date:
        """The grower's calendar day."""
        return local_day(self.now)

    def new_id(self) -> UUID:
        """A fresh identifier of this moment."""
        return self.make_id(self.now)

    def add(self, row: T) -> T:
        """Add a row and give it back."""
        self.session.add(row)
        return row

    def flush(self) -> None:
        """Send what was added, so that keys are known."""
        self.session.flush()

    def bulk(self, table: Table, rows: Sequence[dict[str, Any]]) -> None:
        """Insert many rows of one table at once; each needs every column's value, keys included."""
        if not rows:
            return
        self.session.flush()
        columns = chain.chained_columns(table)
        with self._door() as connection:
            connection.execute(insert(table), list(rows))
        for row in rows:
            self._note(["+", table.name, [chain.plain(row.get(c.name)) for c in columns]])

    def derived(self, *statements: Any) -> None:
        """Run statements that write derived tables, which the chain does not hold."""
        self.session.flush()
        with self._door() as connection:
            for statement in statements:
                connection.execute(statement)

    @contextmanager
    def _door(self) -> Iterator[Connection]:
        connection = self.session.connection()
        connection.info[DOOR] = True
        try:
            yield connection
        finally:
            connection.info[DOOR] = False

    def _note(self, row: chain.Row) -> None:
        self._buffer.append(row)
        self._wrote = True
        if len(self._buffer) >= chain.ROWS_PER_PART:
            self._write_part()

    def _write_part(self) -> None:
        body = chain.pack(self._buffer)
        self._buffer.clear()
        self._parts += 1
        self._digest.update(hashlib.sha256(body).digest())
        with self._door() as connection:
            connection.execute(
                insert(ChainPart.__table__), {"seq": self.seq, "part": self._parts, "body": body}
            )

    def _seal(self) -> None:
        self.session.flush()
        if not self._wrote:
            return
        if self._buffer:
            self._write_part()
        header = chain.canonical(
            {
                "seq": self.seq,
                "previous": self.previous,
                "what": self.what,
                "by": self.by_id,
                "happened": self.happened,
                "recorded": self.now.isoformat(),
                "revision": HEAD,
                "parts": self._parts,
                "digest": self._digest.hexdigest(),
                "last": self.last,
            }
        )
        hashed = chain.digest(header.encode())
        with self._door() as connection:
            connection.execute(
                insert(ChainEntry.__table__),
                {"seq": self.seq, "header": header, "hash": hashed, "by_id": self.by_id},
            )
            connection.execute(
                update(ChainHead.__table__).values(seq=self.seq, hash=hashed)
            )


@cache
def _columns(mapper: Mapper[Any]) -> tuple[tuple[str, str], ...]:
    """(attribute, column) of every column that the chain holds, in table order."""
    table = mapper.local_table
    assert isinstance(table, Table)  # noqa: S101 - tells the type checker what mapping ensures
    return tuple(
        (mapper.get_property_by_column(column).key, column.name)
        for column in chain.chained_columns(table)
    )


def _added(state: InstanceState[Any]) -> chain.Row | None:
    columns = _columns(state.mapper)
    if not columns:
        return None
    values = [chain.plain(state.dict.get(attribute)) for attribute, _ in columns]
    return ["+", state.mapper.local_table.name, values]  # type: ignore[attr-defined]  # a Table


def _changed(state: InstanceState[Any]) -> chain.Row | None:
    changes = {
        column: chain.plain(state.dict.get(attribute))
        for attribute, column in _columns(state.mapper)
        if state.get_history(attribute, PASSIVE_NO_INITIALIZE).has_changes()
    }
    if not changes:
        return None
    key = [chain.plain(part) for part in state.identity or ()]
    return ["~", state.mapper.local_table.name, key, changes]  # type: ignore[attr-defined]  # a Table


def _listen(recording: Recording) -> None:
    session = recording.session

    def before(session: Session, context: Any, instances: Any) -> None:
        for row in session.new:
            if hasattr(row, "seq") and row.seq is None:
                row.seq = recording.seq
        for row in session.deleted:
            raise RuntimeError(f"nothing is deleted: {row!r}")
        session.connection().info[DOOR] = True

    def after(session: Session, context: Any) -> None:
        new = sorted(
            (inspect(row) for row in session.new), key=lambda state: state.insert_order or 0
        )
        for state in new:
            if row := _added(state):
                recording._buffer.append(row)
                recording._wrote = True
        for changed in session.dirty:
            if row := _changed(inspect(changed)):
                recording._buffer.append(row)
                recording._wrote = True

    def after_all(session: Session, context: Any) -> None:
        session.connection().info[DOOR] = False
        if len(recording._buffer) >= chain.ROWS_PER_PART:
            recording._write_part()

    event.listen(session, "before_flush", before)
    event.listen(session, "after_flush", after)
    event.listen(session, "after_flush_postexec", after_all)


@contextmanager
def recording(
    engine: Engine,
    path: Path,
    what: str,
    *,
    now: datetime,
    new_id: NewId,
    by_id: int | None = None,
    keep: bool = True,
) -> Iterator[Recording]:
    """Open the one writing transaction; commit and seal at the end, or leave nothing behind.

    Args:
        engine: of the registry.
        path: of the registry, for what is said when it cannot be written.
        what: the act, as a word.
        now: the moment of recording, aware.
        new_id: makes identifiers.
        by_id: the person who records; None is the grower.
        keep: False rehearses: everything runs and is then rolled back.

    Raises:
        RegistryLocked: another process held the registry for five seconds.
        RegistryReadOnly, StorageFull: it cannot be written.
    """
    with translated(path):
        session = _RecordingSession(
            engine.execution_options(**{WRITING: True}), expire_on_commit=False
        )
        with session:
            connection = session.connection()
            connection.info[DOOR] = False
            head = connection.execute(select(ChainHead.seq, ChainHead.hash)).one_or_none()
            seq, previous = (head.seq + 1, head.hash) if head else (1, chain.GENESIS)
            record = Recording(session, seq, now, what, by_id, previous, new_id)
            _listen(record)
            try:
                yield record
                record._seal()
            except BaseException:
                session.rollback()
                raise
            if keep:
                session.commit()
            else:
                session.rollback()


@contextmanager
def reading(engine: Engine, path: Path) -> Iterator[Session]:
    """A session for answers: one consistent view, nothing written."""
    with translated(path), Session(engine) as session:
        yield session
        session.rollback()

