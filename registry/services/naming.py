"""What each plant and lot is called: its line's newest name, or the name its line came with."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import TextClause, text
from sqlalchemy.orm import Session

from registry.domain.methods import Role
from registry.domain.names import Outcome, Run, as_received, parse_name, plain, runs
from registry.storage import lineage_queries as lineage

NOT_KNOWN = "name not known"


@dataclass(frozen=True, slots=True)
class NameShown:
    """The name of a node.

    Attributes:
        shown: The name in plain text; candidates are joined with ' or '.
        runs: The same in its types, for labels and pages.
        determined: True where it is an opinion recorded here, False where it is as received.
        received: What came with the line, as it was given; None if nothing did.
        candidates: Every name it may have; more than one where parentage is one of several.
    """

    shown: str
    runs: tuple[Run, ...]
    determined: bool
    received: str | None
    candidates: tuple[str, ...]

    @property
    def certain(self) -> bool:
        """Whether there is one name and no other it might have."""
        return len(self.candidates) == 1


_NAMES: TextClause = text(
    f"""
    SELECT line.node_id, line.root_id, plant.received_as, determination.printed,
           determination.typed, node.kind
    FROM line
    JOIN node ON node.id = line.root_id
    LEFT JOIN plant ON plant.node_id = line.root_id
    LEFT JOIN determination ON determination.id = (
        SELECT newest.id FROM determination newest
        WHERE newest.node_id = line.root_id AND newest.void_seq IS NULL
        ORDER BY coalesce(newest.on_last, '0001-01-01') DESC, newest.id DESC LIMIT 1)
    WHERE line.node_id IN {lineage.IDS}
    ORDER BY line.node_id, line.root_id
    """  # noqa: S608 - a constant of ours
)


def names_of(session: Session, ids: Collection[int]) -> dict[int, NameShown]:
    """The name of each node; a node whose line has none is 'name not known'."""
    wanted = list(ids)
    rows = session.connection().execute(_NAMES, lineage.as_parameter(wanted)).all()
    found: dict[int, list[tuple[str, tuple[Run, ...], bool, str | None]]] = {}
    printed: dict[int, tuple[str, tuple[Run, ...], bool, str | None]] = {}
    for node_id, root_id, received, determined, typed, _ in rows:
        if root_id not in printed:
            printed[root_id] = _print(received, determined, typed)
        found.setdefault(node_id, []).append(printed[root_id])
    missing = [node for node in wanted if node not in found]
    seedlings = _seedlings(session, missing) if missing else {}
    return {
        node: _joined(found[node]) if node in found else seedlings.get(node, _UNKNOWN)
        for node in wanted
    }


def name_of(session: Session, node_id: int) -> NameShown:
    """The name of one node."""
    return names_of(session, [node_id])[node_id]


_UNKNOWN = NameShown(NOT_KNOWN, as_received(NOT_KNOWN), False, None, (NOT_KNOWN,))


def _print(
    received: str | None, determined: str | None, typed: str | None
) -> tuple[str, tuple[Run, ...], bool, str | None]:
    words = typed if typed is not None else received
    if words is None:
        return NOT_KNOWN, as_received(NOT_KNOWN), False, received
    reading = parse_name(words)
    if reading.name is not None and reading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED):
        return plain(reading.name), runs(reading.name), typed is not None, received
    return determined or words, as_received(determined or words), typed is not None, received


def _joined(names: list[tuple[str, tuple[Run, ...], bool, str | None]]) -> NameShown:
    different = list(dict.fromkeys(name for name, _, _, _ in names))
    first = names[0]
    if len(different) == 1:
        return NameShown(first[0], first[1], first[2], first[3], (first[0],))
    shown = " or ".join(different)
    return NameShown(shown, as_received(shown), False, first[3], tuple(different))


def _seedlings(session: Session, ids: list[int]) -> dict[int, NameShown]:
    """Plants raised from seed have no name of their own: they are seedlings of their parent."""
    lines: dict[int, NameShown] = {}
    edges = lineage.edges_above(session, ids)
    parents: dict[int, list[lineage.EdgeRow]] = {}
    for edge in edges:
        parents.setdefault(edge.child, []).append(edge)
    for node in ids:
        seed = _seed_parents(node, parents)
        if seed:
            names = names_of(session, seed)
            shown = "seedling of " + " or ".join(dict.fromkeys(names[one].shown for one in seed))
            lines[node] = NameShown(shown, as_received(shown), False, None, (shown,))
    return lines


def _seed_parents(node: int, parents: dict[int, list[lineage.EdgeRow]]) -> list[int]:
    front, seen, found = [node], {node}, []
    while front:
        for edge in parents.get(front.pop(), []):
            if edge.role == Role.SEED_PARENT:
                found.append(edge.parent)
            elif edge.parent not in seen:
                seen.add(edge.parent)
                front.append(edge.parent)
    return found
