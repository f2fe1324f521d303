"""Putting right: an entry is taken back, never wiped; its rows stay beside, marked by whom and why.

What came after and leans on it is named first: an entry whose plants were sold, or whose lot was
counted again, cannot be taken back before those are.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, String, func, literal_column, or_, select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.history import Past
from registry.domain.numbers import whole
from registry.errors import EntryUnknown, LeansOnIt, NothingToPutRight
from registry.services import history
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

NEVER = frozenset({"init", "settings", "correct", "restore", "migrate", "person blank"})
"""Acts that are not put right by taking them back."""

_NOT_ABOUT_PLANTS = (
    "hold", "settle", "right", "lookup", "licence", "consent", "recall close", "tool clean",
)  # fmt: skip
"""Acts that may leave `last` where it was, yet can be a slip."""

_MODELS: dict[str, type[Any]] = {
    mapper.local_table.name: mapper.class_  # type: ignore[attr-defined]  # a Table
    for mapper in Base.registry.mappers
}

_TREATMENT = ("wood", "wood_stage", "part", "medium", "hormone", "ppm", "cover")

_FILLED_IN: dict[str, tuple[str, ...]] = {
    "plant": ("place_id", "pot"),
    "lot": ("stuck", *_TREATMENT),
    "batch": ("stuck", "container"),
    "stay": ("until",),
    "ownership": ("until",),
    "place": ("name", "key"),
    "stray_tag": ("node_id",),
    "label_print": ("status",),
}
"""Attributes that an act changes in place, and that get back what they held before it."""

_STATUS = {"sell": "sold", "give": "given", "swap": "swapped"}


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the chain as a grower knows it."""

    seq: int
    what: str
    recorded: str
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What taking an entry back would do.

    Attributes:
        entry: the entry.
        past: what it had said.
        later: entries that build on it, newest first; they would have to be taken back before.
        ended: plants of it that have left or ended.
    """

    entry: Entry
    past: Past
    later: tuple[Entry, ...]
    ended: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What taking an entry back did."""

    entry: Entry
    rows: int
    reason: str


def _told(what: str) -> ColumnElement[str]:
    """What an entry's header tells under a name of ours."""
    return literal_column(f"json_extract(chain_entry.header, '$.{what}')", String)


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
                    _told("last").is_not(None),
                    _told("what").in_(_NOT_ABOUT_PLANTS),
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


def foresee(session: Session, entry: Entry) -> Foreseen:
    """What an entry had said, and what depends on it.

    Raises:
        NothingToPutRight: the entry is of a kind that is not taken back, or was already.
    """
    if entry.what in NEVER or _taken_back(session, entry.seq):
        raise NothingToPutRight
    later, ended = _leaning(session, entry, _rows(session, entry.seq))
    try:
        _filled_in(session, entry.seq)
    except LeansOnIt as error:
        later |= set(error.later)
    headers = session.scalars(
        select(ChainEntry.header).where(ChainEntry.seq.in_(later)).order_by(ChainEntry.seq.desc())
    )
    return Foreseen(
        entry,
        history.told_of(session, entry.seq),
        tuple(_entry(header) for header in headers),
        tuple(ended),
    )


def take_back(rec: Recording, entry: Entry, reason: str) -> TakenBack:
    """Take an entry back: its facts no longer count, and balances are as if it had not been.

    Raises:
        NothingToPutRight: the entry is of a kind that is not taken back, or was already.
        LeansOnIt: later entries build on it, which are named.
    """
    if entry.what in NEVER or _taken_back(rec.session, entry.seq):
        raise NothingToPutRight
    touched = _rows(rec.session, entry.seq)
    later, ended = _leaning(rec.session, entry, touched)
    if later or ended:
        raise LeansOnIt(entry.seq, tuple(sorted(later)), tuple(ended))
    filled = _filled_in(rec.session, entry.seq)
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
    count += _put_back(rec.session, filled)
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
    rec.more = {"entry": entry.seq, "why": reason}
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


def _leaning(
    session: Session, entry: Entry, touched: list[tuple[str, str, tuple[Any, ...]]]
) -> tuple[set[int], list[str]]:
    """The entries that build on what an entry made, and the plants of it that are gone."""
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
    return later, ended


def _filled_in(session: Session, seq: int) -> dict[history.Key, dict[str, Any]]:
    """What an entry had changed in place, as {row: {column: what it held before}}.

    Raises:
        LeansOnIt: a later entry changed one of these again.
    """
    wrote: dict[history.Key, dict[str, Any]] = {}
    for mark, table, key, said in history.said_in(session, seq):
        columns = {name for attribute in _FILLED_IN.get(table, ()) for name in _columns(attribute)}
        if mark == "~" and columns & said.keys():
            wrote[table, key] = {name: said[name] for name in said if name in columns}
    if not wrote:
        return {}
    later = {
        after
        for after in history.entries_about(session, wrote, after=seq)
        for mark, table, key, said in history.said_in(session, after)
        if mark == "~" and wrote.get((table, key), {}).keys() & said.keys()
        if not _taken_back_itself(session, after)
    }
    if later:
        raise LeansOnIt(seq, tuple(sorted(later)), ())
    return history.values_before(session, seq, {key: tuple(said) for key, said in wrote.items()})


def _taken_back_itself(session: Session, seq: int) -> bool:
    """Whether an entry was taken back, or is one that took another back."""
    header = session.scalars(select(ChainEntry.header).where(ChainEntry.seq == seq)).one()
    if json.loads(header)["what"] == "correct":
        return True
    pattern = f'%"more":{{"entry":{seq},%'
    taken = select(ChainEntry.seq).where(ChainEntry.header.like(pattern)).limit(1)
    return session.scalar(taken) is not None


def _columns(attribute: str) -> tuple[str, ...]:
    """The columns of an attribute: one, or the four of a date."""
    if attribute in _DATES:
        return tuple(f"{attribute}_{part}" for part in ("edtf", "first", "last", "said"))
    return (attribute,)


_DATES = frozenset({"stuck", "until"})


def _put_back(session: Session, before: dict[history.Key, dict[str, Any]]) -> int:
    """Give rows back what they held; how many."""
    for (table, key), said in before.items():
        row = session.get_one(_MODELS[table], key)
        for attribute in _FILLED_IN[table]:
            columns = _columns(attribute)
            if not said.keys() & set(columns):
                continue
            if attribute in _DATES:
                edtf, first, last, typed = (said.get(column) for column in columns)
                setattr(row, attribute, edtf and FuzzyDate(edtf, _day(first), _day(last), typed))
            else:
                setattr(row, attribute, said.get(attribute))
    session.flush()
    return len(before)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


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
        plant.witness_id = None
