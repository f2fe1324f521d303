"""Recursion over the lineage, in the database: it costs what the answer holds, not the registry.

Tuples come back, never mapped rows (those cost several times as much), and the statements are built
once. `UNION` drops what was seen before, so a circle written behind the tool's back ends as well.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from typing import Any, NamedTuple, cast

from sqlalchemy import ColumnElement, TextClause, bindparam, func, select, text
from sqlalchemy.orm import Session

from registry.domain.family import GONE

IDS = "(SELECT value FROM json_each(:ids))"
"""A set of ids in one parameter, so that no list is ever too long for a statement."""

GONE_SQL = ", ".join(f"'{status}'" for status in sorted(GONE))
"""The statuses of plants that are not there any more, for `IN (…)`."""

AT_ONCE = 1000
"""So many rows are taken from the driver at a time."""


class EdgeRow(NamedTuple):
    """A live edge as it stands in the table."""

    parent: int
    child: int
    role: str
    choice: int | None
    clonal: bool


class NodeRow(NamedTuple):
    """What a list or a picture needs to know of a node."""

    id: int
    kind: str
    code: str
    born: str | None
    status: str | None


_UP = """
WITH RECURSIVE reached(id) AS (
    SELECT value FROM json_each(:ids)
    UNION
    SELECT edge.parent_id FROM reached
    JOIN edge ON edge.child_id = reached.id AND edge.void_seq IS NULL{which}
)
"""
_DOWN = """
WITH RECURSIVE reached(id) AS (
    SELECT value FROM json_each(:ids)
    UNION
    SELECT edge.child_id FROM reached
    JOIN edge ON edge.parent_id = reached.id AND edge.void_seq IS NULL{which}
)
"""
_IDS_REACHED = "SELECT id FROM reached"
_EDGES_ABOVE = """
SELECT edge.parent_id, edge.child_id, edge.role, edge.choice, edge.clonal FROM reached
CROSS JOIN edge ON edge.child_id = reached.id AND edge.void_seq IS NULL
"""
_EDGES_BELOW = """
SELECT edge.parent_id, edge.child_id, edge.role, edge.choice, edge.clonal FROM reached
CROSS JOIN edge ON edge.parent_id = reached.id AND edge.void_seq IS NULL
"""

ANCESTOR_IDS: TextClause = text(_UP.format(which="") + _IDS_REACHED)
DESCENDANT_IDS: TextClause = text(_DOWN.format(which="") + _IDS_REACHED)
CLONE_ABOVE_IDS: TextClause = text(_UP.format(which=" AND edge.clonal") + _IDS_REACHED)
CLONE_BELOW_IDS: TextClause = text(_DOWN.format(which=" AND edge.clonal") + _IDS_REACHED)
ANCESTRY: TextClause = text(_UP.format(which="") + _EDGES_ABOVE)
DESCENT: TextClause = text(_DOWN.format(which="") + _EDGES_BELOW)
_NAMED = """(
    EXISTS (SELECT 1 FROM plant WHERE plant.node_id = {node}
            AND plant.received_as IS NOT NULL AND plant.void_seq IS NULL)
    OR EXISTS (SELECT 1 FROM determination WHERE determination.node_id = {node}
               AND determination.void_seq IS NULL))"""
_CHANGED = f"""
WITH RECURSIVE changed(id) AS (
    SELECT value FROM json_each(:ids)
    UNION
    SELECT edge.child_id FROM changed
    JOIN edge ON edge.parent_id = changed.id AND edge.void_seq IS NULL AND edge.clonal
    WHERE NOT {_NAMED.format(node="edge.child_id")}
)"""  # noqa: S608 - constants of this module
FORGET_LINES: TextClause = text(
    f"{_CHANGED} DELETE FROM line WHERE node_id IN (SELECT id FROM changed)"  # noqa: S608 - constants of this module
)
"""Takes the lines of `ids` out, and of what was raised from them down to the next own name."""
WRITE_LINES: TextClause = text(
    f"""{_CHANGED},
    inherited(node_id, root_id) AS (
        SELECT id, id FROM changed WHERE {_NAMED.format(node="changed.id")}
        UNION
        SELECT changed.id, line.root_id FROM changed
        JOIN edge ON edge.child_id = changed.id AND edge.void_seq IS NULL AND edge.clonal
        JOIN line ON line.node_id = edge.parent_id
        WHERE NOT {_NAMED.format(node="changed.id")}
        UNION
        SELECT edge.child_id, inherited.root_id FROM inherited
        JOIN edge ON edge.parent_id = inherited.node_id AND edge.void_seq IS NULL AND edge.clonal
        WHERE NOT {_NAMED.format(node="edge.child_id")}
    )
    INSERT INTO line (node_id, root_id) SELECT node_id, root_id FROM inherited
    """  # noqa: S608 - constants of this module
)
"""Writes them anew, after `FORGET_LINES`: from own names, and from the lines that stand above."""
NODES: TextClause = text(
    f"""
    SELECT node.id, node.kind, node.code, node.born_edtf, plant.status
    FROM node LEFT JOIN plant ON plant.node_id = node.id
    WHERE node.id IN {IDS}
    """  # noqa: S608 - a constant of this module
)


def among(column: Any) -> ColumnElement[bool]:
    """That a column is one of the ids of the parameter, for a statement that is built."""
    return cast("ColumnElement[bool]", column.in_(select(_PARAMETER.c.value)))


_PARAMETER = func.json_each(bindparam("ids")).table_valued("value")


def as_parameter(ids: Iterable[int]) -> dict[str, str]:
    """The one parameter that carries a set of ids."""
    return {"ids": json.dumps(list(ids))}


def ancestor_ids(session: Session, ids: Collection[int]) -> set[int]:
    """The ids themselves and every node above them."""
    return set(session.connection().execute(ANCESTOR_IDS, as_parameter(ids)).scalars().all())


def descendant_ids(session: Session, ids: Collection[int]) -> set[int]:
    """The ids themselves and every node below them."""
    return set(session.connection().execute(DESCENDANT_IDS, as_parameter(ids)).scalars().all())


def clone_ids_below(session: Session, ids: Collection[int]) -> set[int]:
    """The ids themselves and all that was raised from them without seed."""
    return set(session.connection().execute(CLONE_BELOW_IDS, as_parameter(ids)).scalars().all())


def clone_ids_above(session: Session, ids: Collection[int]) -> set[int]:
    """The ids themselves and all that they were raised from without seed."""
    return set(session.connection().execute(CLONE_ABOVE_IDS, as_parameter(ids)).scalars().all())


def edges_above(session: Session, ids: Collection[int]) -> list[EdgeRow]:
    """Every edge between the ids and their founders."""
    return _edges(session, ANCESTRY, ids)


def edges_below(session: Session, ids: Collection[int]) -> list[EdgeRow]:
    """Every edge between the ids and the last of their descendants."""
    return _edges(session, DESCENT, ids)


def _edges(session: Session, statement: TextClause, ids: Collection[int]) -> list[EdgeRow]:
    found: list[EdgeRow] = []
    # Row by row costs a call each; all at once would keep the driver's rows beside ours.
    for part in session.connection().execute(statement, as_parameter(ids)).partitions(AT_ONCE):
        found += map(EdgeRow._make, part)
    return found


def nodes(session: Session, ids: Collection[int]) -> dict[int, NodeRow]:
    """The nodes of `ids`, by id."""
    rows = session.connection().execute(NODES, as_parameter(ids))
    return {row[0]: NodeRow._make(row) for row in rows.all()}
