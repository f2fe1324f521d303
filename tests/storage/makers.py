"""Small records for tests of the storage, made without the services."""

from __future__ import annotations

import hashlib
from typing import Any

from sqlalchemy import insert

from registry.domain.codes import Code
from registry.storage import sealing
from registry.storage.models import (
    Accession,
    Attachment,
    Batch,
    Blob,
    Edge,
    LedgerEntry,
    Line,
    Lot,
    Node,
    Note,
    Person,
    PersonDetail,
    Plant,
    Sealed,
    Series,
)
from registry.storage.transaction import Recording


def add_plant(rec: Recording, number: int, **node: Any) -> Plant:
    """A founder with the accession number `number`."""
    accession = rec.add(Accession(year=2026, number=number, kind="founder", next_plant=2))
    rec.flush()
    node.setdefault("code", Code(26, number, plant=1).text)
    point = rec.add(Node(kind="plant", uuid=rec.new_id(), accession_id=accession.id, **node))
    rec.flush()
    plant = rec.add(Plant(node_id=point.id))
    rec.flush()
    return plant


def add_lot(rec: Recording, number: int, source: int, opening: int) -> Lot:
    """A batch with one lot of `opening` cuttings from the plant `source`."""
    accession = rec.add(Accession(year=2026, number=number, kind="batch", next_lot=2))
    rec.flush()
    rec.add(Batch(accession_id=accession.id))
    code = Code(26, number, "A").text
    node = rec.add(Node(kind="lot", uuid=rec.new_id(), accession_id=accession.id, code=code))
    rec.flush()
    lot = rec.add(
        Lot(
            node_id=node.id,
            batch_id=accession.id,
            letter="A",
            method="cutting",
            opening_low=opening,
            opening_high=opening,
            opening_text=str(opening),
            opening_kind="exact",
            in_bench=opening,
        )
    )
    rec.add(LedgerEntry(lot_id=node.id, kind="stuck", n=opening))
    rec.add(Edge(parent_id=source, child_id=node.id, role="source", clonal=True))
    rec.flush()
    return lot


def lose(rec: Recording, lot: Lot, n: int) -> None:
    """`n` cuttings of a lot are gone."""
    lot.in_bench = (lot.in_bench or 0) - n
    rec.add(LedgerEntry(lot_id=lot.node_id, kind="lost", n=-n))


def add_garden(record: Any) -> None:
    """A garden in three entries: a named plant of Ann's, a lot of 16 from it, and 3 of them lost.

    The lot is 26-0002A, its count was last written by entry 3.
    """
    with record("plant add") as rec:
        rec.add(Series(year=2026, next=3))
        plant = add_plant(rec, 1)
        plant.received_as = "Rosa 'Alba'"
        rec.derived(insert(Line).values(node_id=plant.node_id, root_id=plant.node_id))
        add_person(rec, "Ann")
        add_photo(rec, plant.node_id, b"a picture")
        add_secret(rec, plant.node_id, "by the back gate")
        source = plant.node_id
    with record("stick") as rec:
        lot = add_lot(rec, 2, source, 16)
        rec.derived(insert(Line).values(node_id=lot.node_id, root_id=source))
        key = lot.node_id
    with record("look") as rec:
        lose(rec, rec.session.get_one(Lot, key), 3)


def add_person(rec: Recording, name: str) -> Person:
    """Somebody with details of their own."""
    salt = b"0123456789abcdef"
    hashed = sealing.detail_hash(salt, name=name, contact=None, share=False)
    person = rec.add(Person(uuid=rec.new_id(), detail_hash=hashed))
    rec.flush()
    rec.add(PersonDetail(person_id=person.id, salt=salt, name=name, key=name.lower()))
    return person


def add_photo(rec: Recording, node_id: int, content: bytes) -> None:
    """A stored file about a node."""
    sha256 = hashlib.sha256(content).hexdigest()
    rec.add(Blob(sha256=sha256, size=len(content), type="image/jpeg", content=content))
    rec.add(Attachment(blob_sha256=sha256, filename="rose.jpg", node_id=node_id))


def add_secret(rec: Recording, node_id: int, value: str) -> None:
    """A note whose text stands outside the chain."""
    salt = b"fedcba9876543210"
    sealed = rec.add(Sealed(salt=salt, value=value, hash=sealing.text_hash(salt, value)))
    rec.flush()
    rec.add(Note(node_id=node_id, sealed_id=sealed.id, sealed_hash=sealed.hash))
