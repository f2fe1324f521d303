"""Suckers: what a grafted plant's rootstock sends up is the rootstock, and cut from the tree."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.methods import Role
from registry.services import making
from registry.storage.models import Edge, Node, Plant
from registry.storage.transaction import Recording


def rootstocks(session: Session, plant_id: int) -> tuple[int, ...]:
    """The plants that a plant is grafted on: itself, or as the top of its lot; several if unsure.

    A plant raised from a grafted plant's cuttings stands on roots of its own and has none.
    """
    found: list[int] = []
    front = [plant_id]
    while front:
        rows = session.execute(
            select(Edge.parent_id, Edge.role, Node.kind)
            .join(Node, Node.id == Edge.parent_id)
            .where(Edge.child_id == front.pop(), Edge.void_seq.is_(None))
            .order_by(Edge.id)
        ).all()
        found += [parent for parent, role, _ in rows if role == Role.ROOTSTOCK]
        front += [parent for parent, _, kind in rows if kind == "lot"]
    return tuple(dict.fromkeys(found))


def rootstock_of(rec: Recording, plant_id: int, name: str | None = None) -> tuple[int, ...]:
    """The rootstocks of a plant, or one put on record for it, without a name unless one is said."""
    found = rootstocks(rec.session, plant_id)
    if found:
        return found
    how = rec.session.get_one(Plant, plant_id).how
    accession = making.next_accession(rec, "founder")
    stock = making.make_plant(
        rec,
        accession,
        received_as=name.strip() if name else None,
        how=how,
        status="rootstock",
    )
    making.link(rec, stock.node_id, plant_id, Role.ROOTSTOCK, choice=None, clonal=False)
    return (stock.node_id,)
