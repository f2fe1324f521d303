"""The past of a record: every entry that touched it, from the chain itself.

Which entries may have touched it is asked of the tables: whatever says something of a record points
to it and names the entry that recorded it and the one that took it back, and an entry names the
codes that it was about. What each of them said is then read from the chain, so that nothing is told
that the chain does not hold.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from sqlalchemy import Column, Table, or_, select
from sqlalchemy.orm import Session

from registry.domain.history import Change, Past
from registry.services.people import person_name, with_names
from registry.services.resolve import accession_code
from registry.storage import chain
from registry.storage.base import Base
from registry.storage.lineage_queries import among, as_parameter
from registry.storage.models import ChainEntry, ChainPart, Edge, Node, Place, RecallItem

Key = tuple[str, tuple[Any, ...]]
"""A row: its table and its key as the chain has it."""

ENTRY_COLUMNS = ("seq", "void_seq", "closed_seq", "lifted_seq", "settled_seq")
"""Columns that name an entry which wrote the row."""

_NODES = frozenset({"node", "plant", "lot"})
_ACCESSIONS = frozenset({"accession", "batch"})
_SAID_ELSEWHERE = ("_first", "_last", "_said")
_MEANS_NOTHING = frozenset({
    "id", "uuid", "key", "received_key", "text_hash", "detail_hash", "sealed_id", "sealed_hash",
    "verdict_id", "release_id", "receipt_id", "next_plant", "next_lot", "parts", "typed",
    "findings", "blob_sha256", "accession_kind", *ENTRY_COLUMNS,
})  # fmt: skip
"""Columns that say nothing to a person."""


@dataclass(frozen=True, slots=True)
class Subject:
    """The record that is asked about: by its identifiers, and the codes that it goes by.

    Attributes:
        nodes, accessions, people: their identifiers.
        others: rows of other tables, by table.
        acts: acts that may touch it and name no code.
        codes: the codes that it goes by.
    """

    nodes: tuple[int, ...] = ()
    accessions: tuple[int, ...] = ()
    people: tuple[int, ...] = ()
    others: tuple[tuple[str, tuple[int, ...]], ...] = ()
    acts: tuple[str, ...] = ()
    codes: tuple[str, ...] = ()


def of_plant(session: Session, node_id: int) -> Subject:
    """A plant, or one lot."""
    node = session.get_one(Node, node_id)
    above = session.scalars(
        select(Node).join(Edge, Edge.parent_id == Node.id).where(Edge.child_id == node_id)
    )
    codes = [node.code, accession_code(session, node.accession_id)]
    # What was done to a lot or batch was said under its code.
    codes += [
        code for one in above for code in (one.code, accession_code(session, one.accession_id))
    ]
    return Subject(nodes=(node_id,), codes=tuple(dict.fromkeys(codes)))


def of_batch(session: Session, accession_id: int) -> Subject:
    """A batch with its lots."""
    lots = session.scalars(
        select(Node).where(Node.accession_id == accession_id, Node.kind == "lot").order_by(Node.id)
    ).all()
    codes = (accession_code(session, accession_id), *(lot.code for lot in lots))
    return Subject(tuple(lot.id for lot in lots), (accession_id,), codes=codes)


def of_person(person_id: int) -> Subject:
    """A person."""
    return Subject(people=(person_id,))


def of_recall(session: Session, recall_id: int) -> Subject:
    """A recall with its lines, and what was found of each."""
    lines = session.scalars(select(RecallItem.id).where(RecallItem.recall_id == recall_id)).all()
    return Subject(others=(("recall", (recall_id,)), ("recall_item", tuple(lines))))


def of_tool(tool_id: int) -> Subject:
    """A knife or a tray."""
    return Subject(others=(("tool", (tool_id,)),))


def of_registry() -> Subject:
    """The registry's own row, with its settings."""
    return Subject(others=(("registry", (1,)),), acts=("init", "settings", "label stock"))


def past_of(session: Session, subject: Subject) -> tuple[Past, ...]:
    """Every entry that touched a record, oldest first."""
    rows = _rows_of(session, subject)
    entries = _entries_of(session, rows, subject)
    told = _Telling(session, rows)
    found = []
    for seq, header in session.execute(
        select(ChainEntry.seq, ChainEntry.header)
        .where(ChainEntry.seq.in_(entries))
        .order_by(ChainEntry.seq)
    ):
        changes = tuple(told.changes(seq))
        if changes:
            found.append(_past(session, seq, json.loads(header), changes))
    return tuple(found)


def rows_shown(
    session: Session, subject: Subject
) -> Iterator[tuple[str, int | None, dict[str, str]]]:
    """(table, the entry that took it back, {column: value}) of the rows that name a record."""
    rows = _rows_of(session, subject)
    told = _Telling(session, rows)
    for (table, _), values in sorted(rows.items(), key=lambda row: row[0][0]):
        plain = {name: chain.plain(value) for name, value in values.items()}
        yield table, values.get("void_seq"), told.shown(table, plain)


def told_of(session: Session, seq: int) -> Past:
    """Everything that one entry said, of whatever record."""
    wanted = {}
    standing: dict[Key, dict[str, Any]] = {}
    for mark, table, key, said in said_in(session, seq):
        standing[table, key] = {}
        if mark == "~":
            wanted[table, key] = tuple(said)
    told = _Telling(session, standing)
    for row, before in values_before(session, seq, wanted).items():
        told.knows(row, before)
    header = session.scalars(select(ChainEntry.header).where(ChainEntry.seq == seq)).one()
    return _past(session, seq, json.loads(header), tuple(told.changes(seq)))


def _past(session: Session, seq: int, facts: dict[str, Any], changes: tuple[Change, ...]) -> Past:
    return Past(
        seq,
        facts["what"],
        facts["recorded"],
        facts["happened"],
        person_name(session, facts["by"]),
        facts.get("more", {}).get("why"),
        changes,
    )


# --- which rows, and which entries ---------------------------------------------------------------


@cache
def _pointing(kinds: frozenset[str]) -> tuple[tuple[Table, Column[Any]], ...]:
    """Every column in the chain that points to one of the tables `kinds`, or is its key."""
    found: list[tuple[Table, Column[Any]]] = []
    for table in Base.metadata.sorted_tables:
        if not chain.chained_columns(table):
            continue
        for column in table.columns:
            points = any(key.column.table.name in kinds for key in column.foreign_keys)
            if points or (table.name in kinds and column.name == "id"):
                found.append((table, column))
    return tuple(found)


def pointing_to_people() -> tuple[tuple[Table, Column[Any]], ...]:
    """Every column of a table of the chain that names a person, or is the person's own key."""
    return _pointing(frozenset({"person"}))


def _rows_of(session: Session, subject: Subject) -> dict[Key, dict[str, Any]]:
    """The rows that say something of a record, as they stand."""
    rows: dict[Key, dict[str, Any]] = {}
    for kinds, ids in (
        (_NODES, subject.nodes),
        (_ACCESSIONS, subject.accessions),
        (frozenset({"person"}), subject.people),
        *((frozenset({table}), ids) for table, ids in subject.others),
    ):
        for table, column in _pointing(kinds) if ids else ():
            if kinds == _ACCESSIONS and table.name in ("node", "lot"):
                continue  # those of the lots are asked for themselves
            rows.update(_select(session, table, among(column), as_parameter(ids)))
    return rows


def _select(
    session: Session, table: Table, where: Any, parameters: dict[str, str]
) -> Iterator[tuple[Key, dict[str, Any]]]:
    columns = chain.chained_columns(table)
    for row in session.execute(select(*columns).where(where), parameters).mappings():
        values = {column.name: row[column] for column in columns}
        key = tuple(chain.plain(row[column]) for column in table.primary_key)
        yield (table.name, key), values


def _entries_of(session: Session, rows: dict[Key, dict[str, Any]], subject: Subject) -> set[int]:
    entries = {
        values[column] for values in rows.values() for column in ENTRY_COLUMNS if values.get(column)
    }
    mentions = [f'%"{code}"%' for code in subject.codes]
    # A consent that is withdrawn, or a person whose details go, is named in no code.
    mentions += [f'%"what":"{what}%' for what in ("consent", "person", "correct", *subject.acts)]
    entries.update(
        session.scalars(
            select(ChainEntry.seq).where(or_(*(ChainEntry.header.like(m) for m in mentions)))
        )
    )
    return entries


# --- what an entry said of them ------------------------------------------------------------------


@dataclass
class _Telling:
    """Reads entries in their order and tells what they said of some rows."""

    session: Session
    rows: dict[Key, dict[str, Any]]
    _before: dict[Key, dict[str, Any]] = field(default_factory=lambda: defaultdict(dict))
    _names: dict[tuple[str, Any], str] = field(default_factory=dict)

    def knows(self, row: Key, before: dict[str, Any]) -> None:
        """Have what a row held before the entry that is told first."""
        self._before[row].update(before)

    def changes(self, seq: int) -> Iterator[Change]:
        """What an entry said of them."""
        for mark, table, key, said in said_in(self.session, seq):
            if (table, key) not in self.rows:
                continue
            before = self._before[table, key]
            if mark == "+":
                before.update(said)
                yield self._added(table, key, said)
            else:
                changed = {name: value for name, value in said.items() if before.get(name) != value}
                old = {name: before.get(name) for name in changed}
                before.update(said)
                if change := self._changed(table, before, old, changed):
                    yield change

    def _added(self, table: str, key: tuple[Any, ...], said: dict[str, Any]) -> Change:
        void = self.rows[table, key].get("void_seq")
        return Change(table, self.shown(table, said), taken_back_by=void)

    def _changed(
        self, table: str, row: dict[str, Any], old: dict[str, Any], new: dict[str, Any]
    ) -> Change | None:
        if new.get("void_seq"):
            return Change(table, self.shown(table, row), takes_back=row.get("seq"))
        before, after = self.shown(table, old), self.shown(table, new)
        changed = tuple(
            (name, before.get(name, ""), after.get(name, "")) for name in before | after
        )
        return Change(table, self.shown(table, row), changed) if changed else None

    def shown(self, table: str, said: dict[str, Any]) -> dict[str, str]:
        """What columns hold, in words, without those that say nothing to a person."""
        shown = {}
        for name, value in said.items():
            if value in (None, "", False, [], {}) or name in _MEANS_NOTHING:
                continue
            if name.endswith(_SAID_ELSEWHERE) and f"{name.rpartition('_')[0]}_edtf" in said:
                continue
            shown[name.removesuffix("_edtf")] = self._named(table, name, value)
        return shown

    def _named(self, table: str, column: str, value: Any) -> str:
        known = Base.metadata.tables.get(table)
        points = (
            known.columns[column].foreign_keys
            if known is not None and column in known.columns
            else ()
        )
        for key in points:
            target = key.column.table.name
            if (target, value) not in self._names:
                self._names[target, value] = self._name(target, value)
            return self._names[target, value]
        if value is True:
            return "yes"
        if isinstance(value, str):
            return with_names(self.session, value)
        if isinstance(value, dict):
            return ", ".join(f"{key} {_plainly(of)}" for key, of in value.items())
        return _plainly(value)

    def _name(self, table: str, key: Any) -> str:
        if table in _NODES:
            return self.session.get_one(Node, key).code
        if table in _ACCESSIONS:
            return accession_code(self.session, key)
        if table == "person":
            return person_name(self.session, key)
        if table == "place":
            return self.session.get_one(Place, key).name
        if table == "recall_item":
            return f"line {self.session.get_one(RecallItem, key).line}"
        return f"{table.replace('_', ' ')} {key}"


def _plainly(value: Any) -> str:
    """A value as words: yes and no, the parts of a list, the names in a structure."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list | dict) else str(value)


def said_in(
    session: Session, seq: int
) -> Iterator[tuple[str, str, tuple[Any, ...], dict[str, Any]]]:
    """(`+` or `~`, table, key, {column: value}) of every row of an entry, as the chain has it."""
    bodies = session.scalars(
        select(ChainPart.body).where(ChainPart.seq == seq).order_by(ChainPart.part)
    )
    return chain.told(bodies)


def values_before(
    session: Session, seq: int, wanted: dict[Key, tuple[str, ...]]
) -> dict[Key, dict[str, Any]]:
    """What rows held before an entry, as the chain has it.

    Args:
        session: on the registry.
        seq: of the entry.
        wanted: the rows, with the columns that are wanted of each.
    """
    missing = {(key, name) for key, names in wanted.items() for name in names}
    found: dict[Key, dict[str, Any]] = defaultdict(dict)
    for before in sorted(entries_about(session, wanted, before=seq), reverse=True):
        for _, table, key, said in reversed(list(said_in(session, before))):
            for name in said:
                if ((table, key), name) in missing:
                    missing.discard(((table, key), name))
                    found[table, key][name] = said[name]
        if not missing:
            break
    return found


def entries_about(
    session: Session, rows: Iterable[Key], *, before: int | None = None, after: int | None = None
) -> set[int]:
    """The entries before or after another that may have touched one of some rows."""
    found: set[int] = set()
    for table, key in rows:
        model = Base.metadata.tables[table]
        if table in _NODES:
            subject = of_plant(session, key[0])
            found |= _entries_of(session, _rows_of(session, subject), subject)
        elif table in _ACCESSIONS:
            subject = of_batch(session, key[0])
            found |= _entries_of(session, _rows_of(session, subject), subject)
        else:
            node = model.columns.get("node_id")
            here = session.execute(
                select(model).where(
                    *(column == part for column, part in zip(model.primary_key, key, strict=True))
                )
            ).mappings().one()  # fmt: skip
            if node is not None and here["node_id"] is not None:
                subject = of_plant(session, here["node_id"])
                found |= _entries_of(session, _rows_of(session, subject), subject)
            else:
                found |= set(session.scalars(select(ChainEntry.seq)))
    return {
        seq for seq in found if (before is None or seq < before) and (after is None or seq > after)
    }
