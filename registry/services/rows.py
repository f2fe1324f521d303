"""Single rows that many services begin with."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.codes import lot_index
from registry.storage.models import Batch, Lot, Registry


def registry_row(session: Session) -> Registry:
    """The registry's own row."""
    return session.get_one(Registry, 1)


def batch_of(session: Session, lot: Lot) -> Batch:
    """The batch that a lot stands in."""
    return session.get_one(Batch, lot.batch_id)


def lots_of_batch(session: Session, accession_id: int) -> list[Lot]:
    """Every lot of a batch, in the order of their letters."""
    rows = session.scalars(
        select(Lot).where(Lot.batch_id == accession_id, Lot.void_seq.is_(None))
    ).all()
    return sorted(rows, key=lambda lot: lot_index(lot.letter))
