"""Putting right: an entry is taken back, never wiped; its rows stay beside, marked by whom and why.

What came after and leans on it is named first: an entry whose plants were sold, or whose lot was
counted again, cannot be taken back before those are.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.history import Past
from registry.domain.numbers import whole
from registry.errors import (
    AlreadyTakenBack,
    EntryUnknown,
    LeansOnIt,
    NothingToPutRight,
    NotTakenBack,
)
from registry.services import history
from registry.services.leaning import (
    DATES,
    FILLED_IN,
    MODELS,
    NAMED_BY_OTHERS,
    Leaning,
    Said,
    columns_of,
    in_use,
    leaning_on,
    lots_of,
    said_by,
    taken_back_by,
)
from registry.services.making import rebuild_lines
from registry.storage.base import Fact
from registry.storage.models import (
    Batch,
    ChainEntry,
    Determination,
    Edge,
    LedgerEntry,
    Lot,
    Note,
)
from registry.storage.transaction import Recording

NEVER = frozenset({
    "init", "settings", "label stock", "person blank", "correct", "migrate", "repair",
    "label printed",
})  # fmt: skip
"""Acts that are not taken back; what is done instead is said of each."""

BY_ITSELF = frozenset({"correct", "migrate", "repair", "label printed"})
"""Entries that nobody means by `last`: they follow from another, or are about the file."""

_ENDING = ("status", "ended", "end_kind", "end_reason", "under_order", "witness_id")
"""What leaving or ending changes of a plant."""

_PUT_BACK: dict[str, tuple[str, ...]] = {
    **FILLED_IN,
    "plant": (*FILLED_IN["plant"], *_ENDING),
}
"""Attributes that get back what they held before."""

_ONCE: dict[str, tuple[str, ...]] = {
    "hold": ("lifted", "lifted_seq"),
    "question": ("settled_seq", "how"),
    "recall": ("closed", "closed_seq", "finding"),
    "consent": ("withdrawn", "sell_off"),
    "batch": ("closed_seq",),
}
"""Attributes that are filled in once, and are empty again."""


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
        beside: later entries that name what it recorded and would stand, newest first.
    """

    entry: Entry
    past: Past
    later: tuple[Entry, ...]
    ended: tuple[str, ...]
    beside: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What taking an entry back did; `beside` is as in `Foreseen`."""

    entry: Entry
    rows: int
    reason: str
    beside: tuple[Entry, ...]


def entry_of(session: Session, reference: str, by_id: int | None) -> Entry:
    """The entry named by its number, or this person's last one that was not taken back.

    Raises:
        EntryUnknown: there is no such entry.
        NothingToPutRight: this person recorded nothing yet that was not taken back.
    """
    if reference.casefold() == "last":
        own = ChainEntry.by_id.is_(None) if by_id is None else ChainEntry.by_id == by_id
        for header in session.scalars(
            select(ChainEntry.header).where(own).order_by(ChainEntry.seq.desc())
        ):
            entry = _entry(header)
            if entry.what not in BY_ITSELF and taken_back_by(session, entry.seq) is None:
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
        NotTakenBack: the entry is of a kind that is not taken back.
        AlreadyTakenBack: it was taken back before.
    """
    _, leaning = _looked_at(session, entry)
    return Foreseen(
        entry,
        history.told_of(session, entry.seq),
        _entries(session, leaning.later),
        leaning.ended,
        _entries(session, leaning.beside),
    )


def take_back(rec: Recording, entry: Entry, reason: str) -> TakenBack:
    """Take an entry back: its facts no longer count, and balances are as if it had not been.

    Raises:
        NotTakenBack: the entry is of a kind that is not taken back.
        AlreadyTakenBack: it was taken back before.
        LeansOnIt: later entries build on it, which are named.
    """
    said, leaning = _looked_at(rec.session, entry)
    if leaning.in_the_way:
        raise LeansOnIt(entry.seq, tuple(sorted(leaning.later)), leaning.ended)
    lots = lots_of(rec.session, said)
    before = _before(rec.session, entry.seq, said)
    count = _void(rec, entry.seq, said)
    count += _put_back(rec.session, before) + _empty_again(rec.session, said)
    _recount(rec.session, lots, said, before)
    nodes = [one.key[0] for one in said if one.added and one.table == "node"]
    rebuild_lines(rec, {*nodes, *_renamed(rec.session, said)})
    if nodes:
        # The reason stands where somebody will look for it.
        rec.add(Note(node_id=nodes[0], text=f"taken back: {reason}"))
    rec.flush()
    rec.last = list(entry.about)
    rec.more = {"entry": entry.seq, "why": reason}
    return TakenBack(entry, count, reason, _entries(rec.session, leaning.beside))


def _looked_at(session: Session, entry: Entry) -> tuple[tuple[Said, ...], Leaning]:
    """The rows of an entry that can be taken back, and what builds on it."""
    if entry.what in NEVER:
        raise NotTakenBack(entry.seq, entry.what)
    by = taken_back_by(session, entry.seq)
    if by is not None:
        raise AlreadyTakenBack(entry.seq, by)
    said = said_by(session, entry.seq)
    return said, leaning_on(session, entry.seq, entry.what, said)


def _entry(header: str) -> Entry:
    facts = json.loads(header)
    return Entry(facts["seq"], facts["what"], facts["recorded"], tuple(facts["last"] or ()))


def _entries(session: Session, seqs: frozenset[int]) -> tuple[Entry, ...]:
    headers = session.scalars(
        select(ChainEntry.header).where(ChainEntry.seq.in_(seqs)).order_by(ChainEntry.seq.desc())
    )
    return tuple(_entry(header) for header in headers)


def _renamed(session: Session, said: tuple[Said, ...]) -> set[int]:
    """The nodes whose name, or the parent that they have it from, an entry had said."""
    nodes = set()
    for one in said:
        if one.table == "determination":
            nodes.add(session.get_one(Determination, one.key).node_id)
        elif one.table == "edge":
            nodes.add(session.get_one(Edge, one.key).child_id)
    return nodes


def _void(rec: Recording, seq: int, said: tuple[Said, ...]) -> int:
    """Take back the facts of an entry, and let those stand again that it had taken back."""
    count = 0
    kept = [
        one.row
        for one in said
        if one.added and one.table in NAMED_BY_OTHERS and in_use(rec.session, seq, one)
    ]
    changed = []
    for one in said:
        model = MODELS[one.table]
        if not issubclass(model, Fact) or one.row in kept:
            continue
        row = rec.session.get_one(model, one.key)
        if one.added and row.void_seq is None:
            row.void_seq = rec.seq
            count += 1
        elif not one.added and one.values.get("void_seq") == row.void_seq == seq:
            changed.append(row)
    rec.flush()  # what is taken back makes room for what stood there before it
    for row in changed:
        row.void_seq = None
    rec.flush()
    return count + len(changed)


def _before(
    session: Session, seq: int, said: tuple[Said, ...]
) -> dict[history.Key, dict[str, Any]]:
    """What an entry had changed in place, as {row: {column: what it held before}}."""
    wanted = {}
    for one in said:
        names = {name for said in _PUT_BACK.get(one.table, ()) for name in columns_of(said)}
        if one.table == "lot" and _is_estimate(session, one):
            names |= {"in_bench"}
        if not one.added and names & one.values.keys():
            wanted[one.row] = tuple(sorted(names & one.values.keys()))
    return history.values_before(session, seq, wanted) if wanted else {}


def _is_estimate(session: Session, one: Said) -> bool:
    return session.get_one(Lot, one.key).opening_kind != "exact"


def _put_back(session: Session, before: dict[history.Key, dict[str, Any]]) -> int:
    """Give rows back what they held; how many."""
    for (table, key), said in before.items():
        row = session.get_one(MODELS[table], key)
        for attribute in _PUT_BACK[table]:
            columns = columns_of(attribute)
            if not said.keys() & set(columns):
                continue
            if attribute in DATES:
                edtf, first, last, typed = (said.get(column) for column in columns)
                setattr(row, attribute, edtf and FuzzyDate(edtf, _day(first), _day(last), typed))
            else:
                setattr(row, attribute, said.get(attribute))
    session.flush()
    return len(before)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _empty_again(session: Session, said: tuple[Said, ...]) -> int:
    """Open again what an entry had closed: a hold, a consent, a question, a batch; how many."""
    count = 0
    for one in said:
        names = _ONCE.get(one.table, ())
        if one.added or not any(
            name in one.values or f"{name}_edtf" in one.values for name in names
        ):
            continue
        row = session.get_one(MODELS[one.table], one.key)
        for name in names:
            setattr(row, name, None)
        count += 1
    session.flush()
    return count


def _recount(
    session: Session,
    lots: list[Lot],
    said: tuple[Said, ...],
    before: dict[history.Key, dict[str, Any]],
) -> None:
    """Bring the counts of what an entry touched back to what the standing entries say."""
    for lot in lots:
        if lot.void_seq is not None:
            continue
        held = before.get(("lot", (lot.node_id,)), {})
        if "in_bench" in held:
            lot.in_bench = held["in_bench"]
        elif lot.in_bench is not None and lot.opening_kind == "exact":
            lot.in_bench = _balance(session, lot)
    batches = {one.key[0] for one in said if one.table == "batch"}
    for batch_id in batches | {
        one.values["batch_id"] for one in said if one.added and one.table == "ledger_entry"
    }:
        if batch_id is not None:
            batch = session.get_one(Batch, batch_id)
            batch.unsaid = -_sum(session, LedgerEntry.batch_id == batch_id)
    session.flush()


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
