"""Making records: numbers, plants, lots and the edges between them, the same way for every act."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import delete, insert, select, text

from registry.domain.codes import Code, lot_letters
from registry.domain.counts import Count, CountKind
from registry.domain.dates import FuzzyDate
from registry.domain.lineage import find_circle
from registry.domain.methods import Method, Role, wood_stage
from registry.domain.names import matching_key, received
from registry.errors import BeforeItWas, ChildBeforeParent, ClosesCircle, EmptyName, NumberTaken
from registry.services.resolve import accession_code, widths
from registry.storage import lineage_queries as lineage
from registry.storage.models import (
    Accession,
    Alias,
    Edge,
    LedgerEntry,
    Line,
    Lot,
    Node,
    Ownership,
    Plant,
    Series,
    Stay,
)
from registry.storage.transaction import Recording


def next_accession(rec: Recording, kind: str) -> Accession:
    """The next number of the year of recording; `kind` is founder, batch or blank.

    Raises:
        WidthUsedUp: the year has no number left in the width chosen at `init`.
    """
    year = rec.today.year
    series = rec.session.get(Series, year)
    if series is None:
        series = rec.add(Series(year=year, next=1))
    number = series.next
    Code(year % 100, number, widths=widths(rec.session))
    series.next = number + 1
    accession = rec.add(Accession(year=year, number=number, kind=kind, next_plant=1, next_lot=1))
    rec.flush()
    return accession


def make_plant(
    rec: Recording,
    accession: Accession,
    *,
    born: FuzzyDate | None = None,
    received_as: str | None = None,
    **facts: Any,
) -> Plant:
    """A plant with the next number of its accession.

    Args:
        rec: The recording.
        accession: The number it counts under.
        born: When it began as a plant of its own; None is not known.
        received_as: The name that came with it, as it was given.
        facts: Further columns of `Plant`.
    """
    number = accession.next_plant
    code = Code(accession.year % 100, accession.number, plant=number, widths=widths(rec.session))
    accession.next_plant = number + 1
    node = rec.add(
        Node(
            kind="plant",
            uuid=rec.new_id(),
            code=code.text,
            accession_id=accession.id,
            born=born,
        )
    )
    rec.flush()
    plant = rec.add(
        Plant(
            node_id=node.id,
            received_as=received(received_as) if received_as is not None else None,
            received_key=matching_key(received_as) if received_as else None,
            **facts,
        )
    )
    rec.flush()
    if received_as is not None:
        rec.derived(insert(Line).values(node_id=node.id, root_id=node.id))
    return plant


def make_lot(
    rec: Recording,
    accession: Accession,
    *,
    method: Method,
    opening: Count,
    taken: FuzzyDate | None,
    stuck: FuzzyDate | None,
    in_bench: int | None = None,
    record_opening: bool = True,
    wood: str | None = None,
    **facts: Any,
) -> Lot:
    """A lot with the next letter of its batch and its opening count.

    Args:
        rec: The recording.
        accession: The batch's number.
        method: How it is raised.
        opening: How many were stuck (or moved in), as said.
        taken: The day it was cut.
        stuck: The day it was set; None is material in a bag.
        in_bench: The balance, where it is not the opening count's.
        record_opening: False where a movement from another lot brings the number.
        wood: The wood in the grower's word.
        facts: Further columns of `Lot`.
    """
    letter = lot_letters(accession.next_lot)
    code = Code(accession.year % 100, accession.number, lot=letter, widths=widths(rec.session))
    accession.next_lot += 1
    node = rec.add(
        Node(kind="lot", uuid=rec.new_id(), code=code.text, accession_id=accession.id, born=taken)
    )
    rec.flush()
    stage = wood_stage(wood) if wood else None
    lot = rec.add(
        Lot(
            node_id=node.id,
            batch_id=accession.id,
            letter=letter,
            method=method,
            wood=wood,
            wood_stage=stage.value if stage else None,
            taken=taken,
            stuck=stuck,
            opening_low=opening.low,
            opening_high=opening.high,
            opening_text=opening.text,
            opening_kind=opening.kind,
            in_bench=in_bench if in_bench is not None else opening.exact,
            **facts,
        )
    )
    rec.flush()
    if record_opening and opening.kind is CountKind.EXACT and opening.exact:
        rec.add(LedgerEntry(lot_id=node.id, kind="stuck", n=opening.exact, on=stuck or taken))
    return lot


def link(
    rec: Recording,
    parent_id: int,
    child_id: int,
    role: Role,
    *,
    choice: int | None,
    clonal: bool,
    fresh: bool = False,
) -> None:
    """An edge from parent to child; the child without a name of its own joins its parents' lines.

    Args:
        rec: The recording.
        parent_id: The node above.
        child_id: The node below.
        role: What the parent is to the child.
        choice: The same number marks 'one of these'.
        clonal: Whether identity and terms pass along the edge.
        fresh: True for a child made in this recording without children: no circle can close.

    Raises:
        ClosesCircle: the child is an ancestor of the parent, by whichever way.
        ChildBeforeParent: the child's last possible day lies before the parent's first.
    """
    rec.flush()
    if not fresh:
        _refuse_circle(rec, parent_id, child_id)
    _refuse_backwards(rec, parent_id, child_id)
    rec.add(Edge(parent_id=parent_id, child_id=child_id, role=role, choice=choice, clonal=clonal))
    rec.flush()
    if clonal and rec.session.get(Line, (child_id, child_id)) is None:
        rec.derived(_INHERIT.bindparams(parent=parent_id, child=child_id))


_INHERIT = text(
    "INSERT INTO line (node_id, root_id) SELECT :child, above.root_id FROM line AS above"
    " WHERE above.node_id = :parent ON CONFLICT DO NOTHING"
)


def own(
    rec: Recording,
    node_id: int,
    person_id: int | None,
    from_: FuzzyDate | None,
    until: FuzzyDate | None = None,
) -> Ownership:
    """Whose a plant is; no person is the grower."""
    return rec.add(Ownership(node_id=node_id, person_id=person_id, from_=from_, until=until))


def alias(
    rec: Recording,
    number: str,
    *,
    node_id: int | None = None,
    accession_id: int | None = None,
    issuer: str | None = None,
) -> Alias:
    """Another number of a plant, lot or batch, and who gave it; no issuer is the grower.

    Raises:
        EmptyName: nothing was typed.
        NumberTaken: the same issuer gave it to something else before.
    """
    if not number.strip():  # its key may be empty all the same: X alone is read as a hybrid sign
        raise EmptyName("a number")
    rec.flush()
    taken = _taken(rec, number, issuer)
    if taken is not None:
        raise NumberTaken(number.strip(), taken, issuer)
    return rec.add(
        Alias(
            node_id=node_id,
            accession_id=accession_id,
            issuer=issuer,
            text=number,
            key=matching_key(number),
        )
    )


def _taken(rec: Recording, number: str, issuer: str | None) -> str | None:
    """The code of the record that a number stands for already, from the same issuer."""
    given = rec.session.scalars(
        select(Alias)
        .where(Alias.key == matching_key(number), Alias.void_seq.is_(None))
        .order_by(Alias.id)
    )
    for other in given:
        if matching_key(other.issuer or "") == matching_key(issuer or ""):
            if other.node_id is not None:
                return rec.session.get_one(Node, other.node_id).code
            return accession_code(rec.session, other.accession_id or 0)
    return None


def stay(
    rec: Recording,
    place_id: int,
    *,
    node_id: int | None = None,
    accession_id: int | None = None,
    from_: FuzzyDate | None,
) -> Stay:
    """Where something stands from a day on; an earlier stay ends there."""
    column = Stay.node_id if node_id is not None else Stay.accession_id
    subject = node_id if node_id is not None else accession_id
    open_stays = rec.session.scalars(
        select(Stay).where(column == subject, Stay.void_seq.is_(None))
    ).all()
    for earlier in open_stays:
        if earlier.until is None:
            earlier.until = from_
    return rec.add(Stay(node_id=node_id, accession_id=accession_id, place_id=place_id, from_=from_))


def rebuild_lines(rec: Recording, node_ids: Collection[int]) -> None:
    """Work out anew which line each of `node_ids` and what was raised from them belongs to.

    A node with a name of its own is its own line; any other belongs to its clonal parents' lines.
    What lies below a name of its own is not touched: its lines begin there.
    """
    parameter = lineage.as_parameter(node_ids)
    rec.derived(
        lineage.FORGET_LINES.bindparams(**parameter), lineage.WRITE_LINES.bindparams(**parameter)
    )


def rebuild_all_lines(rec: Recording) -> None:
    """Work out the lines of every node anew."""
    rec.derived(delete(Line))
    rebuild_lines(rec, rec.session.scalars(select(Node.id)).all())


def refuse_before_it_was(rec: Recording, node_ids: Collection[int], on: FuzzyDate) -> None:
    """Refuse an act on plants or lots of a day before they were there.

    Raises:
        BeforeItWas: its last possible day lies before the first of one of them.
    """
    for node in rec.session.scalars(select(Node).where(Node.id.in_(node_ids)).order_by(Node.id)):
        if node.born is not None and on.certainly_before(node.born):
            raise BeforeItWas(node.code, on.display(), node.born.display())


def _refuse_circle(rec: Recording, parent_id: int, child_id: int) -> None:
    if parent_id == child_id or child_id in lineage.ancestor_ids(rec.session, [parent_id]):
        # Above the parent stands every way down to it, so the one from the child is among them.
        above = [(row.parent, row.child) for row in lineage.edges_above(rec.session, [parent_id])]
        circle = find_circle([*above, (parent_id, child_id)]) or (child_id,)
        start = circle.index(child_id) if child_id in circle else 0
        around = (*circle[start:], *circle[:start])
        codes = lineage.nodes(rec.session, circle)
        raise ClosesCircle(tuple(codes[node].code for node in (*around, around[0])))


def _refuse_backwards(rec: Recording, parent_id: int, child_id: int) -> None:
    parent = rec.session.get_one(Node, parent_id)
    child = rec.session.get_one(Node, child_id)
    if parent.born is None or child.born is None:
        return
    if child.born.certainly_before(parent.born):
        raise ChildBeforeParent(
            child.code, child.born.display(), parent.code, parent.born.display()
        )
