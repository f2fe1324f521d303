"""Putting right: an entry is taken back, never wiped; its rows stay beside, marked by whom and why.

What came after and leans on it is named first: an entry whose plants were sold, or whose lot was
counted again, cannot be taken back before those are.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from registry.domain.numbers import whole
from registry.errors import EntryUnknown, LeansOnIt, NothingToPutRight
from registry.services.making import rebuild_lines
from registry.storage import chain
from registry.storage.base import Base, Fact
from registry.storage.models import (
    Batch,
    ChainEntry,
    ChainPart,
    Consent,
    Determination,
    Edge,
    Hold,
    LedgerEntry,
    Look,
    Loss,
    Lot,
    Node,
    Note,
    Plant,
    Question,
    Recall,
    RecallItem,
    Release,
    ReleaseItem,
)
from registry.storage.transaction import Recording

NEVER = frozenset({"init", "settings", "correct", "restore", "migrate"})
"""Acts that are not put right by taking them back."""

_NOT_ABOUT_PLANTS = (
    "hold", "settle", "right", "lookup", "licence", "consent", "recall close", "tool clean",
)  # fmt: skip
"""Acts that may leave `last` where it was, yet can be a slip."""

_MODELS: dict[str, type[Any]] = {
    mapper.local_table.name: mapper.class_  # type: ignore[attr-defined]  # a Table
    for mapper in Base.registry.mappers
}

_STATUS = {"sell": "sold", "give": "given", "swap": "swapped"}


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the chain as a grower knows it."""

    seq: int
    what: str
    recorded: str
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What taking an entry back did."""

    entry: Entry
    rows: int
    reason: str


def entry_of(session: Session, reference: str, by_id: int | None) -> Entry:
    """The entry named by its number, or this person's last one.

    Raises:
        EntryUnknown: there is no such entry.
        NothingToPutRight: nothing was recorded yet that can be put right.
    """
    if reference.casefold() == "last":
        own = ChainEntry.by_id.is_(None) if by_id is None else ChainEntry.by_id == by_id
        headers = session.execute(
            select(ChainEntry.header)
            .where(
                own,
                or_(
                    func.json_extract(ChainEntry.header, "$.last").is_not(None),
                    func.json_extract(ChainEntry.header, "$.what").in_(_NOT_ABOUT_PLANTS),
                ),
            )
            .order_by(ChainEntry.seq.desc())
        ).scalars()
        for header in headers:
            entry = _entry(header)
            if entry.what not in NEVER and not _taken_back(session, entry.seq):
                return entry
        raise NothingToPutRight
    number = whole(reference)
    row = None if number is None else session.get(ChainEntry, number)
    if row is None:
        raise EntryUnknown(reference)
    return _entry(row.header)


def entries(session: Session, most: int = 20) -> list[Entry]:
    """The newest entries, newest first."""
    rows = session.execute(
        select(ChainEntry.header).order_by(ChainEntry.seq.desc()).limit(most)
    ).scalars()
    return [_entry(header) for header in rows]


def take_back(rec: Recording, entry: Entry, reason: str) -> TakenBack:
    """Take an entry back: its facts no longer count, and balances are as if it had not been.

    Raises:
        NothingToPutRight: the entry is of a kind that is not taken back, or was already.
        LeansOnIt: later entries build on it, which are named.
    """
    if entry.what in NEVER or _taken_back(rec.session, entry.seq):
        raise NothingToPutRight
    touched = _rows(rec.session, entry.seq)
    _check_later(rec.session, entry, touched)
    count = 0
    for _, table, key in touched:
        model = _MODELS[table]
        if not issubclass(model, Fact):
            continue
        row = rec.session.get(model, key)
        if row is not None and row.seq == entry.seq and row.void_seq is None:
            row.void_seq = rec.seq
            count += 1
    rec.flush()
    count += _reopen(rec.session, entry, touched) + _recompute(rec, touched)
    if not count:
        raise NothingToPutRight
    nodes = [key[0] for op, table, key in touched if op == "+" and table == "node"]
    rebuild_lines(rec, {*nodes, *_renamed(rec.session, touched)})
    if nodes:
        # The reason stands where somebody will look for it.
        rec.add(Note(node_id=nodes[0], text=f"taken back: {reason}"))
    rec.flush()
    rec.last = list(entry.about)
    return TakenBack(entry, count, reason)


def _renamed(session: Session, touched: list[tuple[str, str, tuple[Any, ...]]]) -> set[int]:
    """The nodes whose name, or the parent that they have it from, an entry had said."""
    nodes = set()
    for _, table, key in touched:
        if table == "determination":
            nodes.add(session.get_one(Determination, key).node_id)
        elif table == "edge":
            nodes.add(session.get_one(Edge, key).child_id)
    return nodes


def _entry(header: str) -> Entry:
    facts = json.loads(header)
    return Entry(facts["seq"], facts["what"], facts["recorded"], tuple(facts["last"] or ()))


def _taken_back(session: Session, seq: int) -> bool:
    """Whether the facts of an entry are all taken back already."""
    rows = _rows(session, seq)
    facts = [
        session.get(_MODELS[table], key)
        for op, table, key in rows
        if op == "+" and issubclass(_MODELS[table], Fact)
    ]
    standing = [fact for fact in facts if fact is not None and fact.void_seq is None]
    return bool(facts) and not standing


def _rows(session: Session, seq: int) -> list[tuple[str, str, tuple[Any, ...]]]:
    """(added or changed, table, key) of every row of an entry, as the chain has it."""
    bodies = session.scalars(
        select(ChainPart.body).where(ChainPart.seq == seq).order_by(ChainPart.part)
    )
    return list(chain.touched(bodies))


_LEANING: tuple[tuple[type[Any], str], ...] = (
    (Edge, "parent_id"),
    (LedgerEntry, "lot_id"),
    (Look, "lot_id"),
    (Loss, "lot_id"),
    (ReleaseItem, "node_id"),
    (ReleaseItem, "lot_id"),
    (RecallItem, "node_id"),
)

_LEANING_ON_BATCH: tuple[tuple[type[Any], str], ...] = (
    (LedgerEntry, "batch_id"),
    (Look, "batch_id"),
    (ReleaseItem, "batch_id"),
)


def _check_later(
    session: Session, entry: Entry, touched: list[tuple[str, str, tuple[Any, ...]]]
) -> None:
    made = [key[0] for op, table, key in touched if op == "+" and table == "node"]
    batches = [key[0] for op, table, key in touched if op == "+" and table == "batch"]
    later: set[int] = set()
    for (model, column), keys in (
        *((leaning, made) for leaning in _LEANING),
        *((leaning, batches) for leaning in _LEANING_ON_BATCH),
    ):
        if keys:
            later.update(
                session.scalars(
                    select(model.seq).where(
                        getattr(model, column).in_(keys),
                        model.seq > entry.seq,
                        model.void_seq.is_(None),
                    )
                )
            )
    ended = [
        session.get_one(Node, node_id).code
        for node_id in made
        if (plant := session.get(Plant, node_id)) is not None and plant.status != "alive"
    ]
    if later or ended:
        raise LeansOnIt(entry.seq, tuple(sorted(later)), tuple(ended))


def _reopen(session: Session, entry: Entry, touched: list[tuple[str, str, tuple[Any, ...]]]) -> int:
    """Undo what an entry had closed: a hold, a consent, a question or a recall; how many."""
    count = 0
    for _, table, key in touched:
        if table not in ("hold", "consent", "question", "recall"):
            continue
        row = session.get_one(_MODELS[table], key)
        if isinstance(row, Hold) and row.lifted_seq == entry.seq:
            row.lifted = row.lifted_seq = None
        elif isinstance(row, Question) and row.settled_seq == entry.seq:
            row.settled_seq = row.how = None
        elif isinstance(row, Recall) and row.closed_seq == entry.seq:
            row.closed = row.closed_seq = row.finding = None
        elif isinstance(row, Consent) and row.seq != entry.seq and row.withdrawn is not None:
            row.withdrawn = None
        else:
            continue
        count += 1
    return count


def _recompute(rec: Recording, touched: list[tuple[str, str, tuple[Any, ...]]]) -> int:
    """Bring the cached columns of what an entry touched back to what the standing facts say.

    Returns:
        How many plants stand again, and batches are open again.
    """
    session = rec.session
    again = 0
    lots = {key[0] for _, table, key in touched if table == "lot"}
    lots |= {
        entry.lot_id
        for _, table, key in touched
        if table == "ledger_entry"
        and (entry := session.get(LedgerEntry, key)) is not None
        and entry.lot_id is not None
    }
    for node_id in lots:
        lot = session.get_one(Lot, node_id)
        if lot.void_seq is None and lot.in_bench is not None and lot.opening_kind == "exact":
            lot.in_bench = _balance(session, lot)
    for _, table, key in touched:
        if table == "batch":
            batch = session.get_one(Batch, key)
            batch.unsaid = -_sum(session, LedgerEntry.batch_id == batch.accession_id)
            again += batch.closed_seq is not None
            batch.closed_seq = None
        if table == "plant":
            plant = session.get_one(Plant, key)
            before = plant.status
            _restore_status(session, plant)
            again += plant.status != before
        if table == "release_item":
            item = session.get_one(ReleaseItem, key)
            if item.node_id is not None:
                _restore_status(session, session.get_one(Plant, item.node_id))
    rec.flush()
    return again


def _balance(session: Session, lot: Lot) -> int:
    moved_in = session.scalar(
        select(func.count()).where(
            LedgerEntry.lot_id == lot.node_id,
            LedgerEntry.kind == "moved_in",
            LedgerEntry.void_seq.is_(None),
        )
    )
    opening = 0 if moved_in else lot.opening_low or 0
    return opening + _sum(session, LedgerEntry.lot_id == lot.node_id)


def _sum(session: Session, which: Any) -> int:
    total = session.scalar(
        select(func.coalesce(func.sum(LedgerEntry.n), 0)).where(
            which, LedgerEntry.void_seq.is_(None), LedgerEntry.kind != "stuck"
        )
    )
    return int(total or 0)


def _restore_status(session: Session, plant: Plant) -> None:
    """A plant whose end was taken back is alive, unless another release of it stands."""
    if plant.void_seq is not None:
        return
    kind = session.scalar(
        select(Release.kind)
        .join(ReleaseItem, ReleaseItem.release_id == Release.id)
        .where(ReleaseItem.node_id == plant.node_id, ReleaseItem.void_seq.is_(None))
    )
    plant.status = _STATUS.get(kind or "", "alive")
    if kind is None:
        plant.ended = None
        plant.end_kind = None
        plant.end_reason = None
