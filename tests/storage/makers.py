"""Small records for tests of the storage, made without the services."""

from __future__ import annotations

from typing import Any

from registry.storage.models import Accession, Node, Plant
from registry.storage.transaction import Recording


def add_plant(rec: Recording, number: int, **node: Any) -> Plant:
    """A founder with the accession number `number`."""
    accession = rec.add(Accession(year=2026, number=number, kind="founder"))
    rec.flush()
    node.setdefault("code", f"26-{number:04}")
    point = rec.add(Node(kind="plant", uuid=rec.new_id(), accession_id=accession.id, **node))
    rec.flush()
    plant = rec.add(Plant(node_id=point.id))
    rec.flush()
    return plant
