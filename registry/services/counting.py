"""What happens to the cuttings in a bench: looks, recounts, potting up, and how many are left.

A lot is a small ledger. A batch of several open lots can also be counted without saying which lot:
then the batch's count is exact, each lot's a range, and each plant's lot is one of several.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from registry.domain.codes import lot_index
from registry.domain.counts import Count, CountKind
from registry.domain.dates import FuzzyDate
from registry.domain.methods import Method, Role
from registry.domain.verdict.facts import Act
from registry.errors import (
    CountNotExact,
    EachLotNeeded,
    LettersNeeded,
    LetterUnknown,
    LookBeyondCount,
    NotABatch,
    NothingOpen,
    NothingStands,
    NothingToPot,
    NotStuckYet,
    Overdrawn,
    PiecesFewer,
)
from registry.services import identity, making, people, permission
from registry.services.records import living_plants, stand_at
from registry.services.resolve import Target, accession_code
from registry.services.rows import batch_of, lots_of_batch
from registry.storage.models import Accession, Batch, Edge, LedgerEntry, Look, Lot, Node, Plant
from registry.storage.transaction import Recording

WENT = {"died": "lost", "culled": "culled"}
"""What a look can find gone, and the movement of the ledger that it makes."""

By = Count | Mapping[str, Count]
"""A count of the whole, or one for each lot's letter."""


@dataclass(frozen=True, slots=True)
class LotStand:
    """How a lot stands: what is left of it, as a number or between bounds.

    The bounds differ where the opening count was not exact, or where something went out of the
    batch and nobody said which lot. `upper` is None where nothing bounds it.
    """

    node_id: int
    code: str
    letter: str
    opening: str
    lower: int
    upper: int | None

    @property
    def left(self) -> int | None:
        """What is left, where that is a number."""
        return self.lower if self.lower == self.upper else None

    @property
    def text(self) -> str:
        """What is left, in figures: 8, 7-10, or 7+."""
        if self.upper is None:
            return f"{self.lower}+" if self.lower else "?"
        return str(self.lower) if self.lower == self.upper else f"{self.lower}-{self.upper}"


@dataclass(frozen=True, slots=True)
class Counted:
    """What a look, a recount or a potting-up recorded.

    Attributes:
        batch: its code.
        said: (what, letter, count) as said; no letter where several lots were counted together.
        lots: how the lots that were named stand now.
        left: what is left in the whole batch; None where that is not a number.
        plants: (node, code) of the plants that were potted.
    """

    batch: str
    said: tuple[tuple[str, str, str], ...]
    lots: tuple[LotStand, ...]
    left: int | None
    plants: tuple[tuple[int, str], ...] = ()


def open_lots(rec: Recording, target: Target) -> list[Lot]:
    """The lots that a reference means at the bench: its open ones.

    Raises:
        NotABatch: it means plants, and no lot.
        NothingOpen: nothing is left in the bench.
    """
    return _open(rec, target)[0]


def _open(rec: Recording, target: Target) -> tuple[list[Lot], list[Lot]]:
    """The open lots that a reference means, and all of the batch that the first of them is in."""
    if target.plants and not target.lots:
        raise NotABatch(target.text, _potted_from(rec.session, target))
    # All of a batch at once; where lots of several are meant, each is asked for.
    at_hand = {lot.node_id: lot for lot in lots_of_batch(rec.session, target.accession_id or 0)}
    lots = [at_hand.get(one) or rec.session.get_one(Lot, one) for one in target.lots]
    standing = [lot for lot in lots if lot.in_bench != 0]
    if not standing:
        raise NothingOpen(target.text)
    batch = batch_of(rec.session, standing[0])
    whole = list(at_hand.values()) or lots_of_batch(rec.session, batch.accession_id)
    if _left(whole, batch.unsaid) == 0:
        raise NothingOpen(target.text)
    return standing, whole


def _potted_from(session: Session, target: Target) -> str | None:
    """The code of the one batch that plants were potted from."""
    batches = session.scalars(
        select(Batch.accession_id)
        .join(Node, Node.accession_id == Batch.accession_id)
        .where(Node.id.in_(target.plants))
        .distinct()
    ).all()
    return accession_code(session, batches[0]) if len(batches) == 1 else None


def batch_left(session: Session, batch_id: int) -> int | None:
    """How many are left in a batch's bench; None where a lot's opening count was not exact."""
    return _left(lots_of_batch(session, batch_id), session.get_one(Batch, batch_id).unsaid)


def _left(lots: Sequence[Lot], unsaid: int) -> int | None:
    known = [lot.in_bench for lot in lots if lot.in_bench is not None]
    return sum(known) - unsaid if len(known) == len(lots) else None


def stands_of(session: Session, batch_id: int) -> tuple[LotStand, ...]:
    """How each lot of a batch stands, in the order of their letters.

    What went without a lot being said may have come out of this lot, as far as it held so much,
    or out of the others.
    """
    return _standing(session, batch_id)[0]


_Standing = tuple[tuple[LotStand, ...], int | None]
"""How each lot of a batch stands, and how many are left in all."""


def _standing(session: Session, batch_id: int, whole: Sequence[Lot] = ()) -> _Standing:
    """How each lot of a batch stands, and how many are left in all."""
    unsaid = session.get_one(Batch, batch_id).unsaid
    lots = whole or lots_of_batch(session, batch_id)
    left = _left(lots, unsaid)
    codes = {row.id: row.code for row in session.execute(_LOT_CODES, {"batch": batch_id})}
    stands = []
    for lot in lots:
        lower, upper = _bounds(session, lot)
        if left is not None:
            upper = left if upper is None else min(upper, left)
        lower = max(0, lower - unsaid)
        code = codes[lot.node_id]
        stands.append(LotStand(lot.node_id, code, lot.letter, lot.opening_text, lower, upper))
    return tuple(stands), left


_LOT_CODES = text("SELECT id, code FROM node WHERE accession_id = :batch AND kind = 'lot'")


def stand_of(session: Session, lot: Lot) -> LotStand:
    """How one lot stands."""
    stands = stands_of(session, lot.batch_id)
    return next(stand for stand in stands if stand.node_id == lot.node_id)


def _bounds(session: Session, lot: Lot) -> tuple[int, int | None]:
    """The least and the most that a lot's own entries leave in it."""
    if lot.in_bench is not None:
        return lot.in_bench, lot.in_bench
    moved = int(
        session.execute(
            select(func.coalesce(func.sum(LedgerEntry.n), 0)).where(
                LedgerEntry.lot_id == lot.node_id, LedgerEntry.void_seq.is_(None)
            )
        ).scalar_one()
    )
    promised = 0 if lot.opening_kind == CountKind.ABOUT else lot.opening_low or 0
    upper = None if lot.opening_high is None else lot.opening_high + moved
    return max(0, promised + moved), upper


def look(
    rec: Recording,
    target: Target,
    *,
    on: FuzzyDate,
    stands: Mapping[str, By],
    went: Mapping[str, By],
    reason: str | None = None,
) -> Counted:
    """Record a look: what stands in the bench (observed) and what went since the last one.

    Args:
        rec: the recording.
        target: the batch, or lots of it.
        on: the day.
        stands: counts of what is rooted, callused, alive or unsure; they move nothing.
        went: counts of what died or was culled; numbers.
        reason: why it went.

    Raises:
        NothingOpen, LetterUnknown: there is no such lot to look at.
        LookBeyondCount: more is said to stand than can be there.
        Overdrawn: more is said to be gone than was there.
    """
    lots, whole = _open(rec, target)
    batch = batch_of(rec.session, lots[0])
    for what, said in went.items():
        for lot, count in _shared(said, lots, target):
            _leave(rec, batch, lot, _exact(count, what), WENT[what], on, reason)
    rec.flush()
    standing: dict[int | None, int] = {}
    for what, said in stands.items():
        for lot, count in _shared(said, lots, target):
            key = lot.node_id if lot else None
            standing[key] = standing.get(key, 0) + count.surely
            rec.add(
                Look(
                    lot_id=key,
                    batch_id=None if lot else batch.accession_id,
                    what=what,
                    low=count.low,
                    high=count.high,
                    text=count.text,
                    on=on,
                )
            )
    found = _check_standing(rec, batch, lots, standing, whole)
    if not stands and not went:
        for one in lots:
            rec.add(Look(lot_id=one.node_id, what="looked", low=None, high=None, text="", on=on))
    return _counted(rec, batch, target, lots, {**stands, **went}, found)


def recount(
    rec: Recording, target: Target, said: By, *, on: FuzzyDate, reason: str | None
) -> Counted:
    """Put the number in the bench right: each difference becomes a movement of its own.

    Where something went without a lot being said, all open lots are counted together, and each is
    a number again.

    Raises:
        LettersNeeded: the reference means several lots, and the count does not say which.
        EachLotNeeded: a single lot cannot be counted until all are.
        CountNotExact: a recount is a number.
    """
    lots = open_lots(rec, target)
    batch = batch_of(rec.session, lots[0])
    if isinstance(said, Count) and len(lots) > 1:
        raise LettersNeeded(target.text, tuple(lot.letter for lot in lots))
    found = {
        lot.node_id: (lot, _exact(count, "recount"))
        for lot, count in _shared(said, lots, target)
        if lot is not None
    }
    if batch.unsaid:
        _settle(rec, batch, set(found), on)
    for lot, now in found.values():
        if lot.in_bench is None:
            # The opening stays a range; from here on the lot is counted like any other.
            _within_upper(rec, lot, now)
            rec.add(
                Look(lot_id=lot.node_id, what="counted", low=now, high=now, text=str(now), on=on)
            )
        elif now != lot.in_bench:
            n = now - lot.in_bench
            rec.add(LedgerEntry(lot_id=lot.node_id, kind="recounted", n=n, reason=reason, on=on))
        lot.in_bench = now
    return _counted(rec, batch, target, lots, {"recounted": said})


def _settle(rec: Recording, batch: Batch, counted: set[int], on: FuzzyDate) -> None:
    """Lay aside what went without a lot being said, since every open lot is counted now."""
    open_ = [lot for lot in lots_of_batch(rec.session, batch.accession_id) if lot.in_bench != 0]
    if {lot.node_id for lot in open_} - counted:
        code = accession_code(rec.session, batch.accession_id)
        raise EachLotNeeded(code, batch.unsaid, tuple(lot.letter for lot in open_))
    rec.add(LedgerEntry(batch_id=batch.accession_id, kind="recounted", n=batch.unsaid, on=on))
    batch.unsaid = 0


@dataclass(frozen=True, slots=True)
class Potting:
    """How rooted cuttings go into pots.

    Attributes:
        count: plants, whole or by lot.
        pieces: cuttings that went into them, if another number than the plants; whole or by lot.
        per_pot: how many plants share a pot.
        pot: the pot, in the grower's words.
        place: where the pots stand now, a place's id.
        number: the grower's own number for them.
    """

    count: By
    pieces: By | None = None
    per_pot: int = 1
    pot: str | None = None
    place: int | None = None
    number: str | None = None


def pot_up(rec: Recording, target: Target, potting: Potting, *, on: FuzzyDate) -> Counted:
    """Move rooted cuttings into pots: each pot becomes a plant with a code of its own.

    Raises:
        NothingOpen, LetterUnknown: there is no such lot to pot from.
        Overdrawn: more than are left, naming how many are.
        NotStuckYet: it lies in its bag still.
        NothingToPot: the count is 0.
    """
    lots = open_lots(rec, target)
    _refuse_in_bag(rec, lots)
    batch = batch_of(rec.session, lots[0])
    accession = rec.session.get_one(Accession, batch.accession_id)
    made: list[tuple[int, str]] = []
    shares = _shared(potting.count, lots, target)
    gone_in = _pieces(potting.pieces, shares, lots, target)
    for lot, count in shares:
        plants = _exact(count, "plants potted")
        if plants == 0:
            continue
        pieces = gone_in.get(lot.node_id if lot else None, plants)
        if pieces < plants and not _multiplies(lot, lots):
            raise PiecesFewer(pieces, plants)
        _leave(rec, batch, lot, pieces, "potted", on, None)
        for share in _pots(plants, potting.per_pot):
            plant = making.make_plant(
                rec,
                accession,
                born=on,
                plants=share,
                pieces=pieces if plants == 1 else None,
                pot=potting.pot,
                place_id=potting.place,
            )
            node = rec.session.get_one(Node, plant.node_id)
            _raise_from(rec, node, [lot] if lot else lots)
            if lot is not None:
                identity.name_as_lot(rec, node.id, lot)
            if potting.place is not None:
                making.stay(rec, potting.place, node_id=node.id, from_=on)
            made.append((node.id, node.code))
    if not made:
        raise NothingToPot(target.text)
    if potting.number:
        for order, (node_id, _) in enumerate(made, 1):
            text = potting.number if len(made) == 1 else f"{potting.number}-{order}"
            making.alias(rec, text, node_id=node_id)
    rec.flush()
    rec.last = [code for _, code in made]
    counted = _counted(rec, batch, target, lots, {"potted": potting.count})
    return Counted(counted.batch, counted.said, counted.lots, counted.left, tuple(made))


def _refuse_in_bag(rec: Recording, lots: list[Lot]) -> None:
    for lot in lots:
        if lot.stuck is None:
            raise NotStuckYet(rec.session.get_one(Node, lot.node_id).code)


def pot_on(
    rec: Recording,
    target: Target,
    pot: str,
    place: str | None,
    *,
    on: FuzzyDate,
    anyway: str | None = None,
) -> tuple[tuple[int, str], ...]:
    """Plants move into larger pots, and perhaps to another place; gives back nodes and codes.

    Raises:
        NothingStands: none of the plants named is still there.
        NotRecorded: a hold stops that they are moved, and no reason is written.
    """
    standing = living_plants(rec.session, target)
    if not standing:
        raise NothingStands(target.text)
    if place is not None:
        permission.require(rec, Act.MOVE, standing, day=on, anyway=anyway)
        stand_at(rec, standing, people.place_named(rec, place), on)
    moved: list[tuple[int, str]] = []
    for node_id in standing:
        rec.session.get_one(Plant, node_id).pot = pot
        moved.append((node_id, rec.session.get_one(Node, node_id).code))
    rec.flush()
    rec.last = [code for _, code in moved]
    return tuple(moved)


def _pieces(
    said: By | None,
    shares: list[tuple[Lot | None, Count]],
    lots: list[Lot],
    target: Target,
) -> dict[int | None, int]:
    """How many cuttings went into the pots of each lot, where that was said."""
    if said is None:
        return {}
    if isinstance(said, Count):
        if len(shares) > 1:
            raise LettersNeeded(target.text, tuple(lot.letter for lot, _ in shares if lot))
        return {shares[0][0].node_id if shares[0][0] else None: _exact(said, "cuttings potted")}
    return {
        lot.node_id: _exact(count, "cuttings potted")
        for lot, count in _shared(said, lots, target)
        if lot is not None
    }


def _pots(plants: int, per_pot: int) -> list[int]:
    """How many plants each pot holds; the last may hold fewer.

    >>> _pots(7, 3)
    [3, 3, 1]
    """
    whole, rest = divmod(plants, per_pot)
    return [per_pot] * whole + ([rest] if rest else [])


def _multiplies(lot: Lot | None, lots: list[Lot]) -> bool:
    """Whether one piece may give several plants: division, layers, tissue, leaves, seed pans."""
    methods = {one.method for one in ([lot] if lot else lots)}
    return bool(methods & {Method.DIVISION, Method.LAYER, Method.TISSUE, Method.SEED})


def _raise_from(rec: Recording, node: Node, lots: list[Lot]) -> None:
    choice = 1 if len(lots) > 1 else None
    for lot in lots:
        clonal = lot.method != Method.SEED
        making.link(
            rec, lot.node_id, node.id, Role.RAISED, choice=choice, clonal=clonal, fresh=True
        )
        if lot.method == Method.TOPWORK:
            trees = rec.session.execute(
                select(Edge.parent_id).where(
                    Edge.child_id == lot.node_id,
                    Edge.role == Role.ROOTSTOCK,
                    Edge.void_seq.is_(None),
                )
            ).scalars()
            for tree in trees:
                making.link(rec, tree, node.id, Role.PART_OF, choice=None, clonal=False, fresh=True)


def _shared(said: By, lots: list[Lot], target: Target) -> list[tuple[Lot | None, Count]]:
    """Each count with its lot; no lot where a count was said of several together."""
    if isinstance(said, Count):
        return [(lots[0] if len(lots) == 1 else None, said)]
    by_letter = {lot.letter: lot for lot in lots}
    pairs: list[tuple[Lot | None, Count]] = []
    for letter, count in said.items():
        if letter not in by_letter:
            raise LetterUnknown(target.text, letter, tuple(sorted(by_letter, key=lot_index)))
        pairs.append((by_letter[letter], count))
    return pairs


def _exact(count: Count, what: str) -> int:
    if count.exact is None:
        raise CountNotExact(what, count.text)
    return count.exact


def _leave(
    rec: Recording,
    batch: Batch,
    lot: Lot | None,
    n: int,
    kind: str,
    on: FuzzyDate,
    reason: str | None,
) -> None:
    """Take `n` out of a lot, or out of a batch where nobody said which lot."""
    if n == 0:
        return
    rec.flush()
    check_left(rec, batch.accession_id, lot, n)
    if lot is None:
        batch.unsaid += n
        rec.add(LedgerEntry(batch_id=batch.accession_id, kind=kind, n=-n, reason=reason, on=on))
        return
    if lot.in_bench is not None:
        lot.in_bench -= n
    rec.add(LedgerEntry(lot_id=lot.node_id, kind=kind, n=-n, reason=reason, on=on))


def check_left(rec: Recording, batch_id: int, lot: Lot | None, n: int) -> None:
    """Refuse to take `n` out of a lot, or out of a batch, that cannot hold so many.

    Raises:
        Overdrawn: naming how many there are at most.
    """
    left = batch_left(rec.session, batch_id)
    if lot is not None:
        _within_upper(rec, lot, n)
    elif left is not None and n > left:
        raise Overdrawn(accession_code(rec.session, batch_id), n, left)


def _within_upper(rec: Recording, lot: Lot, n: int) -> None:
    stand = stand_of(rec.session, lot)
    if stand.upper is not None and n > stand.upper:
        raise Overdrawn(stand.code, n, stand.upper)


def _check_standing(
    rec: Recording,
    batch: Batch,
    lots: list[Lot],
    standing: dict[int | None, int],
    whole: list[Lot],
) -> _Standing:
    stands, left = found = _standing(rec.session, batch.accession_id, whole)
    by_lot = {stand.node_id: stand for stand in stands}
    for lot in lots:
        stand = by_lot[lot.node_id]
        if stand.upper is not None and standing.get(lot.node_id, 0) > stand.upper:
            raise LookBeyondCount(stand.code, standing[lot.node_id], stand.upper)
    if left is not None and sum(standing.values()) > left:
        code = accession_code(rec.session, batch.accession_id)
        raise LookBeyondCount(code, sum(standing.values()), left)
    return found


def _counted(
    rec: Recording,
    batch: Batch,
    target: Target,
    lots: list[Lot],
    said: Mapping[str, By],
    found: _Standing | None = None,
) -> Counted:
    """What was said of each lot, and how the lots that were named stand now, if not `found`."""
    rec.flush()
    alone = lots[0].letter if len(lots) == 1 else ""
    code = accession_code(rec.session, batch.accession_id)
    if rec.last is None:
        rec.last = [code]
    words: list[tuple[str, str, str]] = []
    for what, count in said.items():
        if isinstance(count, Count):
            words.append((what, alone, count.text))
        else:
            words.extend((what, letter, one.text) for letter, one in count.items())
    stands, left = found or _standing(rec.session, batch.accession_id)
    named = tuple(stand for stand in stands if stand.node_id in target.lots)
    return Counted(code, tuple(words), named, left)
