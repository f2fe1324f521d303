"""Leaving and arriving: sold, given, swapped, received."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import ColumnElement, func, or_, select

from registry.domain.codes import lot_index
from registry.domain.dates import FuzzyDate
from registry.domain.dealings import Money
from registry.domain.family import GONE
from registry.domain.methods import Role
from registry.domain.names import Verified, read_name
from registry.domain.rules.territories import Place
from registry.domain.verdict.facts import Act, Purpose
from registry.errors import (
    CountNotExact,
    CountOfWhat,
    LetterUnknown,
    MoreCameBack,
    NotAway,
    NothingPotted,
    PlantsGone,
    PotsShort,
)
from registry.services import making, people, permission
from registry.services.naming import names_of, verified_of
from registry.services.resolve import Target, TargetKind, accession_code
from registry.storage.models import (
    Edge,
    Loss,
    Lot,
    Node,
    Person,
    Plant,
    Receipt,
    ReceiptItem,
    Release,
    ReleaseItem,
)
from registry.storage.transaction import Recording

STATUS = {Act.SELL: "sold", Act.GIVE: "given", Act.SWAP: "swapped"}
"""What a plant's status says after it left."""


@dataclass(frozen=True, slots=True)
class Leaving:
    """How plants leave.

    Attributes:
        act: sell, give or swap.
        on: the day.
        to: who gets them; None is not named.
        count: a number out of a lot or batch, whole or by letter, where nobody says which.
        purpose: private or trade, None where nobody said.
        price: for each or in total.
        total: the price is for all together.
        event: a fair, a market, an open day.
        going: where they go, whether to a trader or by post, and what travels with them.
        place: the place of law, if not the registry's own.
        got: names of what came back, in a swap.
        open_: gaps may stay open.
        anyway: the reason written against a no or a sign.
    """

    act: Act
    on: FuzzyDate
    to: str | None = None
    count: int | Mapping[str, int] | None = None
    purpose: Purpose | None = None
    price: Money | None = None
    total: bool = False
    event: str | None = None
    going: permission.Going = permission.HERE
    place: Place | None = None
    got: tuple[str, ...] = ()
    open_: bool = False
    anyway: str | None = None


@dataclass(frozen=True, slots=True)
class Came:
    """A plant that arrived."""

    node_id: int
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class NameLeft:
    """Under which name plants left, how far that was verified, and how many did."""

    name: str
    verified: Verified
    n: int


@dataclass(frozen=True, slots=True)
class Left:
    """What a release recorded.

    Attributes:
        release_id: its number.
        act: sell, give or swap.
        on: the day.
        person: who got them; None is not named.
        person_made: the person was not on record before.
        plants: codes of the plants that left.
        unsaid: (code, number) of lots or batches where nobody said which pots.
        count: how many pots left.
        price: what was paid in all.
        given: the verdict under which they left.
        names: what they left as.
        came: what came back.
    """

    release_id: int
    act: str
    on: FuzzyDate
    person: str | None
    person_made: bool
    plants: tuple[str, ...]
    unsaid: tuple[tuple[str, int], ...]
    count: int
    price: Money | None
    given: permission.Given
    names: tuple[NameLeft, ...]
    came: tuple[Came, ...] = ()


def release(rec: Recording, target: Target, leaving: Leaving) -> Left:
    """Record that plants left: those named, or a number out of a lot or batch.

    Plants that have ended are left out and counted in the verdict (row C25).

    Raises:
        PlantsGone: nothing of what was named stands any more.
        NothingPotted: what was named has no potted plants.
        PotsShort: more would leave than there are.
        CountOfWhat, LetterUnknown: the count does not fit what was named.
        NotRecorded: the verdict asks for `--open` or for a reason.
    """
    who = people.owner_named(rec, leaving.to) if leaving.to is not None else None
    rec.flush()
    plants, shares = _what_leaves(rec, target, leaving.count)
    person = rec.session.get(Person, who.person_id) if who and who.person_id else None
    given = permission.require(
        rec,
        leaving.act,
        plants or [node for share in shares for node in share.judged],
        day=leaving.on,
        purpose=leaving.purpose,
        open_=leaving.open_,
        anyway=leaving.anyway,
        n={node: n for share in shares for node, n in share.judged.items()},
        place=leaving.place,
        going=replace(
            leaving.going,
            to_trader=leaving.going.to_trader or (person is not None and person.trade),
        ),
    )
    leave = [node for node in plants if node in given.judged]
    count = len(leave) + sum(share.n for share in shares)
    row = rec.add(
        Release(
            uuid=rec.new_id(),
            kind=leaving.act.value,
            person_id=person.id if person else None,
            event=leaving.event,
            on=leaving.on,
            price=str(leaving.price.amount) if leaving.price else None,
            currency=leaving.price.currency if leaving.price else None,
            price_for=None if leaving.price is None else "total" if leaving.total else "each",
            to_place=permission.place_code(leaving.going.to) if leaving.going.to else None,
            purpose=given.answer.purpose,
        )
    )
    rec.flush()
    of_plants, of_shares = _left_as(rec, leave, shares)
    _write_plants(rec, row, list(zip(leave, of_plants, strict=True)), leaving, given)
    _write_shares(rec, row, list(zip(shares, of_shares, strict=True)), leaving, given)
    came = _arrive(rec, leaving.got, "swap", row.person_id, leaving.on)
    if came:
        _receipt(rec, "swap", came, row.person_id, leaving.on, release_id=row.id)
    codes = {node: rec.session.get_one(Node, node).code for node in leave}
    unsaid = tuple((share.code, share.n) for share in shares)
    rec.last = [*codes.values(), *(code for code, _ in unsaid)]
    return Left(
        row.id,
        leaving.act.value,
        leaving.on,
        who.name if who else None,
        bool(who and who.made),
        tuple(codes.values()),
        unsaid,
        count,
        _paid(leaving, count),
        given,
        _counted([*of_plants, *of_shares]),
        came,
    )


@dataclass(frozen=True, slots=True)
class Back:
    """What came back: plants that had left, or a number out of what left of a lot or a batch."""

    target: Target
    n: int | None = None


def receive(
    rec: Recording,
    names: Sequence[str],
    *,
    how: str,
    source: str | None,
    on: FuzzyDate,
    number: str | None = None,
    place_id: int | None = None,
    back: Sequence[Back] = (),
) -> tuple[Came, ...]:
    """Record plants that arrived: each is a founder of its own, under the name it came with.

    What had left and came back is a record of its own too, linked to the one that left: its name,
    its terms and its past are those, and since then it stood with somebody else.

    Args:
        rec: the recording.
        names: as they were given.
        how: bought, given or swap.
        source: from whom; None is not said.
        on: the day.
        number: the giver's or the grower's own number; numbered on where several came.
        place_id: where they stand now.
        back: what had left before; there are no names then.

    Raises:
        NotAway: it had not left, or came back before.
        MoreCameBack: more would come back of a lot than left.
        CountOfWhat: a lot or batch came back without a number.
    """
    who = people.owner_named(rec, source) if source is not None else None
    if who is not None and who.made and who.name is not None:
        people.made_beside(rec, "person", who.name)
    rec.flush()
    person_id = who.person_id if who else None
    parents = [parent for one in back for parent in _away(rec, one)]
    come: list[str | None] = [*names, *(None for _ in parents)]
    came = _arrive(rec, come, how, person_id, on, number=number, place_id=place_id)
    came = (*came[: len(names)], *_linked(rec, came[len(names) :], parents))
    _receipt(rec, how, came, person_id, on)
    rec.last = [one.code for one in came]
    return came


def _away(rec: Recording, back: Back) -> list[tuple[int, ...]]:
    """For each plant that came back the nodes it may have left as: one, or a batch's lots."""
    if back.target.plants:
        for node in back.target.plants:
            status = rec.session.get_one(Plant, node).status
            if status not in STATUS.values() or _back_of(rec, [node]):
                code = rec.session.get_one(Node, node).code
                raise NotAway(code, "back already" if _back_of(rec, [node]) else status)
        return [(node,) for node in back.target.plants]
    if back.n is None:
        raise CountOfWhat(back.target.text)
    lots = [rec.session.get_one(Lot, node) for node in back.target.lots]
    whole = lots[0].batch_id if back.target.kind is TargetKind.BATCH else None
    plants = _raised_of(rec, lots)
    left = gone_unsaid(rec, lots, whole)
    left += sum(rec.session.get_one(Plant, node).status in STATUS.values() for node in plants)
    left -= len(_back_of(rec, [*back.target.lots, *plants]))
    if back.n > left:
        raise MoreCameBack(back.target.text, back.n, left)
    return [back.target.lots] * back.n


def _back_of(rec: Recording, nodes: Collection[int]) -> set[int]:
    """The records of what came back of some plants and lots."""
    return set(
        rec.session.scalars(
            select(Edge.child_id).where(
                Edge.parent_id.in_(nodes), Edge.role == Role.BACK, Edge.void_seq.is_(None)
            )
        )
    )


def _linked(
    rec: Recording, came: Sequence[Came], parents: Sequence[tuple[int, ...]]
) -> tuple[Came, ...]:
    """Link each plant that came back with what it left as; gives them under their names."""
    for one, nodes in zip(came, parents, strict=True):
        if len(nodes) == 1:
            rec.session.get_one(Node, one.node_id).born = rec.session.get_one(Node, nodes[0]).born
        for node in nodes:
            making.link(
                rec,
                node,
                one.node_id,
                Role.BACK,
                choice=1 if len(nodes) > 1 else None,
                clonal=True,
                fresh=True,
            )
    names = names_of(rec.session, [one.node_id for one in came])
    return tuple(replace(one, name=names[one.node_id].shown) for one in came)


# --- what leaves ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Share:
    """A number of pots out of a lot or a batch; `judged` has the lots to ask about."""

    code: str
    n: int
    lot_id: int | None
    batch_id: int | None
    judged: Mapping[int, int]


def _counted(told: Sequence[NameLeft]) -> tuple[NameLeft, ...]:
    """What was told of each plant and share, put together by name."""
    counts: dict[tuple[str, Verified], int] = {}
    for one in told:
        counts[one.name, one.verified] = counts.get((one.name, one.verified), 0) + one.n
    return tuple(NameLeft(name, verified, n) for (name, verified), n in counts.items())


def _left_as(
    rec: Recording, plants: Sequence[int], shares: Sequence[_Share]
) -> tuple[list[NameLeft], list[NameLeft]]:
    """The names under which plants and shares leave, in their order.

    Pots of several lots have as good a name as the worst.
    """
    ids = {*plants, *(node for share in shares for node in share.judged)}
    names, checked = names_of(rec.session, ids), verified_of(rec.session, ids)
    order = list(Verified)

    def told(nodes: Collection[int], n: int) -> NameLeft:
        name = " or ".join(dict.fromkeys(names[node].shown for node in nodes))
        return NameLeft(name, min((checked[node] for node in nodes), key=order.index), n)

    return [told([plant], 1) for plant in plants], [told(one.judged, one.n) for one in shares]


def _what_leaves(
    rec: Recording, target: Target, count: int | Mapping[str, int] | None
) -> tuple[list[int], list[_Share]]:
    """The plants that leave by code, or the shares that leave by count."""
    if count is None:
        return _named_plants(rec, target), []
    if not target.lots:
        raise CountOfWhat(target.text)
    lots = [rec.session.get_one(Lot, node) for node in target.lots]
    if isinstance(count, Mapping):
        return [], _by_letter(rec, target, lots, count)
    if count < 1:
        raise CountNotExact("pots", str(count))
    standing = alive_of(rec, lots)
    if not standing:
        raise NothingPotted(target.text)
    whole = target.kind is TargetKind.BATCH
    unsaid = gone_unsaid(rec, lots, lots[0].batch_id if whole else None)
    code = _code_of(rec, target, lots)
    if count > len(standing) - unsaid:
        raise PotsShort(code, count, len(standing) - unsaid, unsaid)
    if count == len(standing) and not unsaid:
        return sorted(standing), []  # all of them: then it is known which
    if len(lots) == 1:
        lot = lots[0].node_id
        check_within_batch(rec, lots[0], code, count)
        return [], [_Share(code, count, lot, None, {lot: count})]
    if len({lot.batch_id for lot in lots}) > 1:
        raise CountOfWhat(target.text)
    batch_id = lots[0].batch_id
    return [], [_Share(code, count, None, batch_id, _spread(rec, lots, count))]


def _named_plants(rec: Recording, target: Target) -> list[int]:
    """The plants named; of a batch or lot those that stand, by count less those gone unsaid."""
    if target.plants:
        check_named(rec, target.plants)
        return list(target.plants)
    lots = [rec.session.get_one(Lot, node) for node in target.lots]
    standing = alive_of(rec, lots) if lots else set()
    if not standing:
        raise NothingPotted(target.text)
    batches = {lot.batch_id for lot in lots} if target.kind is TargetKind.BATCH else {None}
    unsaid = sum(gone_unsaid(rec, lots, batch) for batch in batches)
    if unsaid:
        raise PotsShort(target.text, len(standing), len(standing) - unsaid, unsaid)
    return sorted(standing)


def _by_letter(
    rec: Recording, target: Target, lots: Sequence[Lot], count: Mapping[str, int]
) -> list[_Share]:
    by_letter = {lot.letter: lot for lot in lots}
    shares = []
    for letter, n in count.items():
        lot = by_letter.get(letter)
        if lot is None:
            raise LetterUnknown(target.text, letter, tuple(sorted(by_letter, key=lot_index)))
        if n < 1:
            raise CountNotExact("pots", str(n))
        code = rec.session.get_one(Node, lot.node_id).code
        standing, unsaid = alive_of(rec, [lot]), gone_unsaid(rec, [lot], None)
        if n > len(standing) - unsaid:
            raise PotsShort(code, n, len(standing) - unsaid, unsaid)
        shares.append(_Share(code, n, lot.node_id, None, {lot.node_id: n}))
    check_within_batch(rec, lots[0], target.text, sum(count.values()))
    return shares


def _code_of(rec: Recording, target: Target, lots: Sequence[Lot]) -> str:
    if len(lots) == 1:
        return rec.session.get_one(Node, lots[0].node_id).code
    if target.accession_id is not None:
        return accession_code(rec.session, target.accession_id)
    return target.text


def alive_of(rec: Recording, lots: Collection[Lot]) -> set[int]:
    """The plants raised from some lots that stand, those included that may be from another."""
    return _raised_of(rec, lots, Plant.status.not_in(GONE))


def _raised_of(rec: Recording, lots: Collection[Lot], *which: ColumnElement[bool]) -> set[int]:
    """The plants raised from some lots, all or those that `which` is true of."""
    return set(
        rec.session.scalars(
            select(Plant.node_id)
            .join(Edge, Edge.child_id == Plant.node_id)
            .where(
                Edge.parent_id.in_([lot.node_id for lot in lots]),
                Edge.role == Role.RAISED,
                Edge.void_seq.is_(None),
                Plant.void_seq.is_(None),
                *which,
            )
        )
    )


def gone_unsaid(rec: Recording, lots: Collection[Lot], batch_id: int | None) -> int:
    """How many of some lots' pots left or died while nobody said which."""
    ids = [lot.node_id for lot in lots]
    of_these: list[ColumnElement[bool]] = [ReleaseItem.lot_id.in_(ids)]
    if batch_id is not None:
        of_these.append(ReleaseItem.batch_id == batch_id)
    left = rec.session.scalar(
        select(func.coalesce(func.sum(ReleaseItem.n), 0)).where(
            or_(*of_these), ReleaseItem.void_seq.is_(None)
        )
    )
    died = rec.session.scalar(
        select(func.coalesce(func.sum(Loss.n), 0)).where(
            Loss.lot_id.in_(ids), Loss.void_seq.is_(None)
        )
    )
    return int(left or 0) + int(died or 0)


def check_within_batch(rec: Recording, lot: Lot, code: str, count: int) -> None:
    """A lot's pots are some of its batch's: what left the batch unsaid may have been these."""
    lots = rec.session.scalars(
        select(Lot).where(Lot.batch_id == lot.batch_id, Lot.void_seq.is_(None))
    ).all()
    standing, unsaid = alive_of(rec, lots), gone_unsaid(rec, lots, lot.batch_id)
    if count > len(standing) - unsaid:
        raise PotsShort(code, count, len(standing) - unsaid, unsaid)


def check_named(rec: Recording, plants: Collection[int]) -> None:
    """Pots named one by one cannot be more than are left of their batch."""
    by_batch: dict[int, list[int]] = {}
    rows = rec.session.execute(
        select(Node.id, Node.accession_id)
        .join(Plant, Plant.node_id == Node.id)
        .where(Node.id.in_(plants), Plant.status.not_in(GONE))
    ).all()
    for node, accession in rows:
        by_batch.setdefault(accession, []).append(node)
    for accession, named in by_batch.items():
        lots = rec.session.scalars(
            select(Lot).where(Lot.batch_id == accession, Lot.void_seq.is_(None))
        ).all()
        if not lots:
            continue
        unsaid = gone_unsaid(rec, lots, accession)
        standing = alive_of(rec, lots) if unsaid else set()
        if unsaid and len(named) > len(standing) - unsaid:
            code = accession_code(rec.session, accession)
            raise PotsShort(code, len(named), len(standing) - unsaid, unsaid)


def _spread(rec: Recording, lots: Sequence[Lot], count: int) -> dict[int, int]:
    """For each lot the most that may be of it, lots of the same source together (row D2)."""
    parents: dict[int, set[tuple[int, str]]] = {lot.node_id: set() for lot in lots}
    rows = rec.session.execute(
        select(Edge.child_id, Edge.parent_id, Edge.role).where(
            Edge.child_id.in_(parents), Edge.void_seq.is_(None)
        )
    )
    for child, parent, role in rows:
        parents[child].add((parent, role))
    groups: dict[frozenset[tuple[int, str]], list[Lot]] = {}
    for lot in lots:
        if alive_of(rec, [lot]):
            groups.setdefault(frozenset(parents[lot.node_id]), []).append(lot)
    numbers: dict[int, int] = {}
    for group in groups.values():
        left = min(count, len(alive_of(rec, group)))
        for lot in group:
            numbers[lot.node_id], left = left, 0
    return numbers


# --- writing it down -----------------------------------------------------------------------------


def _write_plants(
    rec: Recording,
    row: Release,
    leave: Sequence[tuple[int, NameLeft]],
    leaving: Leaving,
    given: permission.Given,
) -> None:
    making.refuse_before_it_was(rec, [node for node, _ in leave], leaving.on)
    for node, told in leave:
        plant = rec.session.get_one(Plant, node)
        if plant.status in GONE:  # ended on a later day than this release names
            code = rec.session.get_one(Node, node).code
            raise PlantsGone(((code, plant.status, _last_day(plant)),))
        plant.status = STATUS[leaving.act]
        plant.ended = leaving.on
        plant.end_kind = STATUS[leaving.act]
        rec.add(
            ReleaseItem(
                release_id=row.id,
                node_id=node,
                n=1,
                name=told.name,
                verified=told.verified.value,
                verdict_id=given.verdict_id,
            )
        )
        permission.use(rec, given, node, node, 1, leaving.on)
    rec.flush()


def _last_day(plant: Plant) -> date:
    return plant.ended.last if plant.ended and plant.ended.last else date.max


def _write_shares(
    rec: Recording,
    row: Release,
    shares: Sequence[tuple[_Share, NameLeft]],
    leaving: Leaving,
    given: permission.Given,
) -> None:
    for share, told in shares:
        rec.add(
            ReleaseItem(
                release_id=row.id,
                lot_id=share.lot_id,
                batch_id=share.batch_id,
                n=share.n,
                name=told.name,
                verified=told.verified.value,
                verdict_id=given.verdict_id,
            )
        )
        for node, n in share.judged.items():
            if n:
                permission.use(rec, given, node, node, n, leaving.on)
    rec.flush()


def _paid(leaving: Leaving, count: int) -> Money | None:
    if leaving.price is None or leaving.total:
        return leaving.price
    return Money(leaving.price.amount * count, leaving.price.currency)


def _arrive(
    rec: Recording,
    names: Sequence[str | None],
    how: str,
    person_id: int | None,
    on: FuzzyDate,
    *,
    number: str | None = None,
    place_id: int | None = None,
) -> tuple[Came, ...]:
    came = []
    for order, name in enumerate(names, 1):
        if name is not None:
            read_name(name)
        accession = making.next_accession(rec, "founder")
        plant = making.make_plant(
            rec,
            accession,
            received_as=name,
            how=how,
            source_id=person_id,
            got=on,
            place_id=place_id,
        )
        node = rec.session.get_one(Node, plant.node_id)
        making.own(rec, node.id, None, from_=on)
        if place_id is not None:
            making.stay(rec, place_id, node_id=node.id, from_=on)
        if number is not None:
            text = number if len(names) == 1 else f"{number}-{order}"
            making.alias(rec, text, node_id=node.id)
        came.append(Came(node.id, node.code, name or ""))
    rec.flush()
    return tuple(came)


def _receipt(
    rec: Recording,
    kind: str,
    came: Sequence[Came],
    person_id: int | None,
    on: FuzzyDate,
    *,
    release_id: int | None = None,
) -> None:
    row = rec.add(Receipt(kind=kind, person_id=person_id, release_id=release_id, on=on))
    rec.flush()
    for one in came:
        rec.add(ReceiptItem(receipt_id=row.id, node_id=one.node_id))
    rec.flush()
