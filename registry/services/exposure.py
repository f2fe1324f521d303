"""The exposed circle: everything that may have what one plant, place or supplier had.

What descends from something exposed is exposed with it, and so is what it grew together with, over
a graft union. Contact is counted in steps: batch-mates, what stood in the same place on the day,
what came from the same supplier, what was cut with the same knife or stood in the same tray, what
may be a plant that left and came back. Advice of growers' associations is that one sick plant makes
the batch suspect (common practice, no source); how far to follow contacts is for the grower to say.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import text
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.methods import Role
from registry.domain.names import matching_key
from registry.domain.recalls import Why, Widened
from registry.services import tools
from registry.services.kin import places_within
from registry.services.naming import names_of
from registry.storage import lineage_queries as lineage


@dataclass(frozen=True, slots=True)
class Exposed:
    """Why a node is in the circle.

    Attributes:
        node: The plant or lot.
        step: Contacts between it and the start.
        why: The reason.
        via: The node through which it is exposed.
        widened: The missing records without which it would not be in.
        since: The day of contact: what was drawn from it before is not exposed. None where it may
            have been so from the beginning.
    """

    node: int
    step: int
    why: Why
    via: int | None = None
    widened: tuple[Widened, ...] = ()
    since: date | None = None


@dataclass(frozen=True, slots=True)
class Circle:
    """Everything exposed, by node.

    Attributes:
        exposed: Each with its reason; the shortest way in.
        unplaced: Plants that were there on the day and have no place on record, so that nobody
            can say that they did not stand there. They are not in the circle.
    """

    exposed: Mapping[int, Exposed]
    unplaced: int = 0


def circle(
    session: Session,
    start: Iterable[Exposed],
    *,
    steps: int = 1,
    back: bool = False,
    day: FuzzyDate | None = None,
) -> Circle:
    """Everything exposed through some nodes.

    Args:
        session: Open on the registry.
        start: What it begins with.
        steps: How many contacts are followed.
        back: What the start came from counts as exposed with all that came of it; otherwise it is
            listed alone, as a source to look at.
        day: The day on which standing in one place counts as contact; None leaves places out.
    """
    exposed = {one.node: one for one in start}
    began = set(exposed)
    sources = lineage.ancestor_ids(session, began) - began
    above = [Exposed(node, 0, Why.SOURCE) for node in sorted(sources)]
    if back:
        exposed |= {one.node: one for one in above}
    _spread(session, exposed, list(exposed))
    reached = list(exposed)
    for step in range(1, steps + 1):
        found = _batch_mates(session, reached)
        if day is not None:
            found += _neighbours(session, reached, day)
        if step == 1:
            found += _same_supply(session, began | (sources if back else set()))
        found += _may_be_back(session, reached)
        found += _same_tool(session, {node: exposed[node].since for node in reached}, day)
        # Of several ways in, one that leans on no missing record comes first.
        found.sort(key=lambda one: len(one.widened))
        fresh = []
        for one in found:
            if one.node not in exposed:
                exposed[one.node] = replace(one, step=step)
                fresh.append(one.node)
        reached = _spread(session, exposed, fresh)
        if not reached:
            break
    for one in above:
        exposed.setdefault(one.node, one)
    return Circle(exposed, _unplaced(session, day) if day is not None else 0)


# --- descent and grafts --------------------------------------------------------------------------

_JOINED = text(
    f"""
    SELECT edge.child_id, edge.parent_id, edge.choice FROM edge
    WHERE edge.child_id IN {lineage.IDS} AND edge.void_seq IS NULL
      AND edge.role IN ('rootstock', 'interstock', 'part of')
    ORDER BY edge.child_id, edge.parent_id
    """  # noqa: S608 - a constant of ours
)


def _spread(session: Session, exposed: dict[int, Exposed], fresh: Collection[int]) -> list[int]:
    """Add what descends from `fresh` and what that grew together with; gives all that is new."""
    new = list(fresh)
    front: Collection[int] = fresh
    while front:
        below = _descend(session, exposed, front)
        new += below
        front = []
        rows = session.connection().execute(
            _JOINED, lineage.as_parameter([*dict.fromkeys([*below, *new])])
        )
        for child, parent, choice in rows.all():
            if parent not in exposed:
                widened = (Widened.PARENT,) if choice is not None else ()
                exposed[parent] = Exposed(parent, exposed[child].step, Why.GRAFTED, child, widened)
                front.append(parent)
        new += front
    return new


def _descend(session: Session, exposed: dict[int, Exposed], front: Collection[int]) -> list[int]:
    below: dict[int, list[tuple[int, bool]]] = {}
    back: set[tuple[int, int]] = set()
    for edge in lineage.edges_below(session, front):
        below.setdefault(edge.parent, []).append((edge.child, edge.choice is None))
        if edge.role == Role.BACK:
            back.add((edge.parent, edge.child))
    since = any(exposed[node].since is not None for node in front)
    born = _born(session, below) if since else {}
    new: list[int] = []
    doubtful = any(not sure for pairs in below.values() for _, sure in pairs)
    # What is certain comes first, so that nothing is called doubtful that has a certain way in.
    for certain in (True, False) if doubtful else (True,):
        queue = deque(front if certain else [*front, *new])
        seen = set(queue)
        while queue:
            node = queue.popleft()
            for child, sure in sorted(below.get(node, ())):
                if child in seen or (certain and not sure):
                    continue
                if _before(born.get(child), exposed[node].since):
                    continue
                seen.add(child)
                if child not in exposed:
                    one = _child(exposed[node], child, sure)
                    if (node, child) in back:
                        one = replace(one, why=Why.RETURNED, via=node)
                    exposed[child] = one
                    new.append(child)
                queue.append(child)
    return new


def _child(parent: Exposed, child: int, sure: bool) -> Exposed:
    doubt = (*parent.widened, *(() if sure else (Widened.PARENT,)))
    via = parent.via if parent.why is Why.DESCENT else parent.node
    widened = tuple(dict.fromkeys(doubt))
    return Exposed(child, parent.step, Why.DESCENT, via, widened, parent.since)


_BORN = text(
    f"SELECT node.id, node.born_last FROM node WHERE node.id IN {lineage.IDS}"  # noqa: S608 - a constant of ours
)


def _born(session: Session, below: Mapping[int, list[tuple[int, bool]]]) -> dict[int, Any]:
    """The last possible day on which each child began."""
    children = {child for pairs in below.values() for child, _ in pairs}
    rows = session.connection().execute(_BORN, lineage.as_parameter(children))
    return {node: last for node, last in rows.all()}  # noqa: C416 - rows


# --- contact -------------------------------------------------------------------------------------

_MATES = text(
    f"""
    SELECT mate.id, min(node.id) FROM node
    JOIN accession ON accession.id = node.accession_id AND accession.kind = 'batch'
    JOIN node mate ON mate.accession_id = node.accession_id
    WHERE node.id IN {lineage.IDS} AND mate.id NOT IN {lineage.IDS}
    GROUP BY mate.id ORDER BY mate.id
    """  # noqa: S608 - a constant of ours
)


def _batch_mates(session: Session, nodes: Collection[int]) -> list[Exposed]:
    """All of the batches that some nodes stand in or came from."""
    rows = session.connection().execute(_MATES, lineage.as_parameter(nodes))
    return [Exposed(mate, 0, Why.BATCH, node) for mate, node in rows]


_THEN = """
          AND stay.void_seq IS NULL
          AND (stay.from_first IS NULL OR stay.from_first <= :last)
          AND (stay.until_last IS NULL OR stay.until_last >= :first)"""
STOOD = text(
    f"""
    SELECT there.id, found.no_day, found.potted_there,
           coalesce(plant.ended_last, (
               SELECT max(entry.on_last) FROM ledger_entry entry JOIN lot ON lot.in_bench = 0
               WHERE entry.lot_id = there.id AND lot.node_id = there.id
                 AND entry.void_seq IS NULL)),
           there.born_first
    FROM (
        SELECT stay.id AS stay, stay.node_id AS node, stay.from_first IS NULL AS no_day,
               stay.node_id IS NULL AS potted_there
        FROM stay
        WHERE stay.place_id IN {lineage.IDS} AND stay.node_id IS NOT NULL{_THEN}
        UNION ALL
        SELECT stay.id, inside.id, stay.from_first IS NULL, inside.kind = 'plant'
        FROM stay JOIN node inside ON inside.accession_id = stay.accession_id
        WHERE stay.place_id IN {lineage.IDS}{_THEN}
          AND NOT EXISTS (SELECT 1 FROM stay own
                          WHERE own.node_id = inside.id AND own.void_seq IS NULL)
    ) found
    JOIN node there ON there.id = found.node
    LEFT JOIN plant ON plant.node_id = there.id
    ORDER BY there.id, found.stay
    """  # noqa: S608 - a constant of ours
)
"""What stood in a set of places in a span of days, with what is not recorded about it.

Where a plant has a place of its own that counts, not its batch's.
"""
_PLACES_OF = text(
    f"""
    SELECT DISTINCT stay.place_id, node.id FROM node
    JOIN stay ON stay.node_id = node.id OR stay.accession_id = node.accession_id
    WHERE node.id IN {lineage.IDS}{_THEN}
    """  # noqa: S608 - a constant of ours
)


def stood_in(
    session: Session, places: Collection[int], day: FuzzyDate, why: Why = Why.PLACE
) -> list[Exposed]:
    """What stood in some places on a day, or may have: the record does not say otherwise."""
    rows = session.connection().execute(STOOD, lineage.as_parameter(places) | _bounds(day))
    found: dict[int, Exposed] = {}
    for node, no_day, potted_there, gone, born in rows.all():
        if _before(gone, day.first) or _before(day.last, born):
            continue  # it had gone, or did not exist yet
        widened: list[Widened] = [Widened.DAY] if no_day else []
        if potted_there:
            widened.append(Widened.PLACE)
        if node not in found:
            found[node] = Exposed(node, 0, why, None, tuple(widened), day.first)
    return list(found.values())


def _neighbours(session: Session, nodes: Collection[int], day: FuzzyDate) -> list[Exposed]:
    """What stood on the day where some nodes stood."""
    through: dict[int, int] = {}
    rows = session.connection().execute(_PLACES_OF, lineage.as_parameter(nodes) | _bounds(day))
    for place, node in rows:
        through.setdefault(place, node)
    return [
        replace(one, via=node)
        for place, node in through.items()
        for one in stood_in(session, [place], day)
    ]


def place_start(session: Session, name: str, day: FuzzyDate) -> list[Exposed]:
    """What a recall of a place on a day begins with.

    Raises:
        PlaceUnknown: there is no such place.
    """
    return stood_in(session, places_within(session, name), day, Why.START)


_UNPLACED = text(
    """
    SELECT count(*) FROM plant JOIN node ON node.id = plant.node_id
    JOIN accession ON accession.id = node.accession_id
    WHERE plant.void_seq IS NULL AND plant.place_id IS NULL AND plant.status <> 'rootstock'
      AND (node.born_first IS NULL OR node.born_first <= :last)
      AND (plant.ended_last IS NULL OR plant.ended_last >= :first)
      AND NOT EXISTS (SELECT 1 FROM stay WHERE stay.void_seq IS NULL
                      AND (stay.node_id = node.id OR stay.accession_id = node.accession_id))
      AND NOT EXISTS (SELECT 1 FROM ownership WHERE ownership.node_id = node.id
                      AND ownership.void_seq IS NULL AND ownership.person_id IS NOT NULL)
    """
)


def _unplaced(session: Session, day: FuzzyDate) -> int:
    """Plants of the grower's that were there on a day and have no place on record at all."""
    return int(session.connection().execute(_UNPLACED, _bounds(day)).scalar() or 0)


_SUPPLIED = text(
    """
    SELECT plant.node_id, plant.got_first, plant.got_last, plant.got_edtf IS NULL FROM plant
    WHERE plant.source_id = :person AND plant.void_seq IS NULL ORDER BY plant.node_id
    """
)
_OWNED = text(
    """
    SELECT DISTINCT ownership.node_id FROM ownership
    WHERE ownership.person_id = :person AND ownership.void_seq IS NULL
      AND NOT EXISTS (SELECT 1 FROM plant WHERE plant.node_id = ownership.node_id
                      AND plant.source_id = :person)
    ORDER BY ownership.node_id
    """
)
_SUPPLIERS = text(
    f"""
    SELECT plant.node_id, plant.source_id, plant.got_first, plant.got_last FROM plant
    WHERE plant.node_id IN {lineage.IDS} AND plant.source_id IS NOT NULL
      AND plant.void_seq IS NULL
    """  # noqa: S608 - a constant of ours
)


def supplied_by(session: Session, person_id: int, day: FuzzyDate | None) -> list[Exposed]:
    """What a person supplied, on a day if one is given; what has no day is in."""
    found = []
    for node, first, last, no_day in session.connection().execute(_SUPPLIED, {"person": person_id}):
        if day is not None and (_before(last, day.first) or _before(day.last, first)):
            continue
        widened = (Widened.DAY,) if no_day and day is not None else ()
        found.append(Exposed(node, 0, Why.START, None, widened))
    return found


def supplier_start(session: Session, person_id: int, day: FuzzyDate | None) -> list[Exposed]:
    """What a recall of a supplier begins with: what they supplied, and their own plants.

    Material that was cut from somebody's plant came from them as well. With a day, what was cut of
    it from that day on.
    """
    since = day.first if day is not None else None
    owned = session.connection().execute(_OWNED, {"person": person_id}).scalars().all()
    return [
        *supplied_by(session, person_id, day),
        *(Exposed(node, 0, Why.START, since=since) for node in owned),
    ]


def _same_supply(session: Session, nodes: Collection[int]) -> list[Exposed]:
    """What came from the same supplier on the same day, or may have."""
    found = []
    rows = session.connection().execute(_SUPPLIERS, lineage.as_parameter(nodes)).all()
    for node, person, first, last in rows:
        day = FuzzyDate("supply", _day(first), _day(last))
        for one in supplied_by(session, person, day):
            found.append(replace(one, why=Why.SUPPLIER, via=node))
    return found


_WENT_TO = text(
    f"""
    SELECT item.node_id, item.lot_id, item.batch_id, release.person_id, release.on_first
    FROM release_item item JOIN release ON release.id = item.release_id
    WHERE item.void_seq IS NULL AND release.person_id IS NOT NULL
      AND (item.node_id IN {lineage.IDS} OR item.lot_id IN {lineage.IDS}
           OR item.batch_id IN (SELECT lot.batch_id FROM lot WHERE lot.node_id IN {lineage.IDS}))
    ORDER BY item.id
    """  # noqa: S608 - a constant of ours
)
_CAME_FROM = text(
    f"""
    SELECT plant.node_id, plant.source_id, plant.got_last FROM plant
    WHERE plant.source_id IN {lineage.IDS} AND plant.void_seq IS NULL
      AND NOT EXISTS (SELECT 1 FROM edge WHERE edge.child_id = plant.node_id
                      AND edge.role = 'came back' AND edge.void_seq IS NULL)
    ORDER BY plant.node_id
    """  # noqa: S608 - a constant of ours
)
_LOTS_OF = text("SELECT min(node_id) FROM lot WHERE batch_id = :batch AND void_seq IS NULL")


def _may_be_back(session: Session, nodes: Collection[int]) -> list[Exposed]:
    """What came from somebody who had got some of the nodes before, under the same name."""
    connection = session.connection()
    went: dict[int, list[tuple[int, Any]]] = {}
    for node, lot, batch, person, on in connection.execute(_WENT_TO, lineage.as_parameter(nodes)):
        one = node or lot or connection.execute(_LOTS_OF, {"batch": batch}).scalar_one()
        went.setdefault(person, []).append((int(one), on))
    if not went:
        return []
    came = connection.execute(_CAME_FROM, lineage.as_parameter(went)).all()
    names = names_of(session, {node for node, _, _ in came} | {
        node for left in went.values() for node, _ in left
    })  # fmt: skip
    keys = {node: matching_key(name.shown) for node, name in names.items()}
    found = []
    for node, person, got in came:
        for left, on in went[person]:
            if keys[node] == keys[left] and not _before(got, on):
                found.append(Exposed(node, 0, Why.RETURNED, left, (Widened.SAME,)))
                break
    return found


_BY = {tools.TOOL: Why.TOOL, tools.TRAY: Why.TRAY}


def _same_tool(
    session: Session, nodes: Mapping[int, date | None], day: FuzzyDate | None
) -> list[Exposed]:
    """What was cut with a tool, or stood in a tray, with some nodes since they were exposed."""
    if day is not None and day.first is not None:
        nodes = {node: since or day.first for node, since in nodes.items()}
    return [
        Exposed(one.node, 0, _BY[kind], one.via, one.widened, one.since)
        for kind, one in tools.carried(session, nodes)
    ]


def tool_start(session: Session, kind: str, name: str, day: FuzzyDate) -> list[Exposed]:
    """What a recall of a tool or tray on a day begins with: until it was disinfected.

    Raises:
        EmptyName, ToolUnknown: there is none of that name.
    """
    return [
        Exposed(one.node, 0, Why.START, None, one.widened, one.since)
        for one in tools.used_on(session, kind, name, day)
    ]


def _bounds(day: FuzzyDate) -> dict[str, Any]:
    first, last = day.first or date.min, day.last or date.max
    return {"first": first.isoformat(), "last": last.isoformat()}


def _day(stored: Any) -> date | None:
    return date.fromisoformat(stored) if isinstance(stored, str) else stored


def _before(one: Any, other: Any) -> bool:
    """Whether a day is certainly before another; days as ISO 8601 text are in order as text."""
    if one is None or other is None:
        return False
    return bool(str(one) < str(other))
