"""Stock plants and what is kept with records: names, notes, files, ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from registry.domain.codes import looks_like_code
from registry.domain.dates import FuzzyDate
from registry.domain.methods import Role
from registry.domain.names import (
    matching_key,
    near,
    read_name,
    status,
)
from registry.domain.verdict.facts import Act
from registry.errors import (
    CountOfWhat,
    EmptyName,
    KeptAlready,
    LettersNeeded,
    NearMatch,
    NotAPlant,
    NothingStands,
    NotThatMany,
    OrderNotSaid,
    PlantGone,
    PotsShort,
)
from registry.ids import new_salt
from registry.services import identity, making, people, permission, release
from registry.services.naming import NameShown, name_of, names_of, verified_of
from registry.services.people import Owner
from registry.services.resolve import Target, TargetKind, accession_code, resolve
from registry.services.rootstock import rootstock_of
from registry.services.rows import Stood, lots_of_batch
from registry.storage import blobs
from registry.storage import lineage_queries as lineage
from registry.storage.models import (
    Alias,
    Attachment,
    Determination,
    Edge,
    Line,
    Loss,
    Lot,
    Node,
    Note,
    Ownership,
    Place,
    Plant,
    Sealed,
    Stay,
)
from registry.storage.sealing import text_hash
from registry.storage.transaction import Recording

OWN_WAYS = frozenset({"bought", "given", "swap", "seed"})
"""Ways of getting a plant that make it the grower's own where nobody is named."""

MOST_NEAR = 5


@dataclass(frozen=True, slots=True)
class Founder:
    """A plant that came from outside, as a grower tells of it.

    Attributes:
        name: As received; None where it has no name but that of what it came from.
        owner: Whose it is, as far as was said.
        on: When it was got, or first seen.
        how: bought, given, found, swap, seed, wild, lent or inherited.
        source: The person it came from.
        origin: `cultivated`, `wild`, `unknown`, or `unsaid`.
        since, since_source: Since when it has stood, and whose word that is.
        number, number_by: Its own number and who gave it.
        rootstock: The name of what it is grafted on.
        part_of: The plant it is a grafted part of, by code.
        sucker_of: The plant whose rootstock sent it up, by code.
        position: Where on that plant.
        alive: `yes`, `no` or `unsure`.
        lent_until: The day it goes back.
        count: How many plants came together.
        place: Where it stands.
        new: A name like one on record is another plant all the same.
        parents: What it came from, by code: one, or one of several.
    """

    name: str | None
    owner: Owner
    on: FuzzyDate | None
    how: str | None = None
    source: str | None = None
    origin: str = "unsaid"
    since: FuzzyDate | None = None
    since_source: str | None = None
    number: str | None = None
    number_by: str | None = None
    rootstock: str | None = None
    part_of: str | None = None
    sucker_of: str | None = None
    position: str | None = None
    alive: str = "yes"
    lent_until: FuzzyDate | None = None
    count: int = 1
    place: str | None = None
    new: bool = True
    parents: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FounderMade:
    """What adding a plant recorded."""

    node_id: int
    code: str
    codes: tuple[str, ...]
    accession_id: int
    name: str
    people: tuple[str, ...]
    rootstock: str | None


@dataclass(frozen=True, slots=True)
class ParentShown:
    """A parent of a plant, through its lot."""

    code: str
    role: str
    certain: bool
    name: str


@dataclass(frozen=True, slots=True)
class NameGiven:
    """An opinion on record of what a plant is.

    Attributes:
        name: In print.
        grounds, sure: As they were said.
        verified: How far it was verified.
        by: Whose opinion it is; None is the grower's.
        on: From which day.
        sport: It begins a line of its own.
        of: Code of the plant that it stands on, where that is an ancestor of the clone.
    """

    name: str
    grounds: str | None
    sure: str | None
    verified: str
    by: str | None
    on: FuzzyDate | None
    sport: bool
    of: str | None


@dataclass(frozen=True, slots=True)
class PlantShown:
    """Everything that is on record about one plant."""

    node_id: int
    code: str
    name: NameShown
    received_as: str | None
    status: str
    parents: tuple[ParentShown, ...]
    batch: str | None
    place: str | None
    owner: str | None
    how: str | None
    source: str | None
    origin: str
    got: FuzzyDate | None
    since: FuzzyDate | None
    since_source: str | None
    lent_until: FuzzyDate | None
    ended: FuzzyDate | None
    pot: str | None
    position: str | None
    plants: int
    numbers: tuple[str, ...]
    names: tuple[NameGiven, ...]
    overrides: tuple[str, ...]
    notes: tuple[str, ...]
    files: tuple[str, ...]
    verified: str
    marks: tuple[str, ...]
    same: tuple[str, ...]
    back_as: tuple[str, ...]
    order: str | None
    witness: str | None
    stood: tuple[Stood, ...]


def add_founder(rec: Recording, founder: Founder) -> FounderMade:
    """Record a plant that came from outside, or from one or more plants here that are named.

    Raises:
        EmptyName: the name is empty, and no parent is named either.
        NearMatch: it is nearly that of a plant on record, and `new` was not said.
        BadName: the name has characters that no name has.
        NotAPlant: a parent's code stands for no plant and no lot.
    """
    name = founder.name.strip() if founder.name is not None else None
    if name == "" or (name is None and not founder.parents and founder.sucker_of is None):
        raise EmptyName("a plant")
    if name is not None:
        read_name(name)
        if not founder.new and founder.sucker_of is None:  # a sucker has its rootstock's name
            refuse_near(rec.session, name, founder.owner)
    parents = _parents_said(rec, founder)
    made: list[str] = [founder.owner.name] if founder.owner.made and founder.owner.name else []
    source_id = _person(rec, founder.source, made)
    place_id = people.place_named(rec, founder.place) if founder.place else None
    accession = making.next_accession(rec, "founder")
    codes: list[str] = []
    first: Plant | None = None
    stock_id = _rootstock(rec, founder)
    sucker = _sucker(rec, founder)
    for _ in range(founder.count):
        plant = making.make_plant(
            rec,
            accession,
            born=founder.on if founder.how == "seed" else None,
            received_as=None if sucker and sucker.named else name,
            how=founder.how,
            source_id=source_id,
            origin="wild" if founder.how == "wild" else founder.origin,
            since=founder.since,
            since_source=founder.since_source,
            got=founder.on,
            lent_until=founder.lent_until,
            position=founder.position,
            place_id=place_id,
            status={"no": "died", "unsure": "unsure"}.get(founder.alive, "alive"),
            end_kind="died" if founder.alive == "no" else None,
        )
        first = first or plant
        _own(rec, plant.node_id, founder)
        if place_id is not None:
            making.stay(rec, place_id, node_id=plant.node_id, from_=founder.on)
        _graft(rec, founder, plant.node_id, stock_id)
        if parents:
            identity.may_come_from(rec, plant.node_id, parents)
        if sucker is not None:
            for order, stock in enumerate(sucker.stocks):
                choice = 1 if len(sucker.stocks) > 1 else None
                making.link(
                    rec, stock, plant.node_id, Role.SOURCE, choice=choice, clonal=True,
                    fresh=order == 0,
                )  # fmt: skip
            making.link(rec, sucker.tree, plant.node_id, Role.SUCKER_OF, choice=None, clonal=False)
        codes.append(rec.session.get_one(Node, plant.node_id).code)
    if first is None:
        raise NotThatMany(name or "a plant", founder.count, 0)
    _number(rec, founder, accession.id, first.node_id)
    rec.flush()
    code = codes[0] if len(codes) == 1 else accession_code(rec.session, accession.id)
    rec.last = [code]
    return FounderMade(
        first.node_id,
        code,
        tuple(codes),
        accession.id,
        name or name_of(rec.session, first.node_id).shown,
        tuple(made),
        rec.session.get_one(Node, stock_id).code if stock_id is not None else None,
    )


def _parents_said(rec: Recording, founder: Founder) -> list[int]:
    """The plants and lots that a plant came from, or may have come from."""
    targets = [
        resolve(rec.session, text, today=rec.today, by_id=rec.by_id) for text in founder.parents
    ]
    return identity.any_of(targets)


def _own(rec: Recording, node_id: int, founder: Founder) -> None:
    if founder.owner.known:
        making.own(rec, node_id, founder.owner.person_id, from_=None)
    elif not founder.owner.said and founder.how in OWN_WAYS:
        making.own(rec, node_id, None, from_=founder.on)


def _number(rec: Recording, founder: Founder, accession_id: int, node_id: int) -> None:
    if founder.number is None:
        return
    if founder.count == 1:
        making.alias(rec, founder.number, node_id=node_id, issuer=founder.number_by)
    else:
        making.alias(rec, founder.number, accession_id=accession_id, issuer=founder.number_by)


def _person(rec: Recording, name: str | None, made: list[str]) -> int | None:
    if name is None:
        return None
    owner = people.owner_named(rec, name)
    if owner.made and owner.name:
        made.append(owner.name)
    return owner.person_id


def _rootstock(rec: Recording, founder: Founder) -> int | None:
    """The rootstock that a name was given for, as a plant of its own: it may be known by more."""
    if founder.rootstock is None:
        return None
    accession = making.next_accession(rec, "founder")
    stock = making.make_plant(
        rec, accession, received_as=founder.rootstock.strip(), how=founder.how, status="rootstock"
    )
    return stock.node_id


@dataclass(frozen=True, slots=True)
class _Sucker:
    """The tree, its rootstocks, and whether the name that was typed is theirs."""

    tree: int
    stocks: tuple[int, ...]
    named: bool


def _sucker(rec: Recording, founder: Founder) -> _Sucker | None:
    """What a sucker came from; its rootstock is put on record under its name if it was not."""
    if founder.sucker_of is None:
        return None
    tree = resolve(rec.session, founder.sucker_of, today=rec.today, by_id=rec.by_id)
    if tree.kind is not TargetKind.PLANT:
        raise NotAPlant(founder.sucker_of)
    stocks = rootstock_of(rec, tree.plants[0], founder.name)
    rec.flush()
    called = {matching_key(name.shown) for name in names_of(rec.session, stocks).values()}
    named = founder.name is None or called == {matching_key(founder.name)}
    return _Sucker(tree.plants[0], stocks, named)


def _graft(rec: Recording, founder: Founder, node_id: int, stock_id: int | None) -> None:
    """Record what a plant is grafted on: a rootstock by name, or the tree that it is part of."""
    if founder.part_of is not None:
        tree = resolve(rec.session, founder.part_of, today=rec.today, by_id=rec.by_id)
        if tree.kind is not TargetKind.PLANT:
            raise NotAPlant(founder.part_of)
        making.link(rec, tree.plants[0], node_id, Role.PART_OF, choice=None, clonal=False)
    if stock_id is not None:
        making.link(rec, stock_id, node_id, Role.ROOTSTOCK, choice=None, clonal=False)


def refuse_near(session: Session, name: str, owner: Owner) -> None:
    """Refuse a name that is nearly that of a plant on record.

    Nearly means the same matching key, or the same owner and at most two letters' difference.

    Raises:
        NearMatch: naming the plants.
    """
    key = matching_key(name)
    alike = session.execute(
        select(Plant.node_id, Plant.received_as)
        .where(Plant.received_key == key, Plant.void_seq.is_(None))
        .union(
            select(Determination.node_id, Determination.printed).where(
                Determination.key == key, Determination.void_seq.is_(None)
            )
        )
    ).all()
    if owner.known:
        owned = session.execute(
            select(Plant.node_id, Plant.received_as)
            .join(Ownership, Ownership.node_id == Plant.node_id)
            .where(
                Ownership.person_id.is_(None)
                if owner.person_id is None
                else Ownership.person_id == owner.person_id,
                Ownership.void_seq.is_(None),
                Plant.void_seq.is_(None),
                Plant.received_as.is_not(None),
                # Two letters' difference cannot change the length by more than two.
                func.length(Plant.received_key).between(len(key) - 2, len(key) + 2),
            )
        ).all()
        alike = [*alike, *(row for row in owned if near(name, row[1] or ""))]
    if alike:
        plants = {session.get_one(Node, node_id).code: words or "" for node_id, words in alike}
        raise NearMatch(name, tuple(list(plants.items())[:MOST_NEAR]))


def source_or_name(rec: Recording, typed: str, owner: Owner, *, new: bool) -> Target | None:
    """The plant or lot that is meant as a source; None where the text is a new plant's name.

    Raises:
        CodeUnknown: text shaped like a code that no record has.
        NearMatch: a name nearly that of a plant on record, unless `new`.
    """
    if looks_like_code(typed) or is_known_number(rec.session, typed):
        return resolve(rec.session, typed, today=rec.today, by_id=rec.by_id)
    if not new:
        refuse_near(rec.session, typed, owner)
    return None


def is_known_number(session: Session, typed: str) -> bool:
    """Whether `typed` is a number of its own that a record has."""
    return (
        session.scalar(
            select(Alias.id)
            .where(Alias.key == matching_key(typed), Alias.void_seq.is_(None))
            .limit(1)
        )
        is not None
    )


# --- showing -------------------------------------------------------------------------------------


def show_plant(session: Session, node_id: int) -> PlantShown:
    """Everything on record about one plant."""
    node = session.get_one(Node, node_id)
    plant = session.get_one(Plant, node_id)
    owner = session.scalars(
        select(Ownership)
        .where(Ownership.node_id == node_id, Ownership.void_seq.is_(None))
        .order_by(Ownership.id)
    ).all()
    numbers = session.scalars(
        select(Alias.text).where(Alias.node_id == node_id, Alias.void_seq.is_(None))
    ).all()
    notes = session.scalars(
        select(func.coalesce(Note.text, Sealed.value))
        .outerjoin(Sealed, Sealed.id == Note.sealed_id)
        .where(Note.node_id == node_id, Note.void_seq.is_(None))
        .order_by(Note.id)
    ).all()
    files = session.scalars(
        select(Attachment.filename).where(
            Attachment.node_id == node_id, Attachment.void_seq.is_(None)
        )
    ).all()
    parents, lot = _parents(session, node_id)
    place = session.get(Place, plant.place_id) if plant.place_id else None
    return PlantShown(
        node_id,
        node.code,
        names_of(session, [node_id])[node_id],
        plant.received_as,
        plant.status,
        parents,
        accession_code(session, node.accession_id) if lot else None,
        place.name if place else None,
        people.person_name(session, owner[-1].person_id) if owner else None,
        plant.how,
        people.person_name(session, plant.source_id) if plant.source_id else None,
        plant.origin,
        plant.got,
        plant.since,
        plant.since_source,
        plant.lent_until,
        plant.ended,
        plant.pot,
        plant.position,
        plant.plants,
        tuple(numbers),
        _names_given(session, node_id),
        _overrides(session, node_id),
        tuple(note for note in notes if note),
        tuple(files),
        verified_of(session, [node_id])[node_id].value,
        tuple(session.execute(_MARKS, {"node": node_id}).scalars()),
        tuple(session.execute(_SAME, {"node": node_id}).scalars()),
        tuple(session.execute(_BACK_AS, {"node": node_id}).scalars()),
        plant.under_order,
        people.person_name(session, plant.witness_id) if plant.witness_id else None,
        _stood(session, node_id),
    )


_MARKS = text(
    "SELECT DISTINCT kind FROM trait WHERE node_id = :node AND void_seq IS NULL ORDER BY kind"
)
_SAME = text(
    """
    SELECT node.code FROM same_plant same
    JOIN node ON node.id = CASE WHEN same.one_id = :node THEN same.other_id ELSE same.one_id END
    WHERE (same.one_id = :node OR same.other_id = :node) AND same.void_seq IS NULL ORDER BY node.id
    """
)


_BACK_AS = text(
    """
    SELECT node.code FROM edge JOIN node ON node.id = edge.child_id
    WHERE edge.parent_id = :node AND edge.role = 'came back' AND edge.void_seq IS NULL
    ORDER BY node.id
    """
)


_OVERRIDES = text(
    """
    SELECT given.act, given.level, given.on_edtf, given.anyway FROM verdict_given given
    WHERE given.anyway IS NOT NULL AND given.void_seq IS NULL AND given.id IN (
        SELECT verdict_id FROM release_item WHERE node_id = :node AND void_seq IS NULL
        UNION
        SELECT lot.verdict_id FROM edge JOIN lot ON lot.node_id = edge.parent_id
        WHERE edge.child_id = :node AND edge.void_seq IS NULL)
    ORDER BY given.id
    """
)


def _names_given(session: Session, node_id: int) -> tuple[NameGiven, ...]:
    """The opinions on a plant, and those on the nearest ancestors of its clone that have names."""
    roots = set(session.scalars(select(Line.root_id).where(Line.node_id == node_id)))
    rows = session.execute(
        select(Determination, Node.code)
        .join(Node, Node.id == Determination.node_id)
        .where(Determination.node_id.in_({node_id, *roots}), Determination.void_seq.is_(None))
        .order_by(Determination.id)
    )
    return tuple(
        NameGiven(
            one.printed,
            one.grounds,
            one.sure,
            status(one.verified, one.grounds).value,
            people.person_name(session, one.person_id) if one.person_id else None,
            one.on,
            one.starts_line,
            None if one.node_id == node_id else code,
        )
        for one, code in rows
    )


def _stood(session: Session, node_id: int) -> tuple[Stood, ...]:
    """The places that a plant has left, the earliest first: evidence of what it is."""
    rows = session.execute(
        select(Stay, Place.name)
        .join(Place, Place.id == Stay.place_id)
        .where(Stay.node_id == node_id, Stay.void_seq.is_(None))
        .order_by(Stay.id)
    )
    return tuple(Stood(name, one.from_, one.until) for one, name in rows if one.until is not None)


def _overrides(session: Session, node_id: int) -> tuple[str, ...]:
    """Acts on a plant, or on the lot it was raised from, that went on with a written reason."""
    rows = session.execute(_OVERRIDES, {"node": node_id})
    return tuple(f"{act}, {level}, {on}: {why}" for act, level, on, why in rows)


def _parents(session: Session, node_id: int) -> tuple[tuple[ParentShown, ...], bool]:
    """The plants that a plant came from, through its lots; and whether a lot raised it."""
    edges = lineage.edges_above(session, [node_id])
    above: dict[int, list[lineage.EdgeRow]] = {}
    for edge in edges:
        above.setdefault(edge.child, []).append(edge)
    kinds = lineage.nodes(session, {edge.parent for edge in edges})
    found: dict[tuple[int, str], bool] = {}
    front = [(node_id, True)]
    while front:
        child, sure = front.pop()
        for edge in above.get(child, []):
            certain = sure and edge.choice is None
            if kinds[edge.parent].kind == "lot":
                front.append((edge.parent, certain))
            else:
                key = (edge.parent, edge.role)
                found[key] = found.get(key, False) or certain
    # A parent that every candidate lot shares is certain, though the lot is not.
    plants = {parent for parent, _ in found}
    if len(plants) == 1:
        found = dict.fromkeys(found, True)
    names = names_of(session, plants)
    lots = any(kinds[edge.parent].kind == "lot" for edge in above.get(node_id, []))
    return tuple(
        ParentShown(kinds[parent].code, role, certain, names[parent].shown)
        for (parent, role), certain in sorted(found.items())
    ), lots


# --- ends, notes, files -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ended:
    """What an end recorded: plants by code, or a number of a lot's pots."""

    codes: tuple[str, ...]
    how: str
    count: int
    not_said: bool


def end_plants(
    rec: Recording,
    target: Target,
    how: str,
    *,
    on: FuzzyDate,
    count: int | None = None,
    reason: str | None = None,
    order: str | None = None,
    witness: str | None = None,
    anyway: str | None = None,
) -> Ended:
    """Plants are no more: they died, were culled, destroyed, or surrendered to an authority.

    Args:
        rec: the recording.
        target: the plants, or a lot or batch.
        how: died, culled, destroyed or surrendered.
        on: the day.
        count: how many of a lot's pots, where nobody says which.
        reason: why.
        order: the authority's order under which it was done (row C23).
        witness: who saw it.
        anyway: the reason written against a hold.

    Raises:
        OrderNotSaid: surrendered, and under which order is not said.
        PlantGone: what was named is gone already.
        PotsShort: more than are still there, those left out that went without a code being said.
        LettersNeeded: a count of a batch in which pots of several lots stand.
        CountOfWhat: a count of plants that were named themselves.
        NotRecorded: a hold stops that they are thrown away or destroyed, and no reason is written.
    """
    if how == "surrendered" and not (order or "").strip():
        raise OrderNotSaid(target.text)
    witness_id = people.owner_named(rec, witness).person_id if witness else None
    rec.flush()
    standing = living_plants(rec.session, target)
    if not standing:
        _say_why_gone(rec.session, target)
    # A plant that died by itself asked nobody.
    under = None if how == "died" else permission.Order(order, witness=witness is not None)
    if target.plants:
        release.check_named(rec, standing)
        if count is not None and count != len(standing):
            raise CountOfWhat(target.text)
    else:
        lots = _lots_with_pots(rec, target)
        unsaid = release.gone_unsaid(rec, lots, target.accession_id)
        if count is None and unsaid:
            raise PotsShort(target.text, len(standing), len(standing) - unsaid, unsaid)
        if count is not None and (unsaid or count != len(standing)):
            loss = Loss(
                how=how, n=count, reason=reason, under_order=order, witness_id=witness_id, on=on
            )
            ended = _end_some(rec, target, lots, loss)
            if under is not None:
                freest = permission.freest(rec, Act.END, standing, count, day=on, order=under)
                permission.require(rec, Act.END, freest, day=on, anyway=anyway, order=under)
            return ended
    if under is not None:
        permission.require(rec, Act.END, standing, day=on, anyway=anyway, order=under)
    making.refuse_before_it_was(rec, standing, on)
    codes: list[str] = []
    for node_id in standing:
        plant = rec.session.get_one(Plant, node_id)
        plant.status = how
        plant.end_kind = how
        plant.end_reason = reason
        plant.under_order = order
        plant.ended = on
        plant.witness_id = witness_id
        codes.append(rec.session.get_one(Node, node_id).code)
    rec.flush()
    rec.last = codes
    return Ended(tuple(codes), how, len(codes), not_said=False)


def _lots_with_pots(rec: Recording, target: Target) -> list[Lot]:
    lots = [rec.session.get_one(Lot, node_id) for node_id in target.lots]
    return [lot for lot in lots if release.alive_of(rec, [lot])]


def _end_some(rec: Recording, target: Target, lots: Sequence[Lot], loss: Loss) -> Ended:
    """A number of a lot's pots is no more, and nobody said which."""
    if len(lots) != 1:
        raise LettersNeeded(target.text, tuple(lot.letter for lot in lots))
    lot = lots[0]
    code = rec.session.get_one(Node, lot.node_id).code
    there, unsaid = len(release.alive_of(rec, lots)), release.gone_unsaid(rec, lots, None)
    if loss.n > there - unsaid:
        raise PotsShort(code, loss.n, there - unsaid, unsaid)
    release.check_within_batch(rec, lot, code, loss.n)
    loss.lot_id = lot.node_id
    rec.add(loss)
    rec.flush()
    rec.last = [code]
    return Ended((), loss.how, loss.n, not_said=True)


def _say_why_gone(session: Session, target: Target) -> None:
    for node_id in target.plants:
        plant = session.get_one(Plant, node_id)
        code = session.get_one(Node, node_id).code
        raise PlantGone(code, plant.status, plant.ended.display() if plant.ended else None)
    raise NotAPlant(target.text)


def living_plants(session: Session, target: Target) -> list[int]:
    """The plants of a target that still stand: its own, or those raised from its lots."""
    ids: Sequence[int] = target.plants
    if not ids and target.lots:
        ids = session.scalars(
            select(Edge.child_id)
            .where(
                Edge.parent_id.in_(target.lots),
                Edge.role == Role.RAISED,
                Edge.void_seq.is_(None),
            )
            .distinct()
            .order_by(Edge.child_id)
        ).all()
    return [
        node_id for node_id in ids if session.get_one(Plant, node_id).status in ("alive", "unsure")
    ]


@dataclass(frozen=True, slots=True)
class Moved:
    """What a move recorded: plants by code, and the batch if its cuttings moved as well."""

    codes: tuple[str, ...]
    batch: str | None
    place: str


def move_plants(
    rec: Recording, target: Target, place: str, *, on: FuzzyDate, anyway: str | None = None
) -> Moved:
    """Plants stand somewhere else from a day on; of a batch, its cuttings in the bench as well.

    Raises:
        NothingStands: nothing of what was named is still there.
        NotRecorded: a hold stops that they are moved, and no reason is written.
    """
    standing = living_plants(rec.session, target)
    lots = _whole_bench(rec.session, target)
    if not standing and not lots:
        raise NothingStands(target.text)
    permission.require(rec, Act.MOVE, [*standing, *lots], day=on, anyway=anyway)
    place_id = people.place_named(rec, place)
    stand_at(rec, standing, place_id, on)
    if lots:
        making.stay(rec, place_id, accession_id=target.accession_id, from_=on)
    rec.flush()
    codes = tuple(rec.session.get_one(Node, node_id).code for node_id in standing)
    batch = accession_code(rec.session, target.accession_id or 0) if lots else None
    rec.last = [*codes, *([batch] if batch else [])]
    return Moved(codes, batch, rec.session.get_one(Place, place_id).name)


def stand_at(rec: Recording, plants: Sequence[int], place_id: int, on: FuzzyDate) -> None:
    """Plants stand at a place from a day on."""
    for node_id in plants:
        rec.session.get_one(Plant, node_id).place_id = place_id
        making.stay(rec, place_id, node_id=node_id, from_=on)


def _whole_bench(session: Session, target: Target) -> list[int]:
    """The lots of a batch with something in the bench still, where the target means all of them.

    A batch stands in one place: a lot of it cannot be moved alone.
    """
    if target.accession_id is None or not target.lots:
        return []
    still = [
        lot.node_id for lot in lots_of_batch(session, target.accession_id) if lot.in_bench != 0
    ]
    return still if set(still) <= set(target.lots) else []


def add_note(
    rec: Recording, target: Target, words: str, *, on: FuzzyDate, private: bool = False
) -> str:
    """Keep words with a plant, lot or batch; gives back the code that they are kept with.

    Private words stand outside the chain, so that they can be emptied.
    """
    if not words.strip():
        raise EmptyName("a note")
    node_id, accession_id = subject_of(target)
    note = Note(node_id=node_id, accession_id=accession_id, on=on)
    rec.add(_with_words(rec, note, words.strip(), private=private))
    rec.flush()
    return _subject_code(rec.session, node_id, accession_id)


def add_note_apart(
    rec: Recording,
    words: str,
    *,
    person_id: int | None = None,
    place_id: int | None = None,
    on: FuzzyDate,
) -> None:
    """Keep words with a person or a place; those of a person are private."""
    if not words.strip():
        raise EmptyName("a note")
    note = Note(person_id=person_id, place_id=place_id, on=on)
    rec.add(_with_words(rec, note, words.strip(), private=person_id is not None))


def _with_words(rec: Recording, note: Note, words: str, *, private: bool) -> Note:
    """A note with its words, which stand apart under a salt where they are private."""
    if not private:
        note.text = words
        return note
    salt = new_salt()
    sealed = rec.add(Sealed(salt=salt, value=words, hash=text_hash(salt, words)))
    rec.flush()
    note.sealed_id, note.sealed_hash = sealed.id, sealed.hash
    return note


def attach_file(rec: Recording, target: Target, content: bytes, filename: str, kind: str) -> str:
    """Keep a file with a plant, lot or batch; gives back the code that it is kept with.

    Raises:
        KeptAlready: the same file is kept with it, under whatever name.
    """
    node_id, accession_id = subject_of(target)
    sha256 = blobs.store(rec, content, kind)
    known = rec.session.scalars(
        select(Attachment.filename).where(
            Attachment.blob_sha256 == sha256,
            Attachment.node_id == node_id
            if node_id is not None
            else Attachment.accession_id == accession_id,
            Attachment.void_seq.is_(None),
        )
    ).first()
    if known is not None:
        raise KeptAlready(known, _subject_code(rec.session, node_id, accession_id))
    rec.add(
        Attachment(
            blob_sha256=sha256, filename=filename, node_id=node_id, accession_id=accession_id
        )
    )
    rec.flush()
    return _subject_code(rec.session, node_id, accession_id)


def subject_of(target: Target) -> tuple[int | None, int | None]:
    """(node, accession) that a note or file is kept with; exactly one is filled.

    Raises:
        NotAPlant: the target means several records.
    """
    if target.kind in (TargetKind.PLANT, TargetKind.LOT):
        return (target.plants or target.lots)[0], None
    if target.accession_id is None:
        raise NotAPlant(target.text)
    return None, target.accession_id


def _subject_code(session: Session, node_id: int | None, accession_id: int | None) -> str:
    if node_id is not None:
        return session.get_one(Node, node_id).code
    return accession_code(session, accession_id or 0)
