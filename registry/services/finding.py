"""Lists of plants: all of them, or those that answer to what was typed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from registry.services.naming import name_of
from registry.storage import lineage_queries as lineage
from registry.storage import search
from registry.storage.models import Plant

_LOOKED_THROUGH = 10_000  # hits of which those with the status asked for are kept


@dataclass(frozen=True, slots=True)
class PlantLine:
    """A plant as a list shows it."""

    node_id: int
    code: str
    name: str
    status: str
    place: str | None
    numbers: tuple[str, ...]


_PLANTS = text(
    f"""
    SELECT node.id, node.code, plant.status, place.name,
           (SELECT json_group_array(alias.text) FROM alias
            WHERE alias.node_id = node.id AND alias.void_seq IS NULL)
    FROM node JOIN plant ON plant.node_id = node.id AND plant.void_seq IS NULL
    LEFT JOIN place ON place.id = plant.place_id
    WHERE node.id IN {lineage.IDS}
    """  # noqa: S608 - a constant of ours
)


def list_plants(
    session: Session, *, name: str | None = None, status: str | None = None, most: int = 200
) -> list[PlantLine]:
    """Plants by code, or those that answer to `name`, best first (see `storage.search.find`)."""
    if name:
        wanted = most if status is None else _LOOKED_THROUGH
        ids: Sequence[int] = search.find(session.connection(), name, wanted)
    else:
        ids = _newest(session, status, most)
    rows = {row[0]: row for row in session.connection().execute(_PLANTS, lineage.as_parameter(ids))}
    kept = [i for i in ids if i in rows and status in (None, rows[i][2])][:most]
    names = search.shown_names(session.connection(), kept)
    return [
        PlantLine(
            node_id,
            rows[node_id][1],
            _shown(session, node_id, names.get(node_id, ())),
            rows[node_id][2],
            rows[node_id][3],
            tuple(json.loads(rows[node_id][4])),
        )
        for node_id in kept
    ]


def _shown(session: Session, node_id: int, names: tuple[str, ...]) -> str:
    return " or ".join(names) if names and all(names) else name_of(session, node_id).shown


def _newest(session: Session, status: str | None, most: int) -> list[int]:
    query = select(Plant.node_id).where(Plant.void_seq.is_(None))
    if status is not None:
        query = query.where(Plant.status == status)
    return list(session.scalars(query.order_by(Plant.node_id.desc()).limit(most)))[::-1]
