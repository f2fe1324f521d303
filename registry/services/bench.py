"""Taking and sticking: cuttings, grafts, seed, divisions and layers, over one service.

Whatever the method, the same happens: the sources are found or made, leave is written down, the
registry is asked whether they may be propagated, and one lot for each treatment comes to stand in a
batch with a number of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select

from registry.domain import methods
from registry.domain.counts import Count
from registry.domain.dates import FuzzyDate
from registry.domain.methods import Method, Role
from registry.domain.verdict import Act
from registry.errors import (
    AlreadyStuck,
    CountNotExact,
    NothingOpen,
    NotPottedYet,
    SourceMissing,
    StuckBeforeTaken,
)
from registry.services import leave, making, people, permission
from registry.services.counting import check_left, stand_of
from registry.services.identity import doubt_cuttings_of_chimera
from registry.services.naming import names_of
from registry.services.records import Founder, add_founder, source_or_name
from registry.services.resolve import Target, TargetKind, accession_code
from registry.services.rootstock import rootstock_of
from registry.services.tools import NO_TOOL, Handling, handled
from registry.storage.models import Accession, Batch, Edge, LedgerEntry, Lot, Node, Ownership
from registry.storage.transaction import Recording


@dataclass(frozen=True, slots=True)
class LotAsked:
    """One lot to be made: how many, of what wood, and how it is treated."""

    count: Count
    source: str | None = None
    wood: str | None = None
    part: str | None = None
    medium: str | None = None
    hormone: str | None = None
    ppm: int | None = None
    cover: str | None = None


@dataclass(frozen=True, slots=True)
class Sticking:
    """A day's material and what is done with it.

    Attributes:
        method: how it is raised.
        parents: (role, code or name) for the sources named in front; a lot may name its own.
        lots: one for each treatment.
        taken, on: when the material was cut, and when it was set.
        stick: False for material that is only taken (a bag with a tag).
        owner: `me`, `unknown`, a person's name, or None where nobody said.
        leave: `yes`, `no`, `unasked` or `handed-over`.
        said: the owner's words.
        new: a name like one on record is another plant all the same.
        sucker: what was cut are suckers of the rootstock of the plant that is named.
        open_: gaps may stay open.
        anyway: the reason written against a no or a sign.
        handling: the tools that cut them and the tray they stand in.
    """

    method: Method
    parents: tuple[tuple[Role, str], ...]
    lots: tuple[LotAsked, ...]
    on: FuzzyDate
    taken: FuzzyDate | None = None
    stick: bool = True
    owner: str | None = None
    leave: str | None = None
    said: str | None = None
    new: bool = False
    sucker: bool = False
    number: str | None = None
    container: str | None = None
    place: str | None = None
    position: str | None = None
    open_: bool = False
    anyway: str | None = None
    handling: Handling = NO_TOOL


@dataclass(frozen=True, slots=True)
class Made:
    """A record that an act made by the way."""

    kind: str
    code: str | None
    name: str


@dataclass(frozen=True, slots=True)
class LotMade:
    """A lot as it was recorded."""

    node_id: int
    code: str
    letter: str
    count: str
    wood: str | None
    part: str | None
    hormone: str | None
    source: str


@dataclass(frozen=True, slots=True)
class Stuck:
    """What a taking or sticking recorded.

    Attributes:
        asked: True where the verdict was asked for now, False where the pieces only moved on.
    """

    batch: str
    accession_id: int
    lots: tuple[LotMade, ...]
    made: tuple[Made, ...]
    given: permission.Given
    stick: bool
    on: FuzzyDate
    warnings: tuple[methods.HeldLong, ...]
    asked: bool = False


@dataclass(frozen=True, slots=True)
class _Parent:
    role: Role
    plants: tuple[int, ...]
    from_lots: tuple[int, ...] = ()

    @property
    def certain(self) -> bool:
        return len(self.plants) == 1


def stick(rec: Recording, asked: Sticking) -> Stuck:
    """Record material that was taken, and stuck unless `asked.stick` is false.

    Raises:
        SourceMissing: no source was named, in front or for each lot.
        NearMatch: a name is nearly that of a plant on record.
        NotPottedYet: a lot was named whose plants are not potted yet.
        StuckBeforeTaken: the days run backwards.
        NotRecorded: its verdict asks for `--open` or a reason; nothing is recorded.
    """
    made: list[Made] = []
    owner_id = _owner(rec, asked.owner, made)
    taken = asked.taken or asked.on
    _refuse_backwards(asked.on, taken)
    parents: list[list[_Parent]] = []
    known: dict[str, Target] = {}
    for lot in asked.lots:
        named = list(asked.parents)
        if lot.source is not None:
            named = [(Role.SOURCE, lot.source), *(p for p in named if p[0] is not Role.SOURCE)]
        if not named:
            raise SourceMissing(asked.method.value)
        row = [_parent(rec, asked, role, text, owner_id, made, known) for role, text in named]
        parents.append(_suckers(rec, row) if asked.sucker else row)
    rec.flush()
    for plant_id in _owned_sources(parents):
        _write_leave(rec, asked, plant_id, owner_id, taken)
    rec.flush()
    judged = sorted({p for row in parents for parent in row for p in parent.plants})
    numbers = _numbers(asked.lots, parents)
    given = permission.require(
        rec,
        Act.PROPAGATE,
        judged,
        day=taken,
        purpose=None,
        open_=asked.open_,
        anyway=asked.anyway,
        n=numbers,
        ways={
            plant_id: permission.way_of(parent.role, asked.method)
            for row in parents
            for parent in row
            for plant_id in parent.plants
        },
    )
    accession = making.next_accession(rec, "batch")
    rec.add(
        Batch(
            accession_id=accession.id,
            stuck=asked.on if asked.stick else None,
            container=asked.container,
        )
    )
    rec.flush()
    lots = tuple(
        _lot(rec, asked, lot, accession, row, taken, given)
        for lot, row in zip(asked.lots, parents, strict=True)
    )
    _place_and_number(rec, asked, accession)
    made += _handled(rec, asked, [lot.node_id for lot in lots], fresh=True)
    batch = accession_code(rec.session, accession.id)
    rec.last = [batch]
    return Stuck(
        batch,
        accession.id,
        lots,
        tuple(made),
        given,
        asked.stick,
        asked.on,
        _warnings(asked, taken),
        asked=True,
    )


def stick_taken(rec: Recording, target: Target, asked: Sticking) -> Stuck:
    """Stick what was taken before and has lain in its bag since.

    Raises:
        AlreadyStuck: it stands in the bench already.
        StuckBeforeTaken: the days run backwards.
    """
    lots = [rec.session.get_one(Lot, node_id) for node_id in target.lots]
    if not lots:
        raise NothingOpen(target.text)
    for lot in lots:
        if lot.stuck is not None:
            raise AlreadyStuck(rec.session.get_one(Node, lot.node_id).code)
        if lot.taken is not None:
            _refuse_backwards(asked.on, lot.taken)
    extra = asked.lots[0] if asked.lots else None
    for lot in lots:
        lot.stuck = asked.on
        if extra is not None:
            _treat(lot, extra)
    accession = rec.session.get_one(Accession, lots[0].batch_id)
    batch = rec.session.get_one(Batch, accession.id)
    batch.stuck = asked.on
    if asked.container:
        batch.container = asked.container
    _place_and_number(rec, asked, accession)
    tools = _handled(rec, asked, target.lots)
    code = accession_code(rec.session, accession.id)
    rec.last = [code]
    taken = lots[0].taken
    names = names_of(rec.session, [lot.node_id for lot in lots])
    shown = tuple(_shown(rec, lot, names[lot.node_id].shown) for lot in lots)
    given = permission.given_for_lots(rec.session, [lot.node_id for lot in lots])
    warnings = _warnings(asked, taken or asked.on)
    return Stuck(code, accession.id, shown, tools, given, True, asked.on, warnings)


def stick_again(rec: Recording, target: Target, count: Count | None, asked: Sticking) -> Stuck:
    """Set the same pieces again: a second attempt, counted with the first.

    The pieces leave their lot as left cuttings and stand in a new lot of a new batch, which follows
    from the old one, so that a rate finds its first denominator.

    Raises:
        Overdrawn: more than are left in the bench.
    """
    if len(target.lots) != 1:
        raise SourceMissing("again")
    old = rec.session.get_one(Lot, target.lots[0])
    code = rec.session.get_one(Node, old.node_id).code
    n = _moving(rec, old, count, "cuttings stuck again")
    accession = making.next_accession(rec, "batch")
    rec.add(Batch(accession_id=accession.id, stuck=asked.on, container=asked.container))
    rec.flush()
    lot = moved_lot(rec, old, accession, n, Role.AGAIN, asked.on, attempt=old.attempt + 1)
    if asked.lots:
        _treat(lot, asked.lots[0])
    lot.stuck = asked.on
    _place_and_number(rec, asked, accession)
    tools = _handled(rec, asked, [lot.node_id])
    batch = accession_code(rec.session, accession.id)
    rec.last = [batch]
    given = permission.given_for_lots(rec.session, [old.node_id])
    return Stuck(batch, accession.id, (_shown(rec, lot, code),), tools, given, True, asked.on, ())


def split(
    rec: Recording,
    target: Target,
    parts: Sequence[LotAsked],
    *,
    on: FuzzyDate,
    numbers: Sequence[str] = (),
) -> Stuck:
    """Part a lot into several, each treated in its own way; what is not named stays.

    Raises:
        SourceMissing: the reference means no lot, or several.
        Overdrawn: the parts come to more than are left.
    """
    if len(target.lots) != 1:
        raise SourceMissing("split")
    old = rec.session.get_one(Lot, target.lots[0])
    accession = rec.session.get_one(Accession, old.batch_id)
    code = rec.session.get_one(Node, old.node_id).code
    lots: list[LotMade] = []
    for part in parts:
        n = _moving(rec, old, part.count, "cuttings split off")
        lot = moved_lot(rec, old, accession, n, Role.SPLIT, on, attempt=old.attempt)
        _treat(lot, part)
        if len(lots) < len(numbers):
            making.alias(rec, numbers[len(lots)], node_id=lot.node_id)
        rec.flush()
        lots.append(_shown(rec, lot, code))
    batch = accession_code(rec.session, accession.id)
    rec.last = [lot.code for lot in lots]
    given = permission.given_for_lots(rec.session, [old.node_id])
    return Stuck(batch, accession.id, tuple(lots), (), given, old.stuck is not None, on, ())


def merge(
    rec: Recording, parts: Sequence[tuple[Target, Count | None]], *, on: FuzzyDate, asked: Sticking
) -> Stuck:
    """Join leftovers of several lots into one: a lot with several parents and no rate of its own.

    Raises:
        SourceMissing: fewer than two lots are named.
        Overdrawn: more than a lot has left.
    """
    lots = [(rec.session.get_one(Lot, t.lots[0]), count) for t, count in parts if len(t.lots) == 1]
    if len(lots) != len(parts) or len({lot.node_id for lot, _ in lots}) < max(2, len(lots)):
        raise SourceMissing("merge")
    accession = making.next_accession(rec, "batch")
    rec.add(Batch(accession_id=accession.id, stuck=on, container=asked.container))
    rec.flush()
    numbers = [_moving(rec, lot, count, "cuttings merged") for lot, count in lots]
    first = lots[0][0]
    alike = {lot.taken.edtf if lot.taken else None for lot, _ in lots}
    clonal = all(lot.method != Method.SEED for lot, _ in lots)
    joined = making.make_lot(
        rec,
        accession,
        method=Method(first.method)
        if len({lot.method for lot, _ in lots}) == 1
        else Method.CUTTING,
        opening=Count.of(sum(numbers)),
        taken=first.taken if len(alike) == 1 else None,
        stuck=on,
        in_bench=sum(numbers),
        record_opening=False,
    )
    sources: list[str] = []
    for (lot, _), n in zip(lots, numbers, strict=True):
        code = rec.session.get_one(Node, lot.node_id).code
        # Two lots of one batch may together have fewer than each of them could.
        check_left(rec, lot.batch_id, lot, n)
        _move(rec, lot, joined, n, on)
        making.link(
            rec,
            lot.node_id,
            joined.node_id,
            Role.MERGED,
            choice=1 if len(lots) > 1 else None,
            clonal=clonal,
            fresh=True,
        )
        sources.append(code)
    _place_and_number(rec, asked, accession)
    rec.flush()
    batch = accession_code(rec.session, accession.id)
    rec.last = [batch]
    given = permission.given_for_lots(rec.session, [lot.node_id for lot, _ in lots])
    shown = _shown(rec, joined, " + ".join(sources))
    return Stuck(batch, accession.id, (shown,), (), given, True, on, ())


def moved_lot(
    rec: Recording,
    old: Lot,
    accession: Accession,
    n: int,
    role: Role,
    on: FuzzyDate,
    *,
    attempt: int,
) -> Lot:
    """A new lot of `n` pieces out of `old`, with a pair of entries, one out and one in."""
    lot = making.make_lot(
        rec,
        accession,
        method=Method(old.method),
        opening=Count.of(n),
        taken=old.taken,
        stuck=old.stuck,
        wood=old.wood,
        part=old.part,
        medium=old.medium,
        hormone=old.hormone,
        ppm=old.ppm,
        cover=old.cover,
        attempt=attempt,
        in_bench=n,
        record_opening=False,
    )
    lot.verdict_id = old.verdict_id
    _move(rec, old, lot, n, on)
    making.link(
        rec,
        old.node_id,
        lot.node_id,
        role,
        choice=None,
        clonal=old.method != Method.SEED,
        fresh=True,
    )
    return lot


def _moving(rec: Recording, lot: Lot, count: Count | None, what: str) -> int:
    """How many pieces move on: the number said, or all that is left.

    Raises:
        CountNotExact: it is no number.
        Overdrawn: there are not so many.
    """
    n = count.exact if count is not None else stand_of(rec.session, lot).left
    if n is None or n < 1:
        raise CountNotExact(what, count.text if count else "?")
    check_left(rec, lot.batch_id, lot, n)
    return n


def _move(rec: Recording, old: Lot, new: Lot, n: int, on: FuzzyDate) -> None:
    if old.in_bench is not None:
        old.in_bench -= n
    rec.add(
        LedgerEntry(lot_id=old.node_id, kind="moved_out", n=-n, other_lot_id=new.node_id, on=on)
    )
    rec.add(LedgerEntry(lot_id=new.node_id, kind="moved_in", n=n, other_lot_id=old.node_id, on=on))


def _refuse_backwards(stuck: FuzzyDate, taken: FuzzyDate) -> None:
    if stuck.certainly_before(taken):
        raise StuckBeforeTaken(stuck.display(), taken.display())


def _owner(rec: Recording, owner: str | None, made: list[Made]) -> people.Owner:
    found = people.owner_named(rec, owner)
    if found.made:
        made.append(Made("person", None, found.name or ""))
    return found


def _parent(
    rec: Recording,
    asked: Sticking,
    role: Role,
    text: str,
    owner: people.Owner,
    made: list[Made],
    known: dict[str, Target],
) -> _Parent:
    """The plants that a reference stands for as a source; a name makes the source plant."""
    target = known.get(text) or source_or_name(rec, text, owner, new=asked.new)
    if target is None:
        founder = add_founder(rec, Founder(name=text, owner=owner, on=asked.taken or asked.on))
        made.append(Made("plant", founder.code, text))
        target = Target(TargetKind.PLANT, (founder.node_id,), (), founder.accession_id, text)
    known[text] = target
    if target.kind is TargetKind.PLANT or target.plants:
        return _Parent(role, target.plants)
    lots = [rec.session.get_one(Lot, node_id) for node_id in target.lots]
    raised = tuple(
        rec.session.execute(
            select(Edge.child_id)
            .where(
                Edge.parent_id.in_([lot.node_id for lot in lots]),
                Edge.role == Role.RAISED,
                Edge.void_seq.is_(None),
            )
            .distinct()
        ).scalars()
    )
    if not raised:
        raise NotPottedYet(target.text)
    return _Parent(role, raised, target.lots)


def _suckers(rec: Recording, parents: Sequence[_Parent]) -> list[_Parent]:
    """The same material as suckers: a copy of each plant's rootstock, cut from that plant."""
    rec.flush()
    found = []
    for parent in parents:
        stocks = {stock for plant in parent.plants for stock in rootstock_of(rec, plant)}
        found.append(_Parent(Role.SOURCE, tuple(sorted(stocks))))
        found.append(_Parent(Role.SUCKER_OF, parent.plants, parent.from_lots))
    return found


def _owned_sources(parents: Sequence[Sequence[_Parent]]) -> list[int]:
    """The plants to which words of leave belong: the ones material was drawn from, for certain."""
    found = set()
    for row in parents:
        sucker = any(parent.role is Role.SUCKER_OF for parent in row)
        # A sucker is its rootstock, and leave for it is the tree's owner's to give.
        apart = (Role.ROOTSTOCK, Role.INTERSTOCK, *((Role.SOURCE,) if sucker else ()))
        found |= {p.plants[0] for p in row if p.certain and p.role not in apart}
    return sorted(found)


def _write_leave(
    rec: Recording, asked: Sticking, plant_id: int, owner: people.Owner, taken: FuzzyDate
) -> None:
    recorded = rec.session.execute(
        select(Ownership.id).where(Ownership.node_id == plant_id, Ownership.void_seq.is_(None))
    ).first()
    if recorded is None and owner.known:
        making.own(rec, plant_id, owner.person_id, from_=None)
    if asked.leave is None and asked.said is None:
        return
    leave.with_taking(
        rec, plant_id, outcome=asked.leave, said=asked.said, person_id=owner.person_id, on=taken
    )


def _numbers(
    lots: Sequence[LotAsked], parents: Sequence[Sequence[_Parent]]
) -> dict[int, int | None]:
    """How many pieces each source plant gives at the most; None where nobody counted."""
    numbers: dict[int, int | None] = {}
    for lot, row in zip(lots, parents, strict=True):
        for parent in row:
            for plant_id in parent.plants:
                before, n = numbers.get(plant_id, 0), lot.count.against_limit
                numbers[plant_id] = None if before is None or n is None else before + n
    return numbers


def _lot(
    rec: Recording,
    asked: Sticking,
    lot: LotAsked,
    accession: Accession,
    parents: Sequence[_Parent],
    taken: FuzzyDate,
    given: permission.Given,
) -> LotMade:
    row = making.make_lot(
        rec,
        accession,
        method=asked.method,
        opening=lot.count,
        taken=taken,
        stuck=asked.on if asked.stick else None,
        wood=lot.wood,
        part=lot.part,
        medium=lot.medium,
        hormone=lot.hormone,
        ppm=lot.ppm,
        cover=lot.cover,
    )
    row.verdict_id = given.verdict_id
    choice = 0
    for parent in parents:
        group = None
        if not parent.certain:
            choice += 1
            group = choice
        clonal = methods.is_clonal(parent.role, asked.method)
        for plant_id in parent.plants:
            making.link(
                rec, plant_id, row.node_id, parent.role, choice=group, clonal=clonal, fresh=True
            )
            permission.use(rec, given, plant_id, row.node_id, lot.count, taken)
    doubt_cuttings_of_chimera(rec, row, taken)
    sources = [p for parent in parents if parent.role != Role.SUCKER_OF for p in parent.plants]
    names = names_of(rec.session, sources)
    shown = " / ".join(dict.fromkeys(names[plant_id].shown for plant_id in sources))
    return _shown(rec, row, shown)


def _treat(lot: Lot, asked: LotAsked) -> None:
    """Write onto a lot what was said of its treatment now."""
    for field in ("wood", "part", "medium", "hormone", "ppm", "cover"):
        said = getattr(asked, field)
        if said is not None:
            setattr(lot, field, said)
    if asked.wood is not None:
        stage = methods.wood_stage(asked.wood)
        lot.wood_stage = stage.value if stage else None


def _shown(rec: Recording, lot: Lot, source: str) -> LotMade:
    rec.flush()
    code = rec.session.get_one(Node, lot.node_id).code
    return LotMade(
        lot.node_id, code, lot.letter, lot.opening_text, lot.wood, lot.part, lot.hormone, source
    )


def _place_and_number(rec: Recording, asked: Sticking, accession: Accession) -> None:
    if asked.place is not None:
        place_id = people.place_named(rec, asked.place)
        making.stay(rec, place_id, accession_id=accession.id, from_=asked.on)
    if asked.number is not None:
        making.alias(rec, asked.number, accession_id=accession.id)


def _handled(
    rec: Recording, asked: Sticking, lots: Sequence[int], *, fresh: bool = False
) -> tuple[Made, ...]:
    """Record the tools and trays; what was cut afresh was cut from its sources."""
    cut = asked.taken or asked.on if fresh else asked.on
    made = handled(rec, asked.handling, lots, on=asked.on, cut=cut, sources=fresh)
    return tuple(Made(tool.kind, None, tool.name) for tool in made)


def _warnings(asked: Sticking, taken: FuzzyDate) -> tuple[methods.HeldLong, ...]:
    """What is unusual, said and never refused: wood held long before it was stuck."""
    if not asked.stick or taken.last is None or asked.on.first is None:
        return ()
    days = (asked.on.first - taken.last).days
    words = {lot.wood for lot in asked.lots if lot.wood}
    notes = (methods.held_long(word, days) for word in sorted(words))
    return tuple(note for note in notes if note)
