"""What each plant and lot is called: its line's newest name, or the name its line came with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from sqlalchemy import TextClause, text
from sqlalchemy.orm import Session

from registry.domain.methods import Role
from registry.domain.names import (
    Outcome,
    Run,
    Verified,
    as_received,
    is_name_unknown,
    parse_name,
    plain,
    runs,
    status,
    strongest,
)
from registry.storage import lineage_queries as lineage

NOT_KNOWN = "name not known"
NOT_PROVEN = "not proven"
"""How sure a name is that a plant keeps after a mix-up, or through cuttings of a chimera."""


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


_LINES: TextClause = text(
    f"SELECT node_id, root_id FROM line WHERE node_id IN {lineage.IDS}"  # noqa: S608 - a constant of ours
)
_FOLLOWING: TextClause = text(
    """
    SELECT line.node_id, line.root_id FROM line AS own JOIN line ON line.node_id = own.node_id
    WHERE own.root_id = :root
    """
)
_WORDS: TextClause = text(
    f"""
    SELECT node.id, plant.received_as, determination.printed, determination.typed,
           determination.sure
    FROM node
    LEFT JOIN plant ON plant.node_id = node.id
    LEFT JOIN determination ON determination.id = (
        SELECT newest.id FROM determination newest
        WHERE newest.node_id = node.id AND newest.void_seq IS NULL
        ORDER BY coalesce(newest.on_last, '0001-01-01') DESC, newest.id DESC LIMIT 1)
    WHERE node.id IN {lineage.IDS}
    """  # noqa: S608 - a constant of ours
)


def names_of(session: Session, ids: Collection[int]) -> dict[int, NameShown]:
    """The name of each node; a node whose line has none is 'name not known'."""
    rows = session.connection().execute(_LINES, lineage.as_parameter(ids)).all()
    found = _by_roots(session, rows)
    missing = [node for node in ids if node not in found]
    if missing:
        found.update(dict.fromkeys(missing, _UNKNOWN) | _seedlings(session, missing))
    return found


def names_following(session: Session, root_id: int) -> dict[int, NameShown]:
    """The names of all whose line begins at a node, itself included: what a correction reaches.

    What may belong to another line as well has both names.
    """
    return _by_roots(session, session.connection().execute(_FOLLOWING, {"root": root_id}).all())


def _by_roots(session: Session, rows: Sequence[Any]) -> dict[int, NameShown]:
    """The names of nodes, from rows (node, root)."""
    single = _own_names(session, {root for _, root in rows})
    found = {node: single[root] for node, root in rows}
    if len(found) == len(rows):
        return found
    # Nearly every node has one root: the few others are put together afterwards.
    times = Counter(node for node, _ in rows)
    roots: dict[int, list[int]] = {}
    for node, root in rows:
        if times[node] > 1:
            roots.setdefault(node, []).append(root)
    together: dict[tuple[int, ...], NameShown] = {}
    for node, several in roots.items():
        key = tuple(sorted(several))
        if key not in together:
            together[key] = _joined([single[root] for root in key])
        found[node] = together[key]
    return found


def name_of(session: Session, node_id: int) -> NameShown:
    """The name of one node."""
    return names_of(session, [node_id])[node_id]


def _own_names(session: Session, ids: Collection[int]) -> dict[int, NameShown]:
    """The names of nodes that have one of their own."""
    rows = session.connection().execute(_WORDS, lineage.as_parameter(ids))
    return {
        node: _print(received, printed, typed, sure)
        for node, received, printed, typed, sure in rows
    }


_UNKNOWN = NameShown(NOT_KNOWN, as_received(NOT_KNOWN), False, None, (NOT_KNOWN,))


def _print(
    received: str | None, printed: str | None, typed: str | None, sure: str | None
) -> NameShown:
    words = typed if typed is not None else received
    if words is None:
        return _UNKNOWN
    shown, in_types = in_print(words, printed)
    if sure == NOT_PROVEN:
        doubt = f" ({NOT_PROVEN})"
        shown, in_types = shown + doubt, (*in_types, *as_received(doubt))
    return NameShown(shown, in_types, typed is not None, received, (shown,))


@lru_cache(maxsize=4096)
def in_print(words: str, otherwise: str | None = None) -> tuple[str, tuple[Run, ...]]:
    """A name as typed in plain text and in its types; words that are no name stay as they are."""
    reading = parse_name(words)
    if reading.name is not None and reading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED):
        return plain(reading.name), runs(reading.name)
    return otherwise or words, as_received(otherwise or words)


def _joined(names: list[NameShown]) -> NameShown:
    different = tuple(dict.fromkeys(name.shown for name in names))
    if len(different) == 1:
        return names[0]
    shown = " or ".join(different)
    return NameShown(shown, as_received(shown), False, names[0].received, different)


def _seedlings(session: Session, ids: list[int]) -> dict[int, NameShown]:
    """Plants raised from seed have no name of their own: they are seedlings of their parent."""
    lines: dict[int, NameShown] = {}
    edges = lineage.edges_above(session, ids)
    parents: dict[int, list[lineage.EdgeRow]] = {}
    for edge in edges:
        parents.setdefault(edge.child, []).append(edge)
    for node in ids:
        seed = seed_parents(node, parents)
        if seed:
            names = names_of(session, seed)
            shown = "seedling of " + " or ".join(dict.fromkeys(names[one].shown for one in seed))
            lines[node] = NameShown(shown, as_received(shown), False, None, (shown,))
    return lines


def seed_parents(node: int, parents: dict[int, list[lineage.EdgeRow]]) -> list[int]:
    """The seed parents nearest above a node, by its edges by child."""
    front, seen, found = [node], {node}, []
    while front:
        for edge in parents.get(front.pop(), []):
            if edge.role == Role.SEED_PARENT:
                found.append(edge.parent)
            elif edge.parent not in seen:
                seen.add(edge.parent)
                front.append(edge.parent)
    return found


# --- on a past day -------------------------------------------------------------------------------

_DATED: TextClause = text(
    f"""
    SELECT node_id, received_as, '0001-01-01' AS day, 0 AS id, NULL AS printed, NULL AS sure
    FROM plant
    WHERE received_as IS NOT NULL AND void_seq IS NULL AND node_id IN {lineage.IDS}
    UNION ALL
    SELECT node_id, typed, coalesce(on_last, '0001-01-01'), id, printed, sure FROM determination
    WHERE void_seq IS NULL AND node_id IN {lineage.IDS}
    ORDER BY day, id
    """  # noqa: S608 - a constant of ours
)


def names_on(session: Session, ids: Collection[int], day: date) -> dict[int, str]:
    """What each node was called on a past day: a name counts from its own day on.

    Names recorded since then for that day or an earlier one count as well.
    """
    above: dict[int, list[int]] = {}
    for edge in lineage.edges_above(session, ids):
        if edge.clonal:
            above.setdefault(edge.child, []).append(edge.parent)
    nodes = {*ids, *above, *(parent for some in above.values() for parent in some)}
    own: dict[int, str] = {}
    for node, typed, since, _, printed, sure in session.execute(
        _DATED, lineage.as_parameter(nodes)
    ):
        if since <= day.isoformat():
            own[node] = _print(None, printed, typed, sure).shown
    return {node: " or ".join(_nearest(node, above, own)) or NOT_KNOWN for node in ids}


def _nearest(node: int, above: dict[int, list[int]], own: dict[int, str]) -> list[str]:
    """The own names nearest above a node, itself included."""
    front, seen, found = [node], {node}, dict[int, str]()
    while front:
        at = front.pop()
        if at in own:
            found[at] = own[at]
            continue
        for parent in above.get(at, []):
            if parent not in seen:
                seen.add(parent)
                front.append(parent)
    return list(dict.fromkeys(found[at] for at in sorted(found)))


# --- how far it was verified ---------------------------------------------------------------------

_CHECKED: TextClause = text(
    f"""
    SELECT node_id, outcome, grounds, verified, name, seq FROM identity_check
    WHERE void_seq IS NULL AND node_id IN {lineage.IDS}
    ORDER BY coalesce(on_last, '0001-01-01'), id
    """  # noqa: S608 - a constant of ours
)
_GROUNDS: TextClause = text(
    f"""
    SELECT line.node_id, newest.grounds, newest.verified, newest.sure, newest.seq FROM line
    JOIN determination newest ON newest.id = (
        SELECT latest.id FROM determination latest
        WHERE latest.node_id = line.root_id AND latest.void_seq IS NULL
        ORDER BY coalesce(latest.on_last, '0001-01-01') DESC, latest.id DESC LIMIT 1)
    WHERE line.node_id IN {lineage.IDS}
    """  # noqa: S608 - constants of ours
)


def verified_of(session: Session, ids: Collection[int]) -> dict[int, Verified]:
    """How far the name of each node was verified, on itself or where its line's name was given.

    A plant of several possible lines has none that was verified for it. A check of the plant
    itself counts for the name that it bore then, and the last check alone.
    """
    parameter = lineage.as_parameter(ids)
    names = names_of(session, ids)
    found = dict.fromkeys(ids, Verified.UNVERIFIED)
    named = dict.fromkeys(ids, 0)
    for node, grounds, said, sure, seq in session.execute(_GROUNDS, parameter):
        named[node] = max(named[node], seq)
        if names[node].certain and sure != NOT_PROVEN:
            found[node] = status(said, grounds)
    for node, check in {row[0]: row[1:] for row in session.execute(_CHECKED, parameter)}.items():
        outcome, grounds, said, name, seq = check
        bears_it = name == names[node].shown if name is not None else seq >= named[node]
        if outcome == "confirmed" and bears_it:
            found[node] = strongest(found[node], status(said, grounds))
    unknown = {node for node in ids if is_name_unknown(names[node].shown)}
    return {node: Verified.UNVERIFIED if node in unknown else how for node, how in found.items()}
