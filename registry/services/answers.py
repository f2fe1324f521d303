"""Questions about what is recorded: where a plant is from, where all of it went, how many."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import TextClause, text
from sqlalchemy.orm import Session

from registry.domain.family import Family, Member, Tie
from registry.domain.tallies import Movement, Row, tally
from registry.services.naming import names_of
from registry.services.resolve import Target
from registry.storage import lineage_queries as lineage


def trace(session: Session, target: Target, *, up: bool, down: bool) -> Family:
    """The family of what was named: all that it came from, all that came from it, or both.

    A batch or lot stands for its lots; a plant for itself.
    """
    roots = target.plants or target.lots
    edges: dict[tuple[int, int, str], lineage.EdgeRow] = {}
    if up:
        edges |= {(e.parent, e.child, e.role): e for e in lineage.edges_above(session, roots)}
    if down:
        edges |= {(e.parent, e.child, e.role): e for e in lineage.edges_below(session, roots)}
    return family_of(session, roots, edges.values())


def family_of(session: Session, roots: Iterable[int], edges: Iterable[lineage.EdgeRow]) -> Family:
    """Some edges and their nodes, with codes, names and statuses."""
    rows = sorted(edges, key=lambda e: (e.parent, e.child, e.role))
    asked = tuple(roots)
    members = _members(session, {*asked, *(e.parent for e in rows), *(e.child for e in rows)})
    ties = tuple(Tie(e.parent, e.child, e.role, e.choice is None, bool(e.clonal)) for e in rows)
    return Family(asked, members, ties)


_LOT_STATUS = text(
    f"""
    SELECT lot.node_id, lot.in_bench, lot.stuck_edtf IS NOT NULL, batch.unsaid,
        CASE WHEN batch.unsaid <> 0 THEN (
            SELECT CASE WHEN count(*) = count(mate.in_bench) THEN sum(mate.in_bench) END
            FROM lot AS mate WHERE mate.batch_id = lot.batch_id AND mate.void_seq IS NULL) END
    FROM lot JOIN batch ON batch.accession_id = lot.batch_id
    WHERE lot.node_id IN {lineage.IDS}
    """  # noqa: S608 - a constant of ours
)


def _members(session: Session, ids: Iterable[int]) -> dict[int, Member]:
    wanted = sorted(ids)
    rows = lineage.nodes(session, wanted)
    names = names_of(session, wanted)
    parameter = lineage.as_parameter(i for i in wanted if rows[i].kind == "lot")
    lots = {
        node_id: _lot_status(left, bool(stuck), unsaid, together)
        for node_id, left, stuck, unsaid, together in session.connection().execute(
            _LOT_STATUS, parameter
        )
    }
    return {
        node_id: Member(
            node_id,
            rows[node_id].code,
            rows[node_id].kind,
            names[node_id].shown,
            rows[node_id].born,
            lots.get(node_id) or rows[node_id].status or "",
        )
        for node_id in wanted
    }


def _lot_status(left: int | None, stuck: bool, unsaid: int, together: int | None) -> str:
    """How a lot stands, in words.

    Args:
        left: What its own entries leave in it; None where its opening count was not exact.
        stuck: Whether it was stuck.
        unsaid: How many went out of its batch without a lot being said.
        together: What the entries of all lots of the batch leave in them, where that is a number.

    >>> _lot_status(10, True, 3, 16), _lot_status(10, True, 0, None), _lot_status(10, True, 16, 16)
    ('7-10 in the bench', '10 in the bench', 'done')
    """
    if not stuck:
        return "taken, not stuck"
    if left is None:
        return "in the bench, number not exact"
    least = max(0, left - unsaid)
    most = left if together is None else min(left, together - unsaid)
    if most == 0:
        return "done"
    return f"{most if least == most else f'{least}-{most}'} in the bench"


# --- tallies -------------------------------------------------------------------------------------

ACTS = (
    "taken",
    "stuck",
    "potted",
    "lost in the bench",
    "culled in the bench",
    "died",
    "culled",
    "destroyed",
    "surrendered",
    "sold",
    "given",
    "swapped",
    "received",
)
"""The acts of a tally, in the order of a season."""

_STUCK = """
SELECT 'stuck', lot.node_id, lot.stuck_first, lot.stuck_last, lot.opening_low, lot.opening_high,
       lot.opening_kind, CAST(NULL AS INTEGER), CAST(NULL AS VARCHAR)
FROM lot WHERE lot.void_seq IS NULL AND lot.stuck_edtf IS NOT NULL
  AND NOT EXISTS (SELECT 1 FROM ledger_entry moved
                  WHERE moved.lot_id = lot.node_id AND moved.kind = 'moved_in')
"""
_MOVED = """
SELECT CASE entry.kind WHEN 'potted' THEN 'potted' WHEN 'lost' THEN 'lost in the bench'
       ELSE 'culled in the bench' END,
       coalesce(entry.lot_id,
                (SELECT min(lot.node_id) FROM lot WHERE lot.batch_id = entry.batch_id)),
       entry.on_first, entry.on_last, -entry.n, -entry.n, 'exact', NULL, NULL
FROM ledger_entry entry
WHERE entry.void_seq IS NULL AND entry.kind IN ('lost', 'culled')
"""
_POTTED = """
SELECT 'potted', plant.node_id, node.born_first, node.born_last, plant.plants, plant.plants,
       'exact', NULL, NULL
FROM plant JOIN node ON node.id = plant.node_id
WHERE plant.void_seq IS NULL
  AND EXISTS (SELECT 1 FROM edge WHERE edge.child_id = plant.node_id AND edge.role = 'raised'
              AND edge.void_seq IS NULL)
"""
_ENDED = """
SELECT plant.end_kind, plant.node_id, plant.ended_first, plant.ended_last, plant.plants,
       plant.plants, 'exact', NULL, NULL
FROM plant WHERE plant.void_seq IS NULL AND plant.end_kind IN
      ('died', 'culled', 'destroyed', 'surrendered')
UNION ALL
SELECT loss.how, loss.lot_id, loss.on_first, loss.on_last, loss.n, loss.n, 'exact', NULL, NULL
FROM loss WHERE loss.void_seq IS NULL
"""
_LEFT = """
SELECT CASE release.kind WHEN 'sell' THEN 'sold' WHEN 'give' THEN 'given' ELSE 'swapped' END,
       coalesce(item.node_id, item.lot_id,
                (SELECT min(lot.node_id) FROM lot WHERE lot.batch_id = item.batch_id)),
       release.on_first, release.on_last,
       coalesce((SELECT plant.plants FROM plant WHERE plant.node_id = item.node_id), item.n),
       coalesce((SELECT plant.plants FROM plant WHERE plant.node_id = item.node_id), item.n),
       'exact', release.person_id,
       CASE WHEN given.level = 'barred' THEN 'against a no'
            WHEN given.level = 'unknown' THEN 'open question' ELSE '' END
FROM release_item item
JOIN release ON release.id = item.release_id AND release.void_seq IS NULL
LEFT JOIN verdict_given given ON given.id = item.verdict_id
WHERE item.void_seq IS NULL
"""
_CAME = """
SELECT 'received', item.node_id, receipt.on_first, receipt.on_last, 1, 1, 'exact',
       receipt.person_id, NULL
FROM receipt_item item JOIN receipt ON receipt.id = item.receipt_id AND receipt.void_seq IS NULL
"""
MOVEMENTS: TextClause = text(" UNION ALL ".join((_STUCK, _MOVED, _POTTED, _ENDED, _LEFT, _CAME)))


@dataclass(frozen=True, slots=True)
class Tallied:
    """A tally with its period and what it is by."""

    rows: tuple[Row, ...]
    by: str
    first: date | None
    last: date | None


def tallied(session: Session, *, by: str, first: date | None, last: date | None) -> Tallied:
    """How many were stuck, potted, sold, given … in a period.

    Args:
        session: the session.
        by: name, source or recipient.
        first: the first day of the period; None from the beginning.
        last: its last day; None up to now.
    """
    rows = session.connection().execute(MOVEMENTS).all()
    groups = _groups(session, by, {row[1] for row in rows}, {row[7] for row in rows if row[7]})
    movements = [
        Movement(
            act,
            groups.get(("person", person) if by == "recipient" else ("node", node), "not recorded"),
            _day(begins),
            _day(ends),
            low or 0,
            high,
            standing or "",
        )
        for act, node, begins, ends, low, high, _, person, standing in rows
        if by != "recipient" or act in ("sold", "given", "swapped")
    ]
    order = {act: place for place, act in enumerate(ACTS)}
    return Tallied(tuple(tally(movements, order, first, last)), by, first, last)


def _day(stored: str | date | None) -> date | None:
    # SQLite gives text where no column type is declared, as in a UNION.
    return date.fromisoformat(stored) if isinstance(stored, str) else stored


def _groups(
    session: Session, by: str, nodes: set[int], persons: set[int]
) -> dict[tuple[str, int], str]:
    if by == "recipient":
        details = session.execute(
            text(
                f"SELECT person_id, name FROM person_detail WHERE person_id IN {lineage.IDS}"  # noqa: S608 - a constant of ours
            ),
            lineage.as_parameter(persons),
        )
        return {("person", person_id): name for person_id, name in details}
    if by == "source":
        return _founders(session, nodes)
    return {("node", node): shown.shown for node, shown in names_of(session, nodes).items()}


def _founders(session: Session, nodes: set[int]) -> dict[tuple[str, int], str]:
    """The founders of each node by code, several joined with 'or' or '+'."""
    edges = lineage.edges_above(session, nodes)
    parents: dict[int, list[int]] = {}
    for edge in edges:
        parents.setdefault(edge.child, []).append(edge.parent)
    found: dict[int, frozenset[int]] = {}

    def founders(start: int) -> frozenset[int]:
        # Depth first without recursion: a lineage may be deeper than Python's stack.
        stack = [start]
        while stack:
            node = stack[-1]
            above = parents.get(node, [])
            waiting = [parent for parent in above if parent not in found]
            if waiting:
                stack.extend(waiting)
                continue
            stack.pop()
            found[node] = (
                frozenset().union(*(found[parent] for parent in above))
                if above
                else frozenset({node})
            )
        return found[start]

    by_node = {node: founders(node) for node in nodes}
    everyone = {founder for group in by_node.values() for founder in group}
    codes = {node_id: row.code for node_id, row in lineage.nodes(session, everyone).items()}
    names = names_of(session, everyone)
    return {
        ("node", node): " + ".join(
            sorted(f"{codes[founder]} {names[founder].shown}" for founder in group)
        )
        for node, group in by_node.items()
    }
