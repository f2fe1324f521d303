"""Batches as they stand, what is due at the bench, and closing a batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import combinations

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.methods import Role
from registry.domain.rates import Rate, fisher, rate
from registry.errors import EachLotNeeded, NothingOpen
from registry.services.counting import LotStand, batch_left, stands_of
from registry.services.naming import names_of
from registry.services.people import with_names
from registry.services.resolve import Target, accession_code
from registry.services.rows import Stood, lots_of_batch
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
    VerdictGiven,
)
from registry.storage.transaction import Recording

FIRST_LOOK = timedelta(weeks=4)
"""When a first gentle tug is worth while. Common practice, no source."""

NEXT_LOOK = timedelta(weeks=2)
"""How long after a look the next one is due. Common practice, no source."""

SOON = timedelta(days=60)

SEVERAL = 4
"""As many codes as a line takes one by one."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look saw: of which kind, how many as it was said, on which day."""

    what: str
    text: str
    on: FuzzyDate | None


@dataclass(frozen=True, slots=True)
class LotShown:
    """One lot of a batch, with everything that its card says."""

    stand: LotStand
    numbers: tuple[str, ...]
    source: str
    source_code: str
    method: str
    wood: str | None
    part: str | None
    medium: str | None
    hormone: str | None
    cover: str | None
    seen: tuple[Seen, ...]
    gone: tuple[tuple[str, int], ...]
    attempt: int
    took: Rate | None
    attempts: int


@dataclass(frozen=True, slots=True)
class Compared:
    """Two lots of a batch whose rates are both known.

    Attributes:
        one, other: Their letters.
        p: How often chance alone parts two such lots at least so far, 0 to 1.
    """

    one: str
    other: str
    p: float


@dataclass(frozen=True, slots=True)
class BatchShown:
    """A batch as it stands.

    Attributes:
        place: Where it stands, or stood last.
        stood: The places that it has left, the earliest first.
        compared: Each pair of its lots that have a rate.
        seen, gone: What was seen and what went where nobody said of which lot.
        unsaid: How many went so, in all.
    """

    accession_id: int
    code: str
    numbers: tuple[str, ...]
    stuck: FuzzyDate | None
    taken: FuzzyDate | None
    container: str | None
    place: str | None
    stood: tuple[Stood, ...]
    lots: tuple[LotShown, ...]
    compared: tuple[Compared, ...]
    plants: tuple[str, ...]
    left: int | None
    unsaid: int
    seen: tuple[Seen, ...]
    gone: tuple[tuple[str, int], ...]
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
        .join(Plant, Plant.node_id == Node.id)
        .where(Node.accession_id == accession_id, Plant.void_seq.is_(None))
        .order_by(Node.id)
    ).all()
    stays = session.execute(
        select(Stay, Place.name)
        .join(Place, Place.id == Stay.place_id)
        .where(Stay.accession_id == accession_id, Stay.void_seq.is_(None))
        .order_by(Stay.id)
    ).all()
    numbers = session.scalars(
        select(Alias.text).where(Alias.accession_id == accession_id, Alias.void_seq.is_(None))
    ).all()
    stands = {stand.node_id: stand for stand in stands_of(session, accession_id)}
    shown = tuple(_lot(session, lot, stands[lot.node_id]) for lot in lots)
    left = batch_left(session, accession_id)
    return BatchShown(
        accession_id,
        accession_code(session, accession_id),
        tuple(numbers),
        batch.stuck,
        lots[0].taken if lots else None,
        batch.container,
        stays[-1][1] if stays else None,
        tuple(Stood(name, one.from_, one.until) for one, name in stays if one.until is not None),
        shown,
        _compared(shown),
        tuple(plants),
        left,
        batch.unsaid,
        _seen(session, Look.batch_id == accession_id),
        _gone(session, LedgerEntry.batch_id == accession_id),
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
    batches = select(Batch.accession_id).where(Batch.void_seq.is_(None))
    if only_open:
        # By the lots with something left, of which there are few, not by all batches ever made.
        left = select(Lot.batch_id).where(
            or_(Lot.in_bench > 0, Lot.in_bench.is_(None)), Lot.void_seq.is_(None)
        )
        batches = batches.where(Batch.accession_id.in_(left), Batch.closed_seq.is_(None))
    ids = session.scalars(batches.order_by(Batch.accession_id.desc())).all()
    shown = [show_batch(session, accession_id) for accession_id in ids]
    return [batch for batch in shown if not (only_open and batch.closed)]


def close_batch(
    rec: Recording, target: Target, rest: str, *, on: FuzzyDate, reason: str | None = None
) -> BatchShown:
    """Say what became of all that is left in a batch, or in some of its lots.

    The batch is closed when nothing is left in any of them.

    Args:
        rec: The recording.
        target: The batch, or its lots.
        rest: `lost`, `culled` or `left_as_cuttings`.
        on: The day.
        reason: Why, in the grower's words.

    Raises:
        NothingOpen: the reference means no batch.
        EachLotNeeded: one lot was named, and it is not known how much is left in that one.
    """
    if target.accession_id is None or not target.lots:
        raise NothingOpen(target.text)
    batch = rec.session.get_one(Batch, target.accession_id)
    lots = lots_of_batch(rec.session, target.accession_id)
    named = [lot for lot in lots if lot.node_id in target.lots]
    code = accession_code(rec.session, target.accession_id)
    if batch.unsaid:
        left = batch_left(rec.session, target.accession_id)
        if left is None or len(named) < len(lots):
            letters = tuple(lot.letter for lot in lots if lot.in_bench != 0)
            raise EachLotNeeded(code, batch.unsaid, letters)
        # It is known how many were left, and not of which lot.
        if left:
            rec.add(
                LedgerEntry(batch_id=target.accession_id, kind=rest, n=-left, reason=reason, on=on)
            )
            batch.unsaid += left
    else:
        for lot in named:
            if lot.in_bench:
                rec.add(
                    LedgerEntry(
                        lot_id=lot.node_id, kind=rest, n=-lot.in_bench, reason=reason, on=on
                    )
                )
            lot.in_bench = 0
    if batch_left(rec.session, target.accession_id) == 0:
        batch.closed_seq = rec.seq
    rec.flush()
    rec.last = [code]
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
    """Something not known yet: of which plant, which row asks, for which act, in words."""

    row: str
    code: str
    name: str
    act: str
    asks: str | None


def open_questions(session: Session) -> list[OpenQuestion]:
    """Every question that nobody has answered yet, by plant and row."""
    rows = session.execute(
        select(Question, VerdictGiven.act)
        .join(VerdictGiven, VerdictGiven.id == Question.verdict_id)
        .where(Question.settled_seq.is_(None), Question.void_seq.is_(None))
        .order_by(Question.node_id, Question.row)
    ).all()
    names = names_of(session, [row.node_id for row, _ in rows])
    return [
        OpenQuestion(
            row.row,
            session.get_one(Node, row.node_id).code,
            names[row.node_id].shown,
            act,
            with_names(session, row.asks) if row.asks else None,
        )
        for row, act in rows
    ]


def _lot(session: Session, lot: Lot, stand: LotStand) -> LotShown:
    parents = session.execute(
        select(Edge.parent_id, Edge.role)
        .where(Edge.child_id == lot.node_id, Edge.void_seq.is_(None))
        .order_by(Edge.id)
    ).all()
    names = names_of(session, [parent for parent, _ in parents])
    codes = [session.get_one(Node, parent).code for parent, _ in parents]
    gone = _gone(session, LedgerEntry.lot_id == lot.node_id)
    took = _took(session, lot, dict(gone))
    numbers = session.scalars(
        select(Alias.text).where(Alias.node_id == lot.node_id, Alias.void_seq.is_(None))
    ).all()
    return LotShown(
        stand,
        tuple(numbers),
        " / ".join(dict.fromkeys(names[parent].shown for parent, _ in parents)),
        _few(codes),
        lot.method,
        lot.wood,
        lot.part,
        lot.medium,
        lot.hormone,
        lot.cover,
        _seen(session, Look.lot_id == lot.node_id),
        gone,
        lot.attempt,
        took[0],
        took[1],
    )


def _seen(session: Session, which: ColumnElement[bool]) -> tuple[Seen, ...]:
    """What was seen last of each kind, as it was said, in the order in which it was."""
    looks = session.scalars(
        select(Look).where(which, Look.void_seq.is_(None)).order_by(Look.seq, Look.id)
    )
    newest = {look.what: Seen(look.what, look.text, look.on) for look in looks}
    return tuple(sorted(newest.values(), key=lambda one: (one.on and one.on.first) or date.min))


def _gone(session: Session, which: ColumnElement[bool]) -> tuple[tuple[str, int], ...]:
    """What went by kind; what came in is below nought."""
    entries = session.execute(
        select(LedgerEntry.kind, LedgerEntry.n).where(which, LedgerEntry.void_seq.is_(None))
    )
    gone: dict[str, int] = {}
    for kind, n in entries:
        gone[kind] = gone.get(kind, 0) - n
    return tuple(gone.items())


def _few(codes: list[str]) -> str:
    """Codes in a line; of many the first and the last with their number.

    >>> _few(["26-0001-5", "26-0002-3"])
    '26-0001-5 / 26-0002-3'
    """
    if len(codes) <= SEVERAL:
        return " / ".join(codes)
    return f"one of {len(codes)}: {codes[0]} to {codes[-1]}"


def _took(session: Session, lot: Lot, gone: Mapping[str, int]) -> tuple[Rate | None, int]:
    """How many of a lot's pieces were potted, and over how many attempts, once none is left of it.

    A joined lot has none, and one that was stuck again is counted with its first attempt. Nor has
    a lot of which a part went on into others, which have rates of their own.
    """
    none = (None, 1)
    if lot.opening_kind != "exact" or not lot.opening_low or lot.in_bench != 0:
        return none
    came = _steps(session, Edge.child_id == lot.node_id)
    if any(role in (Role.MERGED, Role.AGAIN) for role, _ in came):
        return none
    went = _steps(session, Edge.parent_id == lot.node_id)
    if any(role in (Role.MERGED, Role.SPLIT) for role, _ in went):
        return none
    potted = gone.get("potted", 0)
    later = [node_id for role, node_id in went if role == Role.AGAIN]
    attempts = 1
    while later:
        again = session.get_one(Lot, later.pop())
        went = _steps(session, Edge.parent_id == again.node_id)
        if again.in_bench != 0 or any(role in (Role.MERGED, Role.SPLIT) for role, _ in went):
            return none
        attempts = max(attempts, again.attempt)
        potted += _potted(session, again)
        later += [node_id for role, node_id in went if role == Role.AGAIN]
    return (rate(potted, lot.opening_low), attempts) if potted <= lot.opening_low else none


def _compared(lots: Sequence[LotShown]) -> tuple[Compared, ...]:
    """Each pair of the lots that were tried and counted to the end."""
    done = [(lot.stand.letter, lot.took) for lot in lots if lot.took is not None]
    return tuple(
        Compared(one, other, fisher(rate_of_one, rate_of_other))
        for (one, rate_of_one), (other, rate_of_other) in combinations(done, 2)
    )


def _steps(session: Session, which: ColumnElement[bool]) -> list[tuple[str, int]]:
    """(role, child) of the live edges of a lot."""
    rows = session.execute(select(Edge.role, Edge.child_id).where(which, Edge.void_seq.is_(None)))
    return [(role, child) for role, child in rows]


def _potted(session: Session, lot: Lot) -> int:
    total = session.scalar(
        select(func.sum(LedgerEntry.n)).where(
            LedgerEntry.lot_id == lot.node_id,
            LedgerEntry.kind == "potted",
            LedgerEntry.void_seq.is_(None),
        )
    )
    return -int(total or 0)
