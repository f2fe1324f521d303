"""What an entry said and changed, and which later entries build on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import Column, Table, select
from sqlalchemy.orm import Session

from registry.services import history
from registry.storage import chain
from registry.storage.base import Base, Fact
from registry.storage.lineage_queries import among, as_parameter
from registry.storage.models import (
    Batch,
    ChainEntry,
    LedgerEntry,
    Look,
    Lot,
    Node,
    Plant,
)

MODELS: dict[str, type[Any]] = {
    mapper.local_table.name: mapper.class_  # type: ignore[attr-defined]  # a Table
    for mapper in Base.registry.mappers
}
"""The class of each table."""

NAMED_BY_OTHERS = ("person", "place")
"""What is made along the way when it is named first, and serves whoever names it afterwards."""

_ONE_RECORD = {"plant": "node", "lot": "node", "batch": "accession"}
"""Tables whose key is that of another, which stands for the same record."""

_BESIDE = frozenset({"label_print", "consent_use", "question"})
"""What may stand though what it names was taken back: a label is in print, an act was done."""

_FALLS_AWAY = frozenset({"recall_item.release_item_id"})
"""What is not told of any more once what it names was taken back: a sale leaves the worklist."""


@dataclass(frozen=True, slots=True)
class Said:
    """A row that an entry added or changed, as the chain has it.

    Attributes:
        added: it was new; otherwise it was changed in place.
        table: its table.
        key: its key.
        values: {column: value}, all of a new row, or those that were changed.
    """

    added: bool
    table: str
    key: tuple[Any, ...]
    values: dict[str, Any]

    @property
    def row(self) -> history.Key:
        """Which row it is."""
        return self.table, self.key


@dataclass(frozen=True, slots=True)
class Leaning:
    """What builds on an entry.

    Attributes:
        later: entries that would have to be taken back before it.
        ended: plants of it that have left or ended since.
        beside: later entries that name what it recorded, and can stand without it.
    """

    later: frozenset[int]
    ended: tuple[str, ...]
    beside: frozenset[int]

    @property
    def in_the_way(self) -> bool:
        """Whether anything has to be taken back before."""
        return bool(self.later or self.ended)


def said_by(session: Session, seq: int) -> tuple[Said, ...]:
    """Every row that an entry added or changed."""
    return tuple(
        Said(mark == "+", table, key, values)
        for mark, table, key, values in history.said_in(session, seq)
    )


def taken_back_by(session: Session, seq: int) -> int | None:
    """The entry that took another back."""
    return session.scalar(
        select(ChainEntry.seq)
        .where(
            ChainEntry.seq > seq,
            ChainEntry.header.like(f'%"more":{{"entry":{seq},%'),
            ChainEntry.header.like('%"what":"correct"%'),
        )
        .limit(1)
    )


def is_correction(session: Session, seq: int) -> bool:
    """Whether an entry takes another back."""
    header = session.scalars(select(ChainEntry.header).where(ChainEntry.seq == seq)).one()
    return '"what":"correct"' in header


def leaning_on(session: Session, seq: int, what: str, said: tuple[Said, ...]) -> Leaning:
    """What builds on an entry.

    Args:
        session: on the registry.
        seq: of the entry.
        what: its act.
        said: its rows.
    """
    later, beside = set[int](), set[int]()
    for table, entries in _naming(session, seq, _made(what, said)).items():
        (beside if table in _BESIDE else later).update(entries)
    later |= _replaced_by(session, said) | _counted_since(session, seq, said)
    later |= changed_again(session, seq, said).keys() | _went_on(session, seq, said)
    return Leaning(frozenset(later), _ended(session, said), frozenset(beside - later))


def in_use(session: Session, seq: int, one: Said) -> bool:
    """Whether a person or place that an entry made along the way is named by later ones."""
    if any(_naming(session, seq, {one.table: {one.key[0]}}).values()):
        return True
    recorded = select(ChainEntry.seq).where(ChainEntry.by_id == one.key[0]).limit(1)
    return one.table == "person" and session.scalar(recorded) is not None


def _made(what: str, said: Iterable[Said]) -> dict[str, set[Any]]:
    """The records that an entry made, by table; without those that others may go on naming."""
    made = defaultdict[str, set[Any]](set)
    for one in said:
        along_the_way = one.table in NAMED_BY_OTHERS and what != f"{one.table} add"
        if one.added and len(one.key) == 1 and not along_the_way:
            made[_ONE_RECORD.get(one.table, one.table)].add(one.key[0])
    return made


@cache
def _facts_naming(table: str) -> tuple[tuple[Table, Column[Any]], ...]:
    """Columns of facts that name a record of a table."""
    found: list[tuple[Table, Column[Any]]] = []
    for name, model in MODELS.items():
        if not issubclass(model, Fact):
            continue
        for column in Base.metadata.tables[name].columns:
            if f"{name}.{column.name}" in _FALLS_AWAY:
                continue
            for key in column.foreign_keys:
                named = key.column.table.name
                if _ONE_RECORD.get(named, named) == table:
                    found.append((Base.metadata.tables[name], column))
    return tuple(found)


def _naming(session: Session, seq: int, made: dict[str, set[Any]]) -> dict[str, set[int]]:
    """Later entries whose standing facts name one of some records, by the table of the fact."""
    found = defaultdict[str, set[int]](set)
    for record, keys in made.items():
        if not all(isinstance(key, int) for key in keys):
            continue  # files, which are named by their hash and kept whatever names them
        for table, column in _facts_naming(record):
            found[table.name].update(
                session.scalars(
                    select(table.c.seq)
                    .where(among(column), table.c.seq > seq, table.c.void_seq.is_(None))
                    .distinct(),
                    as_parameter(keys),
                )
            )
    return found


def _replaced_by(session: Session, said: Iterable[Said]) -> set[int]:
    """Entries that took rows of this one back to put others in their place, or closed them."""
    found = set[int]()
    for one in said:
        model = MODELS[one.table]
        if not one.added or not issubclass(model, Fact):
            continue
        row = session.get_one(model, one.key)
        since = [row.void_seq, getattr(row, "closed_seq", None), getattr(row, "lifted_seq", None)]
        found.update(seq for seq in since if seq is not None and seq != row.seq)
    return {seq for seq in found if not is_correction(session, seq)}


# --- counts --------------------------------------------------------------------------------------


def lots_of(session: Session, said: Iterable[Said]) -> list[Lot]:
    """The lots that an entry recorded or counted."""
    ids = {one.key[0] for one in said if one.table == "lot"}
    for one in said:
        if one.added and one.table in ("ledger_entry", "look") and one.values["lot_id"]:
            ids.add(one.values["lot_id"])
    return [session.get_one(Lot, node_id) for node_id in sorted(ids)]


def _counted_since(session: Session, seq: int, said: tuple[Said, ...]) -> set[int]:
    """Entries that counted on what this one said of the same lots or batches."""
    found = set[int]()
    moved, unsaid = _moved(said, "lot_id"), _moved(said, "batch_id")
    for lot in lots_of(session, said):
        if lot.void_seq is not None:
            continue
        batch = session.get_one(Batch, lot.batch_id)
        if lot.node_id in moved and batch.closed_seq is not None and batch.closed_seq > seq:
            found.add(batch.closed_seq)
        if lot.opening_kind != "exact" and any(
            one.row == ("lot", (lot.node_id,)) and "in_bench" in one.values for one in said
        ):
            # Nothing but the chain knows what an estimate was before somebody counted it.
            found |= _later_counts(session, seq, lot_id=lot.node_id)
        elif lot.in_bench is not None and lot.in_bench < moved.get(lot.node_id, 0):
            found |= _later_counts(session, seq, lot_id=lot.node_id)
        if lot.node_id in moved:
            found |= _recounted(session, seq, lot.node_id)
    for batch_id, n in unsaid.items():
        batch = session.get_one(Batch, batch_id)
        closed = batch.closed_seq is not None and batch.closed_seq > seq
        if closed or batch.unsaid + n < 0:
            found |= _later_counts(session, seq, batch_id=batch_id)
    for batch_id in {lot.batch_id for lot in lots_of(session, said)} | unsaid.keys():
        found |= _more_gone_than_left(session, seq, batch_id, moved, unsaid)
    return found


def _more_gone_than_left(
    session: Session, seq: int, batch_id: int, moved: dict[int, int], unsaid: dict[int, int]
) -> set[int]:
    """Entries that took out of a batch, without saying of which lot, what would not be there."""
    batch = session.get_one(Batch, batch_id)
    lots = session.scalars(
        select(Lot).where(Lot.batch_id == batch_id, Lot.void_seq.is_(None), Lot.seq != seq)
    ).all()
    if any(lot.in_bench is None for lot in lots):
        return set()
    left = sum((lot.in_bench or 0) - moved.get(lot.node_id, 0) for lot in lots)
    short = left < batch.unsaid + unsaid.get(batch_id, 0)
    return _later_counts(session, seq, batch_id=batch_id) if short else set()


def _moved(said: Iterable[Said], subject: str) -> dict[int, int]:
    """The sum of an entry's movements, by lot or by batch."""
    sums = defaultdict[int, int](int)
    for one in said:
        if one.added and one.table == "ledger_entry" and one.values[subject]:
            sums[one.values[subject]] += one.values["n"]
    return dict(sums)


def _recounted(session: Session, seq: int, lot_id: int) -> set[int]:
    """Entries by which somebody counted a lot: what was there then must not change after."""
    return set(
        session.scalars(
            select(LedgerEntry.seq).where(
                LedgerEntry.lot_id == lot_id,
                LedgerEntry.kind == "recounted",
                LedgerEntry.seq > seq,
                LedgerEntry.void_seq.is_(None),
            )
        )
    )


def _later_counts(
    session: Session, seq: int, *, lot_id: int | None = None, batch_id: int | None = None
) -> set[int]:
    found = set[int]()
    for model in (LedgerEntry, Look):
        about = model.lot_id == lot_id if lot_id else model.batch_id == batch_id
        found.update(
            session.scalars(
                select(model.seq).where(about, model.seq > seq, model.void_seq.is_(None))
            )
        )
    return found


# --- what was changed in place -------------------------------------------------------------------

TREATMENT = ("wood", "wood_stage", "part", "medium", "hormone", "ppm", "cover")

FILLED_IN: dict[str, tuple[str, ...]] = {
    "plant": ("place_id", "pot"),
    "lot": ("stuck", *TREATMENT),
    "batch": ("stuck", "container"),
    "stay": ("until",),
    "ownership": ("until",),
    "place": ("name", "key"),
    "stray_tag": ("node_id",),
    "label_print": ("status",),
}
"""Attributes that several acts may change in place, one after the other."""

DATES = frozenset({"stuck", "until", "ended"})
"""Attributes that are dates, each in four columns."""


def columns_of(attribute: str) -> tuple[str, ...]:
    """The columns of an attribute: one, or the four of a date."""
    if attribute in DATES:
        return tuple(f"{attribute}_{part}" for part in ("edtf", "first", "last", "said"))
    return (attribute,)


def changed_again(session: Session, seq: int, said: Iterable[Said]) -> dict[int, set[history.Key]]:
    """Later entries that changed again what this one changed in place, with the rows."""
    wrote = {one.row: one.values for one in said if not one.added and _filled_in(one)}
    found = defaultdict[int, set[history.Key]](set)
    if not wrote:
        return found
    for after in history.entries_about(session, wrote, after=seq):
        for one in said_by(session, after):
            again = _filled_in(one) & wrote.get(one.row, {}).keys()
            if not one.added and again and not _undone(session, after):
                found[after].add(one.row)
    return found


def _filled_in(one: Said) -> set[str]:
    """The columns of `FILLED_IN` that were said of a row."""
    names = {name for attribute in FILLED_IN.get(one.table, ()) for name in columns_of(attribute)}
    return names & one.values.keys()


def _undone(session: Session, seq: int) -> bool:
    """Whether an entry was taken back, or is one that took another back."""
    return is_correction(session, seq) or taken_back_by(session, seq) is not None


def _ended(session: Session, said: Iterable[Said]) -> tuple[str, ...]:
    """The plants of an entry that have left or ended since."""
    return tuple(
        session.get_one(Node, one.key).code
        for one in said
        if one.added and one.table == "plant"
        if session.get_one(Plant, one.key).status != one.values["status"]
    )


_GOES_ON = {
    "plant": (*FILLED_IN["plant"], "status"),
    "lot": FILLED_IN["lot"],
    "batch": FILLED_IN["batch"],
    "stray_tag": FILLED_IN["stray_tag"],
}
"""Attributes of a record that tell, where they have changed, that something came of it."""


def _went_on(session: Session, seq: int, said: Iterable[Said]) -> set[int]:
    """Later entries that changed what this one made: it was stuck, potted on, or ended."""
    found = set[int]()
    for one in said:
        names = {n for attribute in _GOES_ON.get(one.table, ()) for n in columns_of(attribute)}
        if not one.added or not names:
            continue
        table = Base.metadata.tables[one.table]
        where = (column == part for column, part in zip(table.primary_key, one.key, strict=True))
        stands = session.execute(select(table).where(*where)).mappings().one()
        if all(chain.plain(stands[name]) == one.values[name] for name in names):
            continue
        for after in history.entries_about(session, [one.row], after=seq):
            if not _undone(session, after) and any(
                not other.added and other.row == one.row and names & other.values.keys()
                for other in said_by(session, after)
            ):
                found.add(after)
    return found
