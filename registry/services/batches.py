"""Batches as they stand, what is due at the bench, and closing a batch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.ledger import Rate, rate
from registry.errors import NothingOpen
from registry.services.counting import LotStand
from registry.services.naming import names_of
from registry.services.resolve import Target, accession_code, lots_of_batch
from registry.storage.models import (
    Alias,
    Batch,
    Consent,
    Edge,
    LedgerEntry,
    Look,
    Lot,
    Node,
    Place,
    Plant,
    Question,
    Stay,
)
from registry.storage.transaction import Recording

FIRST_LOOK = timedelta(weeks=4)
"""When a first gentle tug is worth while. Common practice, no source."""

NEXT_LOOK = timedelta(weeks=2)
"""How long after a look the next one is due. Common practice, no source."""

SOON = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class LotShown:
    """One lot of a batch, with everything that its card says."""

    stand: LotStand
    source: str
    source_code: str
    method: str
    wood: str | None
    part: str | None
    medium: str | None
    hormone: str | None
    cover: str | None
    seen: tuple[tuple[str, str], ...]
    gone: tuple[tuple[str, int], ...]
    attempt: int
    took: Rate | None


@dataclass(frozen=True, slots=True)
class BatchShown:
    """A batch as it stands."""

    accession_id: int
    code: str
    numbers: tuple[str, ...]
    stuck: FuzzyDate | None
    taken: FuzzyDate | None
    container: str | None
    place: str | None
    lots: tuple[LotShown, ...]
    plants: tuple[str, ...]
    left: int | None
    unsaid: int
    next_look: date | None
    closed: bool


@dataclass(frozen=True, slots=True)
class Due:
    """Something to do: from which day, for what, and what it is about."""

    on: date | None
    what: str
    code: str
    about: str
    late: bool


def show_batch(session: Session, accession_id: int) -> BatchShown:
    """The batch with its lots, counts, plants and next look."""
    batch = session.get_one(Batch, accession_id)
    lots = lots_of_batch(session, accession_id)
    plants = session.scalars(
        select(Node.code)
        .where(Node.accession_id == accession_id, Node.kind == "plant")
        .order_by(Node.id)
    ).all()
    place = session.execute(
        select(Stay.place_id).where(Stay.accession_id == accession_id, Stay.void_seq.is_(None))
    ).scalars()
    numbers = session.scalars(
        select(Alias.text).where(Alias.accession_id == accession_id, Alias.void_seq.is_(None))
    ).all()
    shown = tuple(_lot(session, lot) for lot in lots)
    known = [lot.in_bench for lot in lots]
    left = None if None in known else sum(n or 0 for n in known) - batch.unsaid
    place_id = next(iter(place), None)
    return BatchShown(
        accession_id,
        accession_code(session, accession_id),
        tuple(numbers),
        batch.stuck,
        lots[0].taken if lots else None,
        batch.container,
        _place_name(session, place_id),
        shown,
        tuple(plants),
        left,
        batch.unsaid,
        next_look(session, accession_id) if left != 0 else None,
        left == 0 or batch.closed_seq is not None,
    )


def next_look(session: Session, accession_id: int) -> date | None:
    """The day of the next look: some weeks after sticking, then some after each look."""
    batch = session.get_one(Batch, accession_id)
    if batch.stuck is None or batch.stuck.last is None:
        return None
    lots = select(Lot.node_id).where(Lot.batch_id == accession_id)
    looked = session.execute(
        select(Look.on_last).where(  # type: ignore[attr-defined]  # a column of the composite
            (Look.batch_id == accession_id) | Look.lot_id.in_(lots), Look.void_seq.is_(None)
        )
    ).scalars()
    latest = max((day for day in looked if day is not None), default=None)
    first = batch.stuck.last + FIRST_LOOK
    return max(first, latest + NEXT_LOOK) if latest else first


def list_batches(session: Session, *, only_open: bool) -> list[BatchShown]:
    """Every batch, newest first; or those with something left in the bench."""
    ids = session.scalars(
        select(Batch.accession_id)
        .where(Batch.void_seq.is_(None))
        .order_by(Batch.accession_id.desc())
    ).all()
    shown = [show_batch(session, accession_id) for accession_id in ids]
    return [batch for batch in shown if not (only_open and batch.closed)]


def close_batch(
    rec: Recording, target: Target, rest: str, *, on: FuzzyDate, reason: str | None = None
) -> BatchShown:
    """Say what became of all that is left in a batch, and close it.

    Args:
        rec: The recording.
        target: The batch, or its lots.
        rest: `lost`, `culled` or `left_as_cuttings`.
        on: The day.
        reason: Why, in the grower's words.

    Raises:
        NothingOpen: the reference means no batch.
    """
    if target.accession_id is None or not target.lots:
        raise NothingOpen(target.text)
    batch = rec.session.get_one(Batch, target.accession_id)
    lots = lots_of_batch(rec.session, target.accession_id)
    together = batch.unsaid
    for lot in lots:
        n = lot.in_bench or 0
        # What was potted or lost without saying which lot is taken off the first that have it.
        said_elsewhere = min(n, together)
        together -= said_elsewhere
        if n - said_elsewhere > 0:
            rec.add(
                LedgerEntry(
                    lot_id=lot.node_id, kind=rest, n=said_elsewhere - n, reason=reason, on=on
                )
            )
        lot.in_bench = said_elsewhere
    batch.closed_seq = rec.seq
    rec.flush()
    rec.last = [accession_code(rec.session, target.accession_id)]
    return show_batch(rec.session, target.accession_id)


def due(session: Session, today: date) -> list[Due]:
    """What is to be done: looks, plants lent until a day, leave that ends soon, and bags."""
    found: list[Due] = []
    for batch in list_batches(session, only_open=True):
        about = ", ".join(sorted({lot.source for lot in batch.lots}))
        if batch.stuck is None:
            found.append(Due(None, "taken, not stuck yet", batch.code, about, late=False))
        elif batch.next_look is not None:
            late = batch.next_look <= today
            found.append(Due(batch.next_look, "look", batch.code, about, late))
    lent = session.scalars(
        select(Plant).where(Plant.lent_until_edtf.is_not(None), Plant.status == "alive")  # type: ignore[attr-defined]  # a column of the composite
    ).all()
    names = names_of(session, [plant.node_id for plant in lent])
    for plant in lent:
        last = plant.lent_until.last if plant.lent_until else None
        code = session.get_one(Node, plant.node_id).code
        late = last is not None and last <= today
        found.append(Due(last, "give back", code, names[plant.node_id].shown, late))
    ending = session.scalars(
        select(Consent).where(Consent.until_last.is_not(None), Consent.void_seq.is_(None))  # type: ignore[attr-defined]  # a column of the composite
    ).all()
    for consent in ending:
        last = consent.until.last if consent.until else None
        if last is None or not today <= last <= today + SOON:
            continue
        subject = consent.plant_id or consent.lot_id
        code = session.get_one(Node, subject).code if subject else ""
        found.append(Due(last, "leave ends", code, consent.said or "", late=False))
    return sorted(found, key=lambda one: (one.on or date.min, one.code))


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """Something not known yet, and how many plants wait for it."""

    id: int
    row: str
    code: str
    name: str
    asks: str | None
    cannot: str | None


def open_questions(session: Session) -> list[OpenQuestion]:
    """Every question that nobody has answered yet, by plant and row."""
    rows = session.scalars(
        select(Question)
        .where(Question.settled_seq.is_(None), Question.void_seq.is_(None))
        .order_by(Question.node_id, Question.row)
    ).all()
    names = names_of(session, [row.node_id for row in rows])
    return [
        OpenQuestion(
            row.id,
            row.row,
            session.get_one(Node, row.node_id).code,
            names[row.node_id].shown,
            row.asks,
            row.how,
        )
        for row in rows
    ]


def _lot(session: Session, lot: Lot) -> LotShown:
    node = session.get_one(Node, lot.node_id)
    parents = session.execute(
        select(Edge.parent_id, Edge.role)
        .where(Edge.child_id == lot.node_id, Edge.void_seq.is_(None))
        .order_by(Edge.id)
    ).all()
    names = names_of(session, [parent for parent, _ in parents])
    codes = [session.get_one(Node, parent).code for parent, _ in parents]
    entries = session.execute(
        select(LedgerEntry.kind, LedgerEntry.n).where(
            LedgerEntry.lot_id == lot.node_id, LedgerEntry.void_seq.is_(None)
        )
    ).all()
    gone: dict[str, int] = {}
    for kind, n in entries:
        gone[kind] = gone.get(kind, 0) - n
    looks = session.scalars(
        select(Look)
        .where(Look.lot_id == lot.node_id, Look.void_seq.is_(None))
        .order_by(Look.seq, Look.id)
    ).all()
    seen = {look.what: look.text for look in looks}
    stand = LotStand(
        lot.node_id, node.code, lot.letter, lot.opening_text, lot.in_bench, lot.opening_high
    )
    took = None
    if lot.opening_kind == "exact" and lot.opening_low and lot.in_bench == 0:
        took = rate(gone.get("potted", 0), lot.opening_low)
    return LotShown(
        stand,
        " / ".join(names[parent].shown for parent, _ in parents),
        " / ".join(codes),
        lot.method,
        lot.wood,
        lot.part,
        lot.medium,
        lot.hormone,
        lot.cover,
        tuple(seen.items()),
        tuple(gone.items()),
        lot.attempt,
        took,
    )


def _place_name(session: Session, place_id: int | None) -> str | None:
    return session.get_one(Place, place_id).name if place_id is not None else None
