"""Kin: the same clone wherever it stands, common ancestors, and what is known of each relative.

Recursion stays in the database; networkx works on the part of the lineage that came back.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from sqlalchemy import TextClause, text
from sqlalchemy.orm import Session

from registry.domain.family import GONE, Family, Involved, Member, Part, on_the_way
from registry.domain.lineage import find_circle
from registry.domain.methods import Role
from registry.domain.names import calling_key
from registry.errors import PlaceUnknown
from registry.services import answers
from registry.services.naming import names_of
from registry.services.resolve import Target
from registry.storage import lineage_queries as lineage

SEVERAL = 2
"""As many first plants are named where it may be any of them."""

NOT_NAMED = "not named"
"""Who got plants, where nobody said."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which members of a family are asked for; None or False asks for all.

    Attributes:
        alive: Plants that stand, lots with something in the bench.
        released: What went to somebody.
        place: The name of a place; what stands in it or in a place within it.
        first, last: It began on one of these days, or may have.
    """

    alive: bool = False
    released: bool = False
    place: str | None = None
    first: date | None = None
    last: date | None = None


@dataclass(frozen=True, slots=True)
class Shared:
    """What two plants have in common.

    Attributes:
        nearest: The nearest common ancestors, one of the two included where the other comes of it.
        clone: `yes`, `maybe` (a parent is one of several) or `no`.
        family: The way from those ancestors down to both.
    """

    nearest: tuple[int, ...]
    clone: str
    family: Family


# --- what is known of each -----------------------------------------------------------------------

_PLANTS = text(
    f"""
    SELECT plant.node_id, plant.status, plant.plants, coalesce(place.name, (
               -- nothing else was said of a pot: it stands where its batch does
               SELECT whole.name FROM stay JOIN place whole ON whole.id = stay.place_id
               WHERE stay.accession_id = node.accession_id AND stay.void_seq IS NULL
                 AND stay.until_edtf IS NULL ORDER BY stay.id DESC LIMIT 1)), plant.ended_edtf,
           node.born_first, node.born_last, release.kind, release.on_edtf,
           release.person_id, detail.name
    FROM plant JOIN node ON node.id = plant.node_id
    LEFT JOIN place ON place.id = plant.place_id
    LEFT JOIN release_item item ON item.node_id = plant.node_id AND item.void_seq IS NULL
    LEFT JOIN release ON release.id = item.release_id AND release.void_seq IS NULL
    LEFT JOIN person_detail detail ON detail.person_id = release.person_id
    WHERE plant.node_id IN {lineage.IDS} AND plant.void_seq IS NULL
    """  # noqa: S608 - a constant of ours
)
_LOTS = text(
    f"""
    SELECT lot.node_id, lot.in_bench, lot.opening_text, lot.method, node.born_first,
           node.born_last, place.name,
           (SELECT coalesce(sum(item.n), 0) FROM release_item item
            WHERE item.lot_id = lot.node_id AND item.void_seq IS NULL)
           + (SELECT coalesce(sum(loss.n), 0) FROM loss
              WHERE loss.lot_id = lot.node_id AND loss.void_seq IS NULL)
    FROM lot JOIN node ON node.id = lot.node_id
    LEFT JOIN stay ON stay.id = (
        SELECT max(newest.id) FROM stay newest
        WHERE newest.accession_id = lot.batch_id AND newest.until_edtf IS NULL
          AND newest.void_seq IS NULL)
    LEFT JOIN place ON place.id = stay.place_id
    WHERE lot.node_id IN {lineage.IDS} AND lot.void_seq IS NULL
    """  # noqa: S608 - a constant of ours
)


def detailed(session: Session, family: Family) -> Family:
    """The family with each member's place, count and where it went."""
    parameter = lineage.as_parameter(family.members)
    members: dict[int, Member] = dict(family.members)
    connection = session.connection()
    for node, status, n, place, ended, first, last, kind, left_on, _, name in connection.execute(
        _PLANTS, parameter
    ):
        members[node] = replace(
            members[node],
            first=_day(first),
            last=_day(last),
            standing=status not in GONE and status != "rootstock",
            place=place if status not in GONE else None,
            went=status if status in GONE else None,
            went_on=left_on or ended,
            went_to=(name or NOT_NAMED) if kind is not None else None,
            count=n,
        )
    for node, left, opening, method, first, last, place, unsaid in connection.execute(
        _LOTS, parameter
    ):
        members[node] = replace(
            members[node],
            first=_day(first),
            last=_day(last),
            standing=left is None or left > 0,
            place=place,
            count=left,
            unsaid=unsaid,
            how=method,
            opening=opening,
        )
    return replace(family, members=members)


def _day(stored: Any) -> date | None:
    # SQLite gives text where a statement declares no types.
    return date.fromisoformat(stored) if isinstance(stored, str) else stored


_INVOLVED = text(
    f"""
    SELECT node.id, 'did', entry.by_id, node.born_edtf FROM node
    JOIN chain_entry entry ON entry.seq = node.seq
    WHERE node.id IN {lineage.IDS}
    UNION ALL
    SELECT plant.node_id, 'giver', plant.source_id, plant.got_edtf FROM plant
    WHERE plant.node_id IN {lineage.IDS} AND plant.source_id IS NOT NULL
    UNION ALL
    SELECT ownership.node_id, 'owner', ownership.person_id, NULL FROM ownership
    WHERE ownership.node_id IN {lineage.IDS} AND ownership.void_seq IS NULL
    UNION ALL
    SELECT item.node_id, 'sender', entry.by_id, release.on_edtf FROM release_item item
    JOIN release ON release.id = item.release_id JOIN chain_entry entry ON entry.seq = item.seq
    WHERE item.node_id IN {lineage.IDS} AND item.void_seq IS NULL
    UNION ALL
    SELECT item.node_id, 'receiver', release.person_id, release.on_edtf FROM release_item item
    JOIN release ON release.id = item.release_id
    WHERE item.node_id IN {lineage.IDS} AND item.void_seq IS NULL
      AND release.person_id IS NOT NULL
    ORDER BY 1, 2, 3
    """  # noqa: S608 - a constant of ours
)
_AGREED = text(
    f"""
    SELECT detail.person_id, detail.name FROM person_detail detail
    WHERE detail.person_id IN {lineage.IDS} AND detail.share
    """  # noqa: S608 - a constant of ours
)


_GROWER = text("SELECT grower_id FROM registry WHERE id = 1")


def involved(session: Session, family: Family) -> tuple[Involved, ...]:
    """Who did, gave, owned, sent and got the members; named where they agreed to be."""
    connection = session.connection()
    grower: int = connection.execute(_GROWER).scalar_one()
    rows = connection.execute(_INVOLVED, lineage.as_parameter(family.members)).all()
    people = {person or grower for _, _, person, _ in rows}
    agreed = connection.execute(_AGREED, lineage.as_parameter(people))
    named: dict[int, str] = {person: name for person, name in agreed}  # noqa: C416 - rows
    return tuple(
        Involved(node, person or grower, named.get(person or grower), Part(part), on)
        for node, part, person, on in rows
    )


# --- choosing ------------------------------------------------------------------------------------


def chosen(session: Session, family: Family, wanted: Wanted) -> set[int]:
    """The members of a detailed family that are asked for.

    Raises:
        PlaceUnknown: there is no such place.
    """
    places = _places_within(session, wanted.place) if wanted.place is not None else None
    return {
        node
        for node, member in family.members.items()
        if (not wanted.alive or member.standing)
        and (not wanted.released or member.released or (member.kind == "lot" and member.unsaid))
        and (places is None or member.place in places)
        and _began_within(member, wanted.first, wanted.last)
    }


def narrowed(session: Session, family: Family, wanted: Wanted) -> tuple[Family, set[int]]:
    """The family with only what is asked for and the ways to it; and what is asked for."""
    if wanted == Wanted():
        return family, set(family.members)
    found = chosen(session, family, wanted)
    return family.only(on_the_way(family, found)), found


def _began_within(member: Member, first: date | None, last: date | None) -> bool:
    """False only where it certainly began before or after."""
    if first is not None and member.last is not None and member.last < first:
        return False
    return not (last is not None and member.first is not None and member.first > last)


_WITHIN = text(
    """
    WITH RECURSIVE within(id) AS (
        SELECT id FROM place WHERE id = :place
        UNION
        SELECT place.id FROM within JOIN place ON place.parent_id = within.id
        WHERE place.void_seq IS NULL
    )
    SELECT within.id, place.name FROM within JOIN place ON place.id = within.id
    """
)


_PLACE = text("SELECT id FROM place WHERE key = :key AND void_seq IS NULL ORDER BY id LIMIT 1")


def places_within(session: Session, name: str) -> dict[int, str]:
    """A place and all places in it, by id.

    Raises:
        PlaceUnknown: there is no such place.
    """
    place = session.execute(_PLACE, {"key": calling_key(name)}).scalar()
    if place is None:
        raise PlaceUnknown(name)
    return {row[0]: row[1] for row in session.connection().execute(_WITHIN, {"place": place})}


def _places_within(session: Session, name: str) -> frozenset[str]:
    return frozenset(places_within(session, name).values())


# --- kin -----------------------------------------------------------------------------------------

_CLONAL = {
    True: lineage.CLONE_ABOVE_IDS,
    False: lineage.CLONE_BELOW_IDS,
}


def clone(session: Session, target: Target) -> Family:
    """The whole clone of what was named: up to its first plants, and all that came of those.

    What came by seed is left out, whichever way. Where a lineage goes over one of several parents,
    the clone of each is in it; `positions` says which members are certain.
    """
    roots = target.plants or target.lots
    above = _reached(session, roots, upward=True)
    ids = _reached(session, above, upward=False)
    edges = [
        edge
        for edge in lineage.edges_below(session, above)
        if edge.clonal and edge.parent in ids and edge.child in ids
    ]
    family = answers.family_of(session, roots, edges)
    return family if set(family.members) == ids else family.only(ids)


def _reached(session: Session, ids: Collection[int], *, upward: bool) -> set[int]:
    rows = session.connection().execute(_CLONAL[upward], lineage.as_parameter(ids))
    return {row[0] for row in rows}


def shared(session: Session, one: int, other: int) -> Shared:
    """The nearest common ancestors of two nodes, and whether they are one clone."""
    import networkx as nx  # slow to load, and few questions need it

    edges = lineage.edges_above(session, [one, other])
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from([one, other])
    graph.add_edges_from((edge.parent, edge.child) for edge in edges)
    common = {one, *nx.ancestors(graph, one)} & {other, *nx.ancestors(graph, other)}
    # Every node on a way between two common ancestors is one itself, so children are enough.
    nearest = tuple(
        sorted(node for node in common if not common.intersection(graph.successors(node)) - {node})
    )
    if not nearest and common:  # they are all on a circle: none is nearer than the others
        nearest = tuple(sorted(common))
    below = {node for ancestor in nearest for node in nx.descendants(graph, ancestor)}
    way = {one, other, *nearest, *below}  # the edges fetched lead to the two and nowhere else
    kept = [edge for edge in edges if edge.parent in way and edge.child in way]
    return Shared(
        nearest, _one_clone(edges, one, other), answers.family_of(session, (one, other), kept)
    )


def _one_clone(edges: Collection[lineage.EdgeRow], one: int, other: int) -> str:
    first, second = _first_plants(edges, one), _first_plants(edges, other)
    if not first & second:
        return "no"
    return "yes" if first == second and len(first) == 1 else "maybe"


def _first_plants(edges: Collection[lineage.EdgeRow], node: int) -> frozenset[int]:
    """The first plants of the clones that a node may be of."""
    above: dict[int, set[int]] = {}
    for edge in edges:
        if edge.clonal:
            above.setdefault(edge.child, set()).add(edge.parent)
    seen, stack, tops = {node}, [node], set()
    while stack:
        here = stack.pop()
        parents = above.get(here, set())
        if not parents:
            tops.add(here)
        stack.extend(parents - seen)
        seen |= parents
    return frozenset(tops)


# --- what was written behind the tool's back -----------------------------------------------------


def circles(family: Family) -> tuple[tuple[int, ...], ...]:
    """One circle of each knot in the lineage, each node a parent of the next."""
    steps = [(tie.parent, tie.child) for tie in family.ties]
    if find_circle(steps) is None:
        return ()
    import networkx as nx  # slow to load, and a circle is rare

    graph: nx.DiGraph[int] = nx.DiGraph(steps)
    return tuple(
        tuple(parent for parent, _ in nx.find_cycle(graph.subgraph(knot)))
        for knot in nx.strongly_connected_components(graph)
        if len(knot) > 1
    )


# --- the whole registry by clone -----------------------------------------------------------------

_OF_ONE_LINE = (
    "JOIN (SELECT node_id, min(root_id) AS root_id FROM line GROUP BY node_id HAVING count(*) = 1)"
    " AS line ON line.node_id = {node}"
)
_SUM_PLANTS = """
    SELECT {by}, plant.status, sum(plant.plants) FROM plant {lines}
    WHERE plant.void_seq IS NULL{some} GROUP BY {by}, plant.status
    """
_SUM_LOTS = """
    SELECT {by}, count(*), sum(coalesce(lot.in_bench, 0)) FROM lot {lines}
    WHERE lot.void_seq IS NULL{some} GROUP BY {by}
    """
_SUM_UNSAID = """
    SELECT {by}, sum(coalesce((
        -- pots are counted out, and each may hold several plants
        SELECT CAST(gone.n * sum(pot.plants) AS bigint) / count(*) FROM edge
        JOIN plant pot ON pot.node_id = edge.child_id AND pot.void_seq IS NULL
            AND pot.status NOT IN ({gone})
        WHERE edge.parent_id = gone.lot_id AND edge.role = 'raised' AND edge.void_seq IS NULL
        ), gone.n)) FROM (
        SELECT item.lot_id, item.n FROM release_item item
        WHERE item.lot_id IS NOT NULL AND item.void_seq IS NULL
        UNION ALL
        SELECT (SELECT min(lot.node_id) FROM lot
                WHERE lot.batch_id = item.batch_id AND lot.void_seq IS NULL), item.n
        FROM release_item item WHERE item.batch_id IS NOT NULL AND item.void_seq IS NULL
        UNION ALL
        SELECT loss.lot_id, loss.n FROM loss WHERE loss.void_seq IS NULL
    ) gone {lines} WHERE gone.lot_id IS NOT NULL{some} GROUP BY {by}
    """
_OTHERS = text(
    """
    SELECT line.node_id, line.root_id FROM line JOIN
        (SELECT node_id FROM line GROUP BY node_id HAVING count(*) > 1) AS several
        ON several.node_id = line.node_id
    UNION ALL
    SELECT node.id, NULL FROM node
    WHERE NOT EXISTS (SELECT 1 FROM line WHERE line.node_id = node.id)
    """
)
"""What has several lines, with each; and what has none."""
_HALF_NAMED = text(
    """
    WITH RECURSIVE reached(id) AS (
        SELECT value FROM json_each(:ids)
        UNION
        SELECT edge.child_id FROM reached
        JOIN edge ON edge.parent_id = reached.id AND edge.void_seq IS NULL AND edge.clonal
        WHERE NOT EXISTS (SELECT 1 FROM line
                          WHERE line.node_id = edge.child_id AND line.root_id = edge.child_id)
    )
    SELECT line.node_id, line.root_id FROM reached JOIN line ON line.node_id = reached.id
    """
)
"""What was raised from nodes without a line and has one: of several parents, another has it."""


def _both_ways(statement: str, node: str) -> tuple[TextClause, TextClause]:
    """A sum by line, of what has one line alone; and one by node.

    The first leaves the nodes in a parameter out, the second is of them.
    """
    lines, given = _OF_ONE_LINE.format(node=node), lineage.IDS
    return (
        text(statement.format(by="line.root_id", lines=lines, some=f" AND {node} NOT IN {given}")),
        text(statement.format(by=node, lines="", some=f" AND {node} IN {given}")),
    )


_PLANTS_BY = _both_ways(_SUM_PLANTS, "plant.node_id")
_LOTS_BY = _both_ways(_SUM_LOTS, "lot.node_id")
_UNSAID_BY = _both_ways(_SUM_UNSAID.replace("{gone}", lineage.GONE_SQL), "gone.lot_id")
_BY_LINE, _BY_NODE = range(2)


@dataclass(frozen=True, slots=True)
class CloneLine:
    """A clone of the registry: its first plant, and what became of its plants.

    Attributes:
        code, name: Of the first plant; of each there may be, where a parent is one of several; of
            the lot, where it was raised from seed and nothing of it has a name.
        lots: How many lots were raised of it.
        bench: Cuttings in the bench; those of lots without an exact number are left out.
        plants: How many plants by status.
        unsaid: How many of them left or died while nobody said which: by the pots, where a lot's
            hold the same number of plants; else as many as they hold in the mean.
    """

    code: str
    name: str
    lots: int
    bench: int
    plants: Mapping[str, int]
    unsaid: int


@dataclass(slots=True)
class _Tally:
    lots: int = 0
    bench: int = 0
    plants: Counter[str] = field(default_factory=Counter)
    unsaid: int = 0


def clones(session: Session) -> tuple[CloneLine, ...]:
    """Every clone on record, the largest first.

    Plants of which it is not known which of several clones they are count apart, and so do the
    seedlings without a name of one lot together, though each is a clone of its own.
    """
    others, half_named = _firsts_of_others(session)
    tallies: dict[tuple[int, ...], _Tally] = defaultdict(_Tally)
    _tally(session, _BY_LINE, half_named, lambda root: tallies[root,])
    _tally(session, _BY_NODE, others, lambda node: tallies[others[node]])
    rows = lineage.nodes(session, {root for roots in tallies for root in roots})
    names = names_of(session, rows)
    found = [
        CloneLine(
            _either([rows[root].code for root in roots]),
            _either(list(dict.fromkeys(names[root].shown for root in roots))),
            tally.lots,
            tally.bench,
            tally.plants,
            tally.unsaid,
        )
        for roots, tally in tallies.items()
    ]
    return tuple(sorted(found, key=lambda line: (-sum(line.plants.values()), line.code)))


def _either(words: Sequence[str]) -> str:
    """Several that it may be; of very many the first and how many more.

    >>> _either(["26-0001-001-8", "26-0002-001-3"]), _either(["fig", "rose", "sage"])
    ('26-0001-001-8 or 26-0002-001-3', 'fig or one of 2 more')
    """
    if len(words) <= SEVERAL:
        return " or ".join(words)
    return f"{words[0]} or one of {len(words) - 1} more"


def _tally(session: Session, way: int, nodes: Collection[int], of: Callable[[int], _Tally]) -> None:
    """Sum plants, lots and what is gone: by line without `nodes`, or those by node."""
    connection, given = session.connection(), lineage.as_parameter(nodes)
    for key, status, n in connection.execute(_PLANTS_BY[way], given):
        of(key).plants[status] += n
    for key, lots, left in connection.execute(_LOTS_BY[way], given):
        of(key).lots += lots
        of(key).bench += left
    for key, n in connection.execute(_UNSAID_BY[way], given):
        of(key).unsaid += n


def _firsts_of_others(session: Session) -> tuple[dict[int, tuple[int, ...]], set[int]]:
    """The first plants, or lots of seed, of every node that is not wholly of one line.

    And those among the nodes that have one line, and may be of something without a name as well.
    """
    found: dict[int, set[int]] = {}
    for node, root in session.connection().execute(_OTHERS):
        found.setdefault(node, set())
        if root is not None:
            found[node].add(root)
    nameless = {node for node, roots in found.items() if not roots}
    half: dict[int, set[int]] = {}
    for node, root in session.connection().execute(_HALF_NAMED, lineage.as_parameter(nameless)):
        half.setdefault(node, set()).add(root)
    above: dict[int, list[lineage.EdgeRow]] = {}
    for edge in lineage.edges_above(session, [*nameless, *half]):
        above.setdefault(edge.child, []).append(edge)
    known: dict[int, set[int]] = {}
    for node in sorted(nameless):  # parents mostly come first
        known[node] = _begun_by(node, above, (), known)
    found |= known
    for node, roots in half.items():
        found[node] = _begun_by(node, above, roots, known)
    return {node: tuple(sorted(roots)) for node, roots in found.items()}, set(half)


def _begun_by(
    node: int,
    above: Mapping[int, list[lineage.EdgeRow]],
    named: Collection[int],
    known: Mapping[int, set[int]],
) -> set[int]:
    """The first nodes above one: those `named`, or of what has no name its clone's first.

    Of a seedling without a name that is the lot it came of. What was found of nodes without a name
    is `known`.
    """
    front, seen, first = [node], {node}, set()
    while front:
        at = front.pop()
        if at in known:
            first |= known[at]
            continue
        edges = above.get(at, ())
        parents = [edge.parent for edge in edges if edge.clonal or edge.role == Role.RAISED]
        if not parents or at in named:
            first.add(at)
            continue
        front += [parent for parent in parents if parent not in seen]
        seen.update(parents)
    return first
