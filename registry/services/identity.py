"""What a plant is: opinions with a day and grounds, what they change, and mix-ups put right.

A determination stands on one plant or lot; what was raised from it without seed follows, down to
the next plant with a determination of its own. Nothing is copied, so a correction of the stock
plant corrects all of them at once.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import or_, select, text
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.family import GONE
from registry.domain.methods import Method, Part, Role, part_of_plant
from registry.domain.names import (
    Outcome,
    Verified,
    darwin_core,
    matching_key,
    plain,
    read_name,
    received,
    status,
    verified,
)
from registry.domain.verdict.facts import Act, Purpose
from registry.errors import (
    NoNameToTake,
    NotAPlant,
    NotInTheMixUp,
    PlantsGone,
    SaidTwice,
    SamePlantTwice,
)
from registry.labels.text import LabelText, label_from_json, pencil_lines
from registry.services import leave, making, people, permission
from registry.services.naming import (
    NOT_KNOWN,
    NOT_PROVEN,
    in_print,
    name_of,
    names_following,
    names_of,
    seed_parents,
    verified_of,
)
from registry.services.resolve import Target, accession_code
from registry.storage import lineage_queries as lineage
from registry.storage.models import (
    Determination,
    Edge,
    IdentityCheck,
    Lot,
    Node,
    Plant,
    Release,
    ReleaseItem,
    SamePlant,
    Trait,
)
from registry.storage.transaction import Recording

MOST_JUDGED = 200
"""How many living plants of a clone are judged before and after a correction."""

ASKED = (
    (Act.PROPAGATE, None),
    (Act.GIVE, Purpose.PRIVATE),
    (Act.SELL, Purpose.TRADE),
)
"""The acts whose verdicts a correction is compared by."""

FIRST = date.min
"""Before every day: an opinion without one gives way to any other."""

_KEEPS_A_CHIMERA_APART = frozenset({Part.LEAF, Part.ROOT})
"""Parts that grow from one layer of a chimera alone, so that the others are lost (common practice,
no source)."""


@dataclass(frozen=True, slots=True)
class Opinion:
    """What somebody holds a plant to be.

    Attributes:
        name: As typed.
        on: From which day.
        grounds: Flower, fruit, label, the giver's word, a test.
        sure: How sure, in words.
        by: Whose opinion it is; None is the grower's.
        starts_line: It is a sport, which begins a line of its own.
        verified: How far it was verified; None goes by the grounds.
    """

    name: str
    on: FuzzyDate
    grounds: str | None = None
    sure: str | None = None
    by: str | None = None
    starts_line: bool = False
    verified: Verified | None = None


@dataclass(frozen=True, slots=True)
class StaleLabel:
    """A printed label that bears the old name."""

    code: str
    stock: str
    payload: str


@dataclass(frozen=True, slots=True)
class Carried:
    """Plants that left under the old name: which, how, when and to whom."""

    code: str
    count: int
    kind: str
    on: FuzzyDate | None
    to: str | None


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """A plant whose verdict on an act is another after the correction."""

    code: str
    act: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Corrected:
    """What an opinion changes.

    Attributes:
        code: Of the plant or lot that it stands on.
        before, after: Its name.
        descendants: Plants raised from it that read the same now.
        keep_own: Plants raised from it that keep a name of their own.
        labels: Printed labels of what is still here that bear the old name.
        left: What left under the old name.
        verdicts: Verdicts that are others now, of the living plants judged.
        judged: How many living plants were judged.
        of: How many there are.
        asked: Names that may be meant instead, where the typed one leaves a question.
        verified: How far its name is verified now.
    """

    code: str
    before: str
    after: str
    descendants: int
    keep_own: int
    labels: tuple[StaleLabel, ...]
    left: tuple[Carried, ...]
    verdicts: tuple[VerdictChange, ...]
    judged: int
    of: int
    asked: tuple[str, ...]
    verified: Verified


def subject(target: Target) -> int:
    """The one plant or lot that an opinion stands on.

    Raises:
        NotAPlant: the reference means none, or several.
    """
    meant = target.plants or target.lots
    if len(meant) != 1:
        raise NotAPlant(target.text)
    return meant[0]


def correct_name(rec: Recording, target: Target, opinion: Opinion) -> Corrected:
    """Record what a plant or lot is, and tell all that it changes.

    Raises:
        NotAPlant: the reference means no single plant or lot.
        BadName: the name has characters that no name has.
    """
    node_id = subject(target)
    read_name(opinion.name)
    before = name_of(rec.session, node_id).shown
    below = lineage.clone_ids_below(rec.session, [node_id])
    standing = _standing(rec.session, below)
    judged = standing[:MOST_JUDGED]
    verdicts = _verdicts(rec, judged, opinion.on)
    asked = determine(rec, node_id, opinion)
    named = names_following(rec.session, node_id)
    follow = set(named) | _name_seedlings(rec, node_id, opinion)
    code = rec.session.get_one(Node, node_id).code
    after = named[node_id].shown
    changed = before != after
    rec.last = [code]
    return Corrected(
        code,
        before,
        after,
        len(_plants(rec.session, follow - {node_id})),
        len(_plants(rec.session, below - follow - {node_id})),
        stale(rec.session, follow, before) if changed else (),
        left_as(rec.session, node_id, follow, before) if changed else (),
        _changed(verdicts, _verdicts(rec, judged, opinion.on)),
        len(judged),
        len(standing),
        asked,
        verified_of(rec.session, [node_id])[node_id],
    )


def determine(rec: Recording, node_id: int, opinion: Opinion) -> tuple[str, ...]:
    """Write an opinion down; gives the names that may be meant instead.

    A name that leaves a question is kept as it was typed: nothing is guessed.
    """
    typed = received(opinion.name).strip()
    reading = read_name(typed)
    read = reading.name if reading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED) else None
    printed = plain(read) if read is not None else typed
    by = people.owner_named(rec, opinion.by) if opinion.by is not None else None
    rec.add(
        Determination(
            node_id=node_id,
            typed=typed,
            parts=darwin_core(read) if read is not None else {},
            printed=printed,
            key=matching_key(printed),
            person_id=by.person_id if by else None,
            grounds=opinion.grounds,
            sure=opinion.sure,
            verified=(opinion.verified or verified(opinion.grounds)).value,
            starts_line=opinion.starts_line,
            on=opinion.on,
        )
    )
    making.rebuild_lines(rec, [node_id])
    leave.settle_name(rec, node_id)
    return reading.offers


def _name_seedlings(rec: Recording, lot_id: int, opinion: Opinion) -> set[int]:
    """Name the plants raised from a lot of seed as their lot is named; gives all that follow.

    Seedlings are no clone of their lot, so each has the opinion itself; one with a name of its own
    keeps it.
    """
    lot = rec.session.get(Lot, lot_id)
    if lot is None or lot.method != Method.SEED:
        return set()
    raised = rec.session.scalars(
        select(Edge.child_id)
        .where(
            Edge.parent_id == lot_id,
            Edge.role == Role.RAISED,
            Edge.choice.is_(None),
            Edge.void_seq.is_(None),
        )
        .order_by(Edge.child_id)
    ).all()
    follow: set[int] = set()
    for plant_id in raised:
        if not _has_own_name(rec.session, plant_id):
            determine(rec, plant_id, opinion)
            follow |= set(names_following(rec.session, plant_id))
    return follow


def name_as_lot(rec: Recording, plant_id: int, lot: Lot) -> None:
    """Name a plant as the lot of seed that it was raised from, where that has a name of its own."""
    if lot.method != Method.SEED:
        return
    held = rec.session.scalars(
        select(Determination).where(
            Determination.node_id == lot.node_id, Determination.void_seq.is_(None)
        )
    ).all()
    if not held:
        return
    newest = max(held, key=lambda one: (one.on.last if one.on and one.on.last else FIRST, one.id))
    by = people.person_name(rec.session, newest.person_id) if newest.person_id else None
    determine(
        rec,
        plant_id,
        Opinion(
            newest.typed,
            newest.on or FuzzyDate.of(rec.today),
            newest.grounds,
            newest.sure,
            by,
            verified=status(newest.verified, newest.grounds),
        ),
    )


def _has_own_name(session: Session, node_id: int) -> bool:
    own = select(Determination.id).where(
        Determination.node_id == node_id, Determination.void_seq.is_(None)
    )
    return session.scalar(own.limit(1)) is not None


def coming_true(rec: Recording, target: Target, on: FuzzyDate) -> Opinion:
    """The opinion that seedlings are their seed parent's cultivar, since it comes true from seed.

    Raises:
        NoNameToTake: it was not raised from the seed of one named plant.
    """
    node_id = subject(target)
    above: dict[int, list[lineage.EdgeRow]] = {}
    for edge in lineage.edges_above(rec.session, [node_id]):
        above.setdefault(edge.child, []).append(edge)
    return _taken_from(rec, target, seed_parents(node_id, above), "comes true from seed", on)


def from_rootstock(rec: Recording, target: Target, on: FuzzyDate) -> Opinion:
    """The opinion that what grows is the rootstock: a sucker, or all that is left of a graft.

    Raises:
        NoNameToTake: no one rootstock with a name is on record.
    """
    edges = lineage.edges_above(rec.session, [subject(target)])
    stocks = [edge.parent for edge in edges if edge.role == Role.ROOTSTOCK]
    return _taken_from(rec, target, stocks, "grown from the rootstock", on)


def _taken_from(
    rec: Recording, target: Target, nodes: Collection[int], why: str, on: FuzzyDate
) -> Opinion:
    names = {name.shown for name in names_of(rec.session, set(nodes)).values()}
    if len(names) != 1 or NOT_KNOWN in names:
        raise NoNameToTake(target.text, why, tuple(sorted(names)))
    return Opinion(names.pop(), on, grounds=why)


# --- what a correction changes -------------------------------------------------------------------


def _plants(session: Session, ids: Collection[int]) -> list[int]:
    rows = lineage.nodes(session, ids)
    return sorted(node for node, row in rows.items() if row.kind == "plant")


def _standing(session: Session, ids: Collection[int]) -> list[int]:
    rows = lineage.nodes(session, ids)
    return sorted(
        node for node, row in rows.items() if row.kind == "plant" and row.status not in GONE
    )


_Levels = dict[tuple[str, str], str]


def _verdicts(rec: Recording, ids: Sequence[int], on: FuzzyDate) -> _Levels:
    """(code, act) to level, of the plants judged."""
    levels: _Levels = {}
    for act, purpose in ASKED if ids else ():
        try:
            answer = permission.judge_plants(
                rec.session, act, ids, day=on, today=rec.today, purpose=purpose
            )
        except PlantsGone:
            continue
        levels.update({(code, act.value): level for code, level in answer.plants})
    return levels


def _changed(before: _Levels, after: _Levels) -> tuple[VerdictChange, ...]:
    return tuple(
        VerdictChange(code, act, before[code, act], level)
        for (code, act), level in after.items()
        if before.get((code, act), level) != level
    )


def stale(session: Session, nodes: Collection[int], name: str) -> tuple[StaleLabel, ...]:
    """Printed labels of `nodes`, and cards of their lots, that bear `name` and still stand."""
    rows = session.execute(_PRINTED, lineage.as_parameter(nodes))
    labels = ((stock, payload, label_from_json(words)) for stock, payload, words in rows)
    return tuple(
        StaleLabel(label.code, stock, payload)
        for stock, payload, label in labels
        if bears(label, name)
    )


def bears(label: LabelText, name: str) -> bool:
    """Whether a label bears a name, as whole words and however it is written."""
    key = f" {matching_key(name)} "
    return any(key in f" {matching_key(line)} " for line in pencil_lines(label))


_PRINTED = text(
    f"""
    SELECT label.stock, label.payload, label.text FROM label_print label
    LEFT JOIN plant ON plant.node_id = label.node_id
    WHERE label.status = 'printed' AND label.void_seq IS NULL
      AND (plant.status IS NULL OR plant.status IN ('alive', 'unsure', 'rootstock'))
      AND (label.node_id IN {lineage.IDS} OR label.accession_id IN
           (SELECT batch_id FROM lot WHERE node_id IN {lineage.IDS}))
    ORDER BY label.id
    """  # noqa: S608 - a constant of ours
)


def left_as(session: Session, root: int, nodes: Collection[int], name: str) -> tuple[Carried, ...]:
    """What left of `nodes` under `name`, alone or as one of several that it may have.

    Of what left before names were kept with what left, it is worked out.
    """
    carried = []
    for item, release in session.execute(_left_of(), lineage.as_parameter(nodes)):
        told = item.name or _called_then(session, root, release.seq, name)
        if name not in told.split(" or "):
            continue
        carried.append(
            Carried(
                _code_of(session, item),
                item.n,
                release.kind,
                release.on,
                people.person_name(session, release.person_id) if release.person_id else None,
            )
        )
    return tuple(carried)


def _left_of() -> Any:
    batches = select(Lot.batch_id).where(lineage.among(Lot.node_id))
    return (
        select(ReleaseItem, Release)
        .join(Release, Release.id == ReleaseItem.release_id)
        .where(
            ReleaseItem.void_seq.is_(None),
            Release.void_seq.is_(None),
            or_(
                lineage.among(ReleaseItem.node_id),
                lineage.among(ReleaseItem.lot_id),
                ReleaseItem.batch_id.in_(batches),
            ),
        )
        .order_by(Release.id, ReleaseItem.id)
    )


def _called_then(session: Session, root: int, seq: int, before: str) -> str:
    """What a line was called when entry `seq` was recorded; `before` its newest correction."""
    *earlier, _ = session.execute(
        select(Determination.seq, Determination.printed)
        .where(Determination.node_id == root, Determination.void_seq.is_(None))
        .order_by(Determination.id)
    ).all()
    known = [printed for recorded, printed in earlier if recorded <= seq]
    if known:
        return known[-1]
    plant = session.get(Plant, root)
    if plant is not None and plant.received_as is not None:
        return in_print(plant.received_as)[0]
    return "" if earlier else before


def _code_of(session: Session, item: ReleaseItem) -> str:
    node_id = item.node_id or item.lot_id
    if node_id is not None:
        return session.get_one(Node, node_id).code
    return accession_code(session, item.batch_id or 0)


# --- chimeras ------------------------------------------------------------------------------------


def mark(rec: Recording, target: Target, kind: str, on: FuzzyDate) -> tuple[str, ...]:
    """Mark a plant as a chimera, or as one that lost its tag; gives what was put in doubt by it."""
    node_id = subject(target)
    code = rec.session.get_one(Node, node_id).code
    if not has_trait(rec.session, node_id, kind):
        rec.add(Trait(node_id=node_id, kind=kind, on=on))
    rec.flush()
    doubted: list[str] = []
    if kind == "chimera":
        below = lineage.clone_ids_below(rec.session, [node_id])
        lots = rec.session.scalars(
            select(Lot)
            .where(Lot.part.is_not(None), lineage.among(Lot.node_id))
            .order_by(Lot.node_id),
            lineage.as_parameter(below),
        ).all()
        doubted = [_doubt(rec, lot, on) for lot in lots if _grows_from_one_layer(lot)]
    rec.last = [code]
    return tuple(doubted)


def unmark(rec: Recording, target: Target, kind: str) -> None:
    """Take a mark back."""
    node_id = subject(target)
    for row in rec.session.scalars(
        select(Trait).where(Trait.node_id == node_id, Trait.kind == kind, Trait.void_seq.is_(None))
    ):
        row.void_seq = rec.seq
    rec.flush()
    rec.last = [rec.session.get_one(Node, node_id).code]


def has_trait(session: Session, node_id: int, kind: str) -> bool:
    """Whether a plant is marked so."""
    return (
        session.scalar(
            select(Trait.id).where(
                Trait.node_id == node_id, Trait.kind == kind, Trait.void_seq.is_(None)
            )
        )
        is not None
    )


def doubt_cuttings_of_chimera(rec: Recording, lot: Lot, on: FuzzyDate) -> bool:
    """Put the name of a new lot in doubt if it is of leaf or root cuttings of a chimera.

    Such cuttings grow from one layer and lose what the others gave (common practice, no source).
    """
    if not _grows_from_one_layer(lot):
        return False
    marked = rec.session.scalar(
        select(Trait.id)
        .where(Trait.kind == "chimera", Trait.void_seq.is_(None))
        .where(lineage.among(Trait.node_id))
        .limit(1),
        lineage.as_parameter(lineage.clone_ids_above(rec.session, [lot.node_id])),
    )
    if marked is None:
        return False
    _doubt(rec, lot, on)
    return True


def _grows_from_one_layer(lot: Lot) -> bool:
    part = part_of_plant(lot.part) if lot.part else None
    return part in _KEEPS_A_CHIMERA_APART and lot.method != Method.SEED


def _doubt(rec: Recording, lot: Lot, on: FuzzyDate) -> str:
    name = name_of(rec.session, lot.node_id).shown
    if NOT_PROVEN not in name:
        grounds = f"raised from a chimera by {lot.part} cuttings"
        determine(rec, lot.node_id, Opinion(name, on, grounds, NOT_PROVEN))
    return rec.session.get_one(Node, lot.node_id).code


# --- mix-ups -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sorted:
    """A mix-up, looked through.

    Attributes:
        confirmed: Codes of the plants that are what they are called.
        contradicted: Codes of those that are not.
        unproven: Codes of those that may be; all that was not said.
        name: What the contradicted ones are, where it is known.
        candidates: Codes of the other plants that the unproven ones may come from.
    """

    confirmed: tuple[str, ...]
    contradicted: tuple[str, ...]
    unproven: tuple[str, ...]
    name: str
    candidates: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MixUp:
    """What was seen when a mix-up was looked through; plants by node id."""

    plants: tuple[int, ...]
    confirmed: tuple[int, ...]
    contradicted: tuple[int, ...]
    on: FuzzyDate
    grounds: str | None = None
    by: str | None = None
    name: str | None = None
    candidates: tuple[int, ...] = ()
    verified: Verified | None = None


def sort_mix_up(rec: Recording, mixed: MixUp) -> Sorted:
    """Sort the plants of a group into confirmed, contradicted and unproven.

    Confirmed ones go on bearing their line's name. Contradicted ones get an opinion of their own,
    'name not known' if nobody can say. Unproven ones may come from any of the candidates as well;
    without candidates their name stays and is marked as not proven. Edges are never taken away:
    what a plant came with goes on binding it.

    Raises:
        NotInTheMixUp: a plant that was said is not one of the group.
        SaidTwice: a plant was said to be confirmed and contradicted.
    """
    _check_mix_up(rec.session, mixed)
    unproven = [p for p in mixed.plants if p not in (*mixed.confirmed, *mixed.contradicted)]
    by = people.owner_named(rec, mixed.by) if mixed.by is not None else None
    how = mixed.verified or verified(mixed.grounds)
    for node_id in mixed.confirmed:
        _believe_again(rec, node_id)
    names = names_of(rec.session, mixed.plants)
    for outcome, nodes in (
        ("confirmed", mixed.confirmed),
        ("contradicted", mixed.contradicted),
        ("unproven", unproven),
    ):
        for node_id in nodes:
            rec.add(
                IdentityCheck(
                    node_id=node_id,
                    outcome=outcome,
                    grounds=mixed.grounds,
                    verified=how.value if outcome == "confirmed" else None,
                    name=names[node_id].shown,
                    person_id=by.person_id if by else None,
                    on=mixed.on,
                )
            )
    rec.flush()
    opinion = Opinion(
        mixed.name or NOT_KNOWN, mixed.on, mixed.grounds or "mix-up", None, mixed.by, verified=how
    )
    for node_id in mixed.contradicted:
        determine(rec, node_id, opinion)
    for node_id in unproven:
        if mixed.candidates:
            may_come_from(rec, node_id, mixed.candidates)
        else:
            name = names[node_id].shown
            if NOT_PROVEN not in name:
                determine(rec, node_id, replace(opinion, name=name, sure=NOT_PROVEN))
    codes = {node: row.code for node, row in lineage.nodes(rec.session, mixed.plants).items()}
    others = lineage.nodes(rec.session, mixed.candidates)
    rec.last = [codes[node_id] for node_id in mixed.plants]
    return Sorted(
        tuple(codes[node] for node in mixed.confirmed),
        tuple(codes[node] for node in mixed.contradicted),
        tuple(codes[node] for node in unproven),
        opinion.name,
        tuple(others[node].code for node in mixed.candidates),
    )


def _check_mix_up(session: Session, mixed: MixUp) -> None:
    twice = set(mixed.confirmed) & set(mixed.contradicted)
    if twice:
        raise SaidTwice(session.get_one(Node, min(twice)).code)
    outside = {*mixed.confirmed, *mixed.contradicted} - set(mixed.plants)
    if outside:
        raise NotInTheMixUp(session.get_one(Node, min(outside)).code)


def _believe_again(rec: Recording, node_id: int) -> None:
    """Take back that a name was not proven, so that the plant follows its line again."""
    for row in rec.session.scalars(
        select(Determination).where(
            Determination.node_id == node_id,
            Determination.sure == NOT_PROVEN,
            Determination.void_seq.is_(None),
        )
    ):
        row.void_seq = rec.seq
    rec.flush()
    making.rebuild_lines(rec, [node_id])


def any_of(targets: Sequence[Target]) -> list[int]:
    """The plants, or else the lots, that references stand for together: it came from one of them.

    Raises:
        NotAPlant: a reference means neither a plant nor a lot.
    """
    found: list[int] = []
    for target in targets:
        meant = target.plants or target.lots
        if not meant:
            raise NotAPlant(target.text)
        found += meant
    return list(dict.fromkeys(found))


def may_come_from(rec: Recording, node_id: int, parents: Sequence[int]) -> None:
    """Record that a plant came from one of several: those given, and those on record already.

    One parent alone, where none was on record, is certain.

    Raises:
        ClosesCircle, ChildBeforeParent: it cannot have come from one of them.
    """
    edges = rec.session.scalars(
        select(Edge).where(Edge.child_id == node_id, Edge.void_seq.is_(None))
    ).all()
    clonal = [edge for edge in edges if edge.clonal]
    used = [edge.choice for edge in edges if edge.choice is not None]
    sure = not clonal and len(parents) == 1
    choice = (
        None if sure else next((e.choice for e in clonal if e.choice), max(used, default=0) + 1)
    )
    known = {(edge.parent_id, edge.role) for edge in clonal}
    for edge in clonal:
        if edge.choice is None:
            edge.void_seq = rec.seq
            rec.flush()
            making.link(rec, edge.parent_id, node_id, Role(edge.role), choice=choice, clonal=True)
    for parent in parents:
        role = Role.RAISED if rec.session.get(Lot, parent) is not None else Role.SOURCE
        if (parent, role) not in known:
            making.link(rec, parent, node_id, role, choice=choice, clonal=True)
    rec.flush()
    making.rebuild_lines(rec, [node_id])


def note_same(rec: Recording, one: Target, other: Target, on: FuzzyDate) -> tuple[str, str]:
    """Note that two records may be of one plant: they are found together and stay two.

    Raises:
        NotAPlant: a reference means no single plant.
        SamePlantTwice: both mean the same record, or it was noted before.
    """
    low, high = sorted((subject(one), subject(other)))
    codes = (rec.session.get_one(Node, low).code, rec.session.get_one(Node, high).code)
    known = rec.session.scalar(
        select(SamePlant.id).where(
            SamePlant.one_id == low, SamePlant.other_id == high, SamePlant.void_seq.is_(None)
        )
    )
    if low == high or known is not None:
        raise SamePlantTwice(*codes)
    rec.add(SamePlant(one_id=low, other_id=high, on=on))
    rec.flush()
    rec.last = list(codes)
    return codes


def living(session: Session, target: Target) -> tuple[int, ...]:
    """The plants of a target that are still here: those named, or those raised from its lots."""
    ids = permission.nodes_meant(session, target)
    rows = lineage.nodes(session, ids)
    return tuple(
        node for node in ids if rows[node].kind == "plant" and rows[node].status not in GONE
    )
