"""Single rows that many services begin with."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from registry.domain.codes import lot_index
from registry.domain.dates import FuzzyDate
from registry.domain.rules.territories import Place
from registry.storage.models import Batch, Lot, Registry
from registry.storage.statements import statement


def registry_row(session: Session) -> Registry:
    """The registry's own row."""
    return session.get_one(Registry, 1)


@dataclass(frozen=True, slots=True)
class Home:
    """What every verdict asks of the registry's own row.

    Attributes:
        place: Where the grower acts, unless another place is named.
        began: The first day of recording.
        trades: The grower trades in plants.
    """

    place: Place
    began: date
    trades: bool


_HOME = statement(4, "SELECT country, region, began, settings FROM registry WHERE id = 1")


def home(session: Session) -> Home:
    """Where the grower acts and how, without the row as an object: it is asked for often."""
    country, region, began, settings = session.connection().execute(_HOME).one()
    trades = bool(json.loads(settings).get("trade", False))
    return Home(Place(country, region), date.fromisoformat(began), trades)


@dataclass(frozen=True, slots=True)
class Stood:
    """Where a plant or batch stood before, from when until when."""

    place: str
    from_: FuzzyDate | None
    until: FuzzyDate | None


def batch_of(session: Session, lot: Lot) -> Batch:
    """The batch that a lot stands in."""
    return session.get_one(Batch, lot.batch_id)


_LOTS = select(Lot).where(Lot.batch_id == bindparam("batch"), Lot.void_seq.is_(None))


def lots_of_batch(session: Session, accession_id: int) -> list[Lot]:
    """Every lot of a batch, in the order of their letters."""
    rows = session.scalars(_LOTS, {"batch": accession_id}).all()
    return sorted(rows, key=lambda lot: lot_index(lot.letter))
