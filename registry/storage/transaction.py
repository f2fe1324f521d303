"""The one way to write: a transaction that takes the chain's head first and seals an entry last.

Whoever records something gets a `Recording`: the session to work in, the entry's number, the
moment, and fresh identifiers. Everything flushed through it becomes part of the entry; a write by
any other road is refused by the guard in `registry.storage.engine`.

Sealing is done here and not in a session event, because commits of savepoints fire those too, and
bulk statements pass them by.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cache
from typing import Any, NoReturn, TypeVar, cast
from uuid import UUID

from sqlalchemy import (
    ClauseElement,
    ColumnDefault,
    Connection,
    Engine,
    Insert,
    Table,
    event,
    insert,
    inspect,
    text,
    update,
)
from sqlalchemy.orm import InstanceState, Mapper, Session
from sqlalchemy.orm.base import PassiveFlag

from registry.clock import local_day
from registry.domain.signs import unfit
from registry.errors import RegistryDamaged, RegistryFromNewerProgram, SignUnfit
from registry.ids import NewId
from registry.location import Location
from registry.storage import chain, search
from registry.storage.engine import WRITING, door, keys_given, translated
from registry.storage.models import ChainEntry, ChainHead, ChainPart
from registry.storage.revision import HEAD

T = TypeVar("T")


class _RecordingSession(Session):
    """A session whose flushes may write, and which has no savepoints."""

    def flush(self, objects: Sequence[Any] | None = None) -> None:
        """Send what was added or changed, past the guard."""
        with door(self.connection()):
            super().flush(objects)

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
        last: the codes that `last` stands for afterwards; None leaves it as it was.
        happened: the day of the act as EDTF text, where it has one.
        more: what else the entry's header tells of the act: why, from what, to what. An entry that
            tells something is appended even if no row was written.
    """

    session: Session
    seq: int
    now: datetime
    what: str
    by_id: int | None
    make_id: NewId
    last: list[str] | None = None
    happened: str | None = None
    more: dict[str, Any] = field(default_factory=dict)
    _lines: list[str] = field(default_factory=list)
    _named: set[Table] = field(default_factory=set)
    _renamed: set[search.Touched] = field(default_factory=set)
    _parts: int = 0
    _digest: Any = field(default_factory=hashlib.sha256)
    _loaded: deque[Any] = field(default_factory=lambda: deque(maxlen=10_000))

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
        """Insert many rows of one table at once, by column name; keys must be given.

        What a row leaves out gets the column's default, and `seq` this entry's number.

        Raises:
            ValueError: a column that needs a value has none.
        """
        if not rows:
            return
        self.flush()
        complete = _complete(table, rows, {"seq": self.seq} if "seq" in table.columns else {})
        for row in complete:
            _refuse_signs(row.values())
        with door(self.session.connection()) as connection:
            connection.execute(insert(table), complete)
            keys_given(connection, table)
        names = [column.name for column in chain.chained_columns(table)]
        if not names:
            return
        for row in complete:
            self._find_by(table, row.get)
            self._note(table, ["+", table.name, list(map(chain.plain, map(row.get, names)))])
            self._write_parts()

    def derived(self, *statements: Any) -> None:
        """Run statements that write derived tables, which the chain does not hold."""
        self.flush()
        with door(self.session.connection()) as connection:
            for statement in statements:
                connection.execute(statement)

    def derived_by(self, write: Callable[[Connection], None]) -> None:
        """Have `write` write derived tables over this transaction's connection."""
        self.flush()
        with door(self.session.connection()) as connection:
            write(connection)

    def _find_by(self, table: Table, value: Callable[[str], Any]) -> None:
        """Remember what a written row says new words about, for the search."""
        if record := search.touched(table.name, value):
            self._renamed.add(record)

    def _note(self, table: Table, row: chain.Row) -> None:
        if table not in self._named:
            self._named.add(table)
            self._lines.append(chain.canonical(chain.naming(table)))
        # As text at once: a value changed in place later must not change what was recorded.
        self._lines.append(chain.canonical(row))

    def _write_parts(self) -> None:
        """Send the noted rows as parts; the last, unfilled part is kept back for the end."""
        while len(self._lines) >= chain.ROWS_PER_PART:
            with door(self.session.connection()) as connection:
                connection.execute(insert(ChainPart), self._part())

    def _part(self) -> dict[str, Any]:
        """The next part of the entry, of as many noted rows as it holds."""
        body = chain.pack(self._lines[: chain.ROWS_PER_PART])
        del self._lines[: chain.ROWS_PER_PART]
        self._parts += 1
        self._digest.update(hashlib.sha256(body).digest())
        return {"seq": self.seq, "part": self._parts, "body": body}

    def _seal(self, previous: str) -> None:
        """Append the entry and move the head to it; nothing was recorded, nothing is appended."""
        self.flush()
        self._write_parts()
        end: list[Insert] = [insert(ChainPart).values(self._part())] if self._lines else []
        if not self._parts and not self.more:
            return
        with door(self.session.connection()) as connection:
            search.refresh(connection, self._renamed)
        header = chain.canonical(
            {
                "seq": self.seq,
                "previous": previous,
                "what": self.what,
                "by": self.by_id,
                "happened": self.happened,
                "recorded": self.now.astimezone(UTC).isoformat(),
                "revision": HEAD,
                "parts": self._parts,
                "digest": self._digest.hexdigest(),
                "last": self.last,
                **({"more": self.more} if self.more else {}),
            }
        )
        hashed = chain.digest(header.encode())
        end.append(
            insert(ChainEntry).values(seq=self.seq, header=header, hash=hashed, by_id=self.by_id)
        )
        head = update(ChainHead).values(seq=self.seq, hash=hashed)
        with door(self.session.connection()) as connection:
            if connection.dialect.name == "postgresql":
                # All in one statement: each costs a way to the server while all others wait.
                connection.execute(head.add_cte(*(one.cte() for one in end)))
                return
            for statement in (*end, head):
                connection.execute(statement)


@cache
def _names(table: Table) -> frozenset[str]:
    return frozenset(column.name for column in table.columns)


@cache
def _defaults(table: Table) -> dict[str, Any]:
    """What each column holds where nothing is said; a column that must be said is left out."""
    return {
        column.name: column.default.arg if isinstance(column.default, ColumnDefault) else None
        for column in table.columns
        if column.nullable or isinstance(column.default, ColumnDefault)
    }


def _complete(
    table: Table, rows: Sequence[dict[str, Any]], more: dict[str, Any]
) -> list[dict[str, Any]]:
    """`rows` with a value for each column that one of them says something of.

    A column left out of all is empty: to hand over its emptiness for each row takes twice as long.
    """
    said = {name for row in rows for name in row}
    names, defaults = _names(table), _defaults(table) | more
    usual = {name: value for name, value in defaults.items() if value is not None or name in said}
    wanted = said | usual.keys() | (names - defaults.keys())
    complete = [usual | row for row in rows]
    for row in complete:
        if row.keys() != wanted or not wanted <= names:
            missing, unknown = wanted - row.keys(), row.keys() - names
            raise ValueError(f"{table.name}: without {sorted(missing)}, with {sorted(unknown)}")
    return complete


@cache
def _columns(mapper: Mapper[Any]) -> tuple[tuple[str, str], ...]:
    """(attribute, column) of every column that the chain holds, in table order."""
    return tuple(
        (mapper.get_property_by_column(column).key, column.name)
        for column in chain.chained_columns(cast("Table", mapper.local_table))
    )


def _added(state: InstanceState[Any]) -> chain.Row | None:
    columns = _columns(state.mapper)
    if not columns:
        return None
    values = [chain.plain(state.dict.get(attribute)) for attribute, _ in columns]
    return ["+", _table(state).name, values]


def _changed(state: InstanceState[Any]) -> chain.Row | None:
    changes = {
        column: chain.plain(state.dict.get(attribute))
        for attribute, column in _columns(state.mapper)
        if state.get_history(attribute, PassiveFlag.PASSIVE_NO_INITIALIZE).has_changes()
    }
    if not changes:
        return None
    key = [chain.plain(part) for part in state.identity or ()]
    return ["~", _table(state).name, key, changes]


def _refuse_expressions(state: InstanceState[Any]) -> None:
    # What the database works out is not known here, so the chain could not hold it.
    for attribute in state.committed_state:
        if isinstance(state.dict.get(attribute), ClauseElement):
            raise RuntimeError(f"{state.class_.__name__}.{attribute} was set to an SQL expression")


def _refuse_signs(values: Iterable[Any]) -> None:
    """Refuse text that could not be stored or shown, by whatever way it came in.

    Raises:
        SignUnfit: a text holds such a sign.
    """
    for value in values:
        if type(value) is str and not value.isprintable() and (sign := unfit(value)):
            raise SignUnfit(value, sign)


def _table(state: InstanceState[Any]) -> Table:
    return cast("Table", state.mapper.local_table)


def _listen(recording: Recording) -> None:
    """Have the session's flushes noted in the recording."""

    def before_flush(session: Session, context: Any, instances: Any) -> None:
        for row in session.deleted:
            raise RuntimeError(f"nothing is deleted: {row!r}")
        for row in session.new:
            if hasattr(row, "seq") and row.seq is None:
                row.seq = recording.seq
        for row in (*session.new, *session.dirty):
            _refuse_expressions(inspect(row))
            _refuse_signs(inspect(row).dict.values())

    def after_flush(session: Session, context: Any) -> None:
        new = sorted((inspect(row) for row in session.new), key=lambda state: state.insert_order)
        dirty = [inspect(row) for row in session.dirty]
        # Changes first, as the unit of work does: a row taken back makes room for its successor.
        for states, say in ((dirty, _changed), (new, _added)):
            for state in states:
                if row := say(state):
                    recording._note(_table(state), row)
                    recording._find_by(_table(state), state.dict.get)

    def after_flush_postexec(session: Session, context: Any) -> None:
        recording._write_parts()

    def loaded(session: Session, row: Any) -> None:
        # A session forgets a row that nobody holds, and would ask for it again a moment later.
        recording._loaded.append(row)

    event.listen(recording.session, "loaded_as_persistent", loaded)
    event.listen(recording.session, "before_flush", before_flush)
    event.listen(recording.session, "after_flush", after_flush)
    event.listen(recording.session, "after_flush_postexec", after_flush_postexec)


@contextmanager
def recording(
    bind: Engine | Connection,
    path: Location,
    what: str,
    *,
    now: datetime,
    new_id: NewId,
    by_id: int | None = None,
    keep: bool = True,
) -> Iterator[Recording]:
    """Open the one writing transaction; commit and seal at the end, or leave nothing behind.

    Args:
        bind: the registry's engine; or a connection whose transaction somebody further out opened
            for writing and will end, so that several entries come to stand together or not at all.
        path: of the registry, for what is said when it cannot be written.
        what: the act, as a word.
        now: the moment of recording, aware.
        new_id: makes identifiers.
        by_id: the person who records; None is the grower.
        keep: False rehearses: everything runs and is then rolled back.

    Raises:
        RegistryLocked: another process held the registry for five seconds.
        RegistryReadOnly, StorageFull: it cannot be written.
        RegistryDamaged: SQLite finds it damaged, or the chain has lost its head.
        RegistryFromNewerProgram: its tables were migrated since it was opened.
    """
    writing = bind.execution_options(**{WRITING: True}) if isinstance(bind, Engine) else bind
    # In a transaction of somebody else's, this one is a savepoint: it can be rolled back alone.
    with (
        translated(path),
        _RecordingSession(
            writing, expire_on_commit=False, join_transaction_mode="create_savepoint"
        ) as session,
    ):
        # Writing the head first takes it from every other writer, and tells now, not after all the
        # questions were asked, when the registry cannot be written.
        with door(session.connection()) as connection:
            head = connection.execute(_TAKE_HEAD).one_or_none()
        if head is None:
            raise RegistryDamaged(path, "the chain has no head")
        _check_revision(session, path)
        recording = Recording(session, head.seq + 1, now, what, by_id, new_id)
        _listen(recording)
        yield recording
        recording._seal(head.hash)
        if keep:
            session.commit()
        # Whatever was not committed is rolled back as the session closes, errors and all.


_TAKE_HEAD = update(ChainHead).values(seq=ChainHead.seq).returning(ChainHead.seq, ChainHead.hash)


def _check_revision(session: Session, path: Location) -> None:
    """Refuse to write in tables that another program brought to another revision meanwhile."""
    # Asked once the head is held: the statement that waits for it sees what was before.
    revision = str(session.execute(_REVISION).scalar())
    if revision != HEAD:
        raise RegistryFromNewerProgram(path, revision, HEAD)


_REVISION = text("SELECT version_num FROM alembic_version")


@contextmanager
def together(engine: Engine, path: Location) -> Iterator[Connection]:
    """A connection in one writing transaction, for several recordings: all stand, or none does."""
    writing = engine.execution_options(**{WRITING: True})
    with translated(path), writing.connect() as connection, connection.begin():
        yield connection
